"""Putting a checked load into the store: new rows, corrections with their history, one ledger entry."""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from collections.abc import Mapping

import duckdb

from analytics.sheets.contract import BY_NAME, Column, Sheet
from analytics.sheets.findings import MOST_LISTED, Staged
from analytics.sheets.keys import quoted
from analytics.sheets.report import Correction
from analytics.sheets.rows import CHANGED, NEW, TAKEN_UP, compared, text_sql
from analytics.store.audit import WITHDRAWN

_CORRECTED = f"('{CHANGED}', '{TAKEN_UP}')"


def count_corrected_cells(connection: duckdb.DuckDBPyConnection, staged: Staged) -> int:
    """How many recorded cells of a sheet would change."""
    return int(connection.execute(f"SELECT count(*) FROM ({_changes(staged)})").fetchall()[0][0])


def list_corrections(connection: duckdb.DuckDBPyConnection, staged: Staged) -> list[Correction]:
    """The first recorded cells of a sheet that would change, with their rows in the file."""
    rows = connection.execute(
        f"SELECT * FROM ({_changes(staged)}) ORDER BY record, place LIMIT {MOST_LISTED}"
    ).fetchall()
    places = staged.rows_of(row[0] for row in rows)
    return [
        Correction(staged.sheet, key, places[record], column, old, new)
        for record, key, _, column, old, new in rows
    ]


def _changes(staged: Staged) -> str:
    """SQL of one row per cell that changes: record, row_key, place, column, old, new."""
    sheet = BY_NAME[staged.sheet]
    joined = f"FROM row_{sheet.name} r JOIN {sheet.name} s ON s.row_key = r.row_key"
    cells = [
        f"SELECT r.record, r.row_key, {place} AS place, '{column.name}' AS name, {_old_and_new(column)}"
        f" {joined} WHERE r.fate IN {_CORRECTED}"
        f" AND r.{quoted(column.name)} IS DISTINCT FROM s.{quoted(column.name)}"
        for place, column in enumerate(compared(sheet, staged.given))
    ]
    taken_up = (
        f"SELECT r.record, r.row_key, {len(sheet.columns)} AS place, '{WITHDRAWN}' AS name,"
        f" CAST(s.withdrawn_in AS VARCHAR) AS old, NULL AS new {joined} WHERE r.fate = '{TAKEN_UP}'"
    )
    return " UNION ALL ".join([*cells, taken_up])


def _old_and_new(column: Column) -> str:
    name = quoted(column.name)
    return f"{text_sql(column, f's.{name}')} AS old, {text_sql(column, f'r.{name}')} AS new"


def keep(connection: duckdb.DuckDBPyConnection, staged: Mapping[str, Staged], entry_no: int) -> None:
    """Writes the rows of all sheets, inside the transaction that holds the ledger entry.

    Args:
        connection: within a transaction.
        staged: the sheets loaded, checked.
        entry_no: the ledger entry.
    """
    for name, part in staged.items():
        sheet = BY_NAME[name]
        connection.execute(
            "INSERT INTO history SELECT ?, ?, row_key, name, old, new"
            f" FROM ({_changes(part)}) ORDER BY record, place",
            [entry_no, name],
        )
        _correct(connection, sheet, part)
        _add(connection, sheet, entry_no)


def _correct(connection: duckdb.DuckDBPyConnection, sheet: Sheet, staged: Staged) -> None:
    columns = compared(sheet, staged.given)
    values = [f"{quoted(column.name)} = r.{quoted(column.name)}" for column in columns]
    connection.execute(
        f"UPDATE {sheet.name} SET {', '.join([*values, 'withdrawn_in = NULL'])} FROM row_{sheet.name} r"
        f" WHERE r.row_key = {sheet.name}.row_key AND r.fate IN {_CORRECTED}"
    )


def _add(connection: duckdb.DuckDBPyConnection, sheet: Sheet, entry_no: int) -> None:
    names = ", ".join(quoted(column.name) for column in sheet.columns)
    connection.execute(
        f"INSERT INTO {sheet.name} ({names}, row_key, added_in)"
        f" SELECT {names}, row_key, {entry_no} FROM row_{sheet.name} WHERE fate = '{NEW}'"
    )
