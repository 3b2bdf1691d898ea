"""Bringing an exported store back whole: rows set aside, ledger and history too, not the live rows alone."""

# ruff: noqa: S608 - identifiers are the names of our own tables
from __future__ import annotations

import json
from collections.abc import Mapping
from hashlib import file_digest
from pathlib import Path
from typing import Any

import duckdb

from analytics.errors import InputRejected, SheetProblem
from analytics.sheets.export import LIST, RECORD, RECORD_SCHEMA, RECORDED
from analytics.store.migrations import newest


def has_record(folder: Path) -> bool:
    """Whether a folder of sheets comes from an export with its record."""
    return (folder / RECORD / LIST).is_file()


def carry_over(connection: duckdb.DuckDBPyConnection, folder: Path) -> bool:
    """Fills an empty store with the record of an export; the sheets are then loaded over it as usual.

    The change count goes on where it was. The store keeps its own name and day of making: from now on both
    stores may change, and must be told apart.

    Args:
        connection: of `writing`, which may read the folder.
        folder: a folder of sheets.

    Returns:
        False when the folder has no record, or the store has a ledger entry already: nothing was done.

    Raises:
        InputRejected: a file of the record is missing, or not as it was written.
    """
    if not has_record(folder) or _has_entries(connection):
        return False
    told = _read_list(folder / RECORD / LIST)
    if told["change_count"] == 0:
        return False
    for name in RECORDED:
        _carry_table(connection, folder / RECORD / f"{name}.csv", name, told["tables"][name])
    connection.execute("UPDATE store_meta SET change_count = ? - 1", [told["change_count"]])
    return True


def _has_entries(connection: duckdb.DuckDBPyConnection) -> bool:
    return bool(connection.execute("SELECT count(*) FROM ledger").fetchall()[0][0])


def _read_list(path: Path) -> dict[str, Any]:
    try:
        told: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        known = told["schema"] == RECORD_SCHEMA and int(told["schema_version"]) <= newest()
        complete = int(told["change_count"]) >= 0 and set(told["tables"]) >= set(RECORDED)
    except (OSError, ValueError, TypeError, KeyError) as error:
        raise _rejected("", f"{path.name} cannot be read", "It lists the files of the record") from error
    if not known:
        raise _rejected("", f"{path.name} was written by a later penwise", "This program does not know it")
    if not complete:
        raise _rejected("", f"{path.name} does not list every table", "A record holds every table")
    return told


def _carry_table(
    connection: duckdb.DuckDBPyConnection, path: Path, name: str, told: Mapping[str, Any]
) -> None:
    columns = _columns_of(connection, path, name, told["sha256"])
    types = ", ".join(f"'{column}': 'VARCHAR'" for column in columns)
    inserted = connection.execute(
        f"INSERT INTO {name} BY NAME SELECT * FROM read_csv(?, auto_detect = false, header = true,"
        f" delim = ',', quote = '\"', escape = '\"', new_line = '\\n', allow_quoted_nulls = false,"
        f" columns = {{{types}}})",
        [str(path.resolve())],
    ).fetchall()[0][0]
    if inserted != told["rows"]:
        raise _rejected(name, f"{path.name} gave {inserted} rows", f"It was written with {told['rows']}")


def _columns_of(connection: duckdb.DuckDBPyConnection, path: Path, name: str, written: str) -> list[str]:
    """The columns of a file of the record, after it was compared with what was written."""
    if not path.is_file():
        raise _rejected(name, f"{path.name} is missing", "A record holds every table")
    with path.open("rb") as handle:
        if file_digest(handle, "sha256").hexdigest() != written:
            raise _rejected(name, f"{path.name} is not as it was written", "The record is never edited")
        handle.seek(0)
        columns = handle.readline().decode().strip().replace('"', "").split(",")
    known = {str(row[0]) for row in connection.execute(f"DESCRIBE {name}").fetchall()}
    if not set(columns) <= known:
        raise _rejected(name, f"{path.name} has columns that the store lacks", "Update penwise")
    return columns


def _rejected(sheet: str, given: str, rule: str) -> InputRejected:
    repair = f"Export anew, or take the folder {RECORD} away to load the sheets alone, without their history"
    return InputRejected((SheetProblem(sheet, 0, "", f"{RECORD}: {given}", rule, repair),))
