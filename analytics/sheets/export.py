"""The whole store as plain tables: every record sheet, and beside them what the sheets cannot say.

The sheets hold the live rows, as a breeder would write them; a text that begins like a formula has an
apostrophe before it, which a load takes off again. The folder `record` within holds each table
complete, with withdrawn rows, ledger and history, so that loading the folder into an empty store gives the
same store again (see `carry_over`).
"""

# ruff: noqa: S608 - identifiers come from the contract and the catalogue
from __future__ import annotations

import csv
import json
import os
import shutil
from collections.abc import Iterable, Iterator
from hashlib import sha256
from pathlib import Path

import duckdb

from analytics.errors import StoreError, WrongUsage
from analytics.sheets.contract import SHEETS, Column, Kind, Sheet
from analytics.sheets.keys import held_sql, quoted
from analytics.store.connection import reading
from analytics.store.files import fresh_beside, sync
from analytics.store.migrations import tally_in, version_of

RECORD = "record"
"""Folder within an export that holds the complete tables."""
RECORD_SCHEMA = "penwise.record/1"
LIST = "record.json"
RECORDED = ("ledger", "history", *(sheet.name for sheet in SHEETS))
"""Tables of the record, in the order in which they are carried over."""
_ABOUT = """\
This folder belongs to the record sheets beside it: rows set aside, every change with who and when, and the
ledger of loads. Loaded together with them into an empty store it brings everything back. Do not edit the
files; correct the sheets beside the folder instead. Without this folder the sheets load as new ones.
"""
_ROWS_AT_ONCE = 20_000


def export(store: Path, folder: Path) -> dict[str, int]:
    """Writes the whole store into a new folder; after a crash the folder is whole or not there.

    Args:
        store: the store.
        folder: a folder that is not there yet, or empty.

    Returns:
        Sheet name -> live rows written.

    Raises:
        WrongUsage: there is something in the folder.
        StoreError and its kinds: as `reading`, or the disk is full.
    """
    refuse_full(folder)
    unfinished = fresh_beside(folder)
    try:
        with reading(store) as connection:
            (unfinished / RECORD).mkdir(parents=True)
            rows = {sheet.name: _write_sheet(connection, sheet, unfinished) for sheet in SHEETS}
            _write_record(connection, store, unfinished / RECORD)
        if folder.exists():
            folder.rmdir()
        os.replace(unfinished, folder)
        sync(folder.parent)
    except OSError as error:
        raise StoreError(
            f"{folder} could not be written",
            error.strerror or str(error),
            "Look whether you may write there and whether there is room, and try again",
        ) from error
    finally:
        shutil.rmtree(unfinished, ignore_errors=True)
    return rows


def live_rows(store: Path) -> dict[str, list[dict[str, object]]]:
    """The live rows of every record sheet that has some, with numbers and days as such.

    Args:
        store: the store.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    with reading(store) as connection:
        found = {sheet.name: _typed_rows(connection, sheet) for sheet in SHEETS}
    return {name: rows for name, rows in found.items() if rows}


def _typed_rows(connection: duckdb.DuckDBPyConnection, sheet: Sheet) -> list[dict[str, object]]:
    names = [column.name for column in sheet.columns]
    cells = ", ".join(map(quoted, names))
    question = f"SELECT {cells} FROM {sheet.name} WHERE withdrawn_in IS NULL ORDER BY rowid"
    return [dict(zip(names, row, strict=True)) for row in connection.execute(question).fetchall()]


def refuse_full(folder: Path) -> None:
    """Refuses a folder in which there is something.

    Raises:
        WrongUsage: there is.
    """
    if folder.exists() and not (folder.is_dir() and not any(folder.iterdir())):
        raise WrongUsage(
            f"{folder} is there already", "An export goes into a new or empty folder", "Give another name"
        )


def _write_sheet(connection: duckdb.DuckDBPyConnection, sheet: Sheet, folder: Path) -> int:
    cells = ", ".join(_cell_sql(column) for column in sheet.columns)
    question = f"SELECT {cells} FROM {sheet.name} WHERE withdrawn_in IS NULL ORDER BY rowid"
    rows = 0
    with (folder / f"{sheet.name}.csv").open("x", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(column.name for column in sheet.columns)
        for part in _parts(connection, question):
            writer.writerows(part)
            rows += len(part)
    return rows


def _parts(connection: duckdb.DuckDBPyConnection, question: str) -> Iterator[list[tuple[str | None, ...]]]:
    found = connection.execute(question)
    while part := found.fetchmany(_ROWS_AT_ONCE):
        yield part


def _cell_sql(column: Column) -> str:
    """SQL of a cell as a sheet holds it: a moment at midnight as its day, yes and no in words."""
    name = quoted(column.name)
    if column.kind is Kind.MOMENT:
        moment = rf"regexp_replace(replace(CAST({name} AS VARCHAR), ' ', 'T'), ':00$', '')"
        is_day = f"{name} = date_trunc('day', {name})"
        return f"CASE WHEN {is_day} THEN CAST({name}::DATE AS VARCHAR) ELSE {moment} END"
    if column.kind is Kind.YES_NO:
        return f"CASE {name} WHEN true THEN 'yes' WHEN false THEN 'no' END"
    if column.kind in (Kind.LABEL, Kind.TEXT):
        return held_sql(name)
    return f"CAST({name} AS VARCHAR)"


def _write_record(connection: duckdb.DuckDBPyConnection, store: Path, folder: Path) -> None:
    tables = {name: _write_table(connection, name, folder) for name in RECORDED}
    told = {
        "schema": RECORD_SCHEMA,
        "schema_version": version_of(connection, store),
        "change_count": tally_in(connection).change_count,
        "tables": tables,
    }
    (folder / LIST).write_text(json.dumps(told, indent=1), encoding="utf-8")
    (folder / "about.txt").write_text(_ABOUT, encoding="utf-8")


def _write_table(connection: duckdb.DuckDBPyConnection, name: str, folder: Path) -> dict[str, int | str]:
    """Writes one table complete; blank is NULL and everything else stands in quotation marks."""
    columns = [str(row[0]) for row in connection.execute(f"DESCRIBE {name}").fetchall()]
    cells = ", ".join(f"CAST({quoted(column)} AS VARCHAR)" for column in columns)
    rows, digest = 0, sha256()
    with (folder / f"{name}.csv").open("xb") as out:
        for part in _with_heading(columns, _parts(connection, f"SELECT {cells} FROM {name} ORDER BY rowid")):
            text = "".join(map(_line, part)).encode()
            digest.update(text)
            out.write(text)
            rows += len(part)
    return {"rows": rows - 1, "sha256": digest.hexdigest()}


def _with_heading(
    columns: list[str], parts: Iterable[list[tuple[str | None, ...]]]
) -> Iterator[list[tuple[str | None, ...]]]:
    yield [tuple(columns)]
    yield from parts


def _line(cells: tuple[str | None, ...]) -> str:
    return ",".join("" if cell is None else '"' + cell.replace('"', '""') + '"' for cell in cells) + "\n"
