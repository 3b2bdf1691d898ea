"""The tables are the contract: columns, types, which may be blank, and a comment on everything."""

from __future__ import annotations

from pathlib import Path

import pytest

from analytics.sheets.contract import SHEETS, Sheet
from analytics.store.connection import reading

_BOOKKEEPING = [("row_key", "VARCHAR", True), ("added_in", "BIGINT", True), ("withdrawn_in", "BIGINT", False)]
_OWN = {"store_meta", "migrations", "ledger", "history", "taps"}


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_a_table_has_the_columns_of_its_sheet_then_the_bookkeeping(store: Path, sheet: Sheet) -> None:
    with reading(store) as connection:
        rows = connection.execute(
            "SELECT column_name, data_type, NOT is_nullable FROM duckdb_columns() WHERE table_name = ?"
            " ORDER BY column_index",
            [sheet.name],
        ).fetchall()
    expected = [(column.name, column.kind.sql, column.required) for column in sheet.columns]
    assert rows == expected + _BOOKKEEPING


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_comments_say_what_the_contract_says(store: Path, sheet: Sheet) -> None:
    with reading(store) as connection:
        comments = dict(
            connection.execute(
                "SELECT column_name, comment FROM duckdb_columns() WHERE table_name = ?", [sheet.name]
            ).fetchall()
        )
        table = connection.execute(
            "SELECT comment FROM duckdb_tables() WHERE table_name = ?", [sheet.name]
        ).fetchall()[0][0]
    for column in sheet.columns:
        assert comments[column.name].lower() == column.note.lower()
    assert table == f"One row is {sheet.row_is}"
    assert ", ".join(sheet.key) in comments["row_key"]


def test_there_are_no_other_tables_and_all_have_comments_on_everything(store: Path) -> None:
    with reading(store) as connection:
        tables = dict(connection.execute("SELECT table_name, comment FROM duckdb_tables()").fetchall())
        silent = connection.execute(
            "SELECT table_name, column_name FROM duckdb_columns()"
            " WHERE NOT internal AND coalesce(comment, '') = ''"
        ).fetchall()
    assert set(tables) == {sheet.name for sheet in SHEETS} | _OWN
    assert all(tables.values())
    assert silent == []


def test_the_store_has_one_description(store: Path) -> None:
    with reading(store) as connection:
        rows = connection.execute(
            "SELECT application, length(store_id), change_count FROM store_meta"
        ).fetchall()
    assert rows == [("penwise", 32, 0)]
