"""What a store holds: the labels to choose from, how many rows of every sheet, and its last changes."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import duckdb

from analytics.sheets.contract import SHEETS
from analytics.store.connection import reading


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the ledger.

    Attributes:
        entry_no: its number.
        kind: load, withdraw or edit.
        made_at: when, UTC.
        who: name of the user.
        source: file names, page or command.
        added: rows added.
        corrected: rows changed.
    """

    entry_no: int
    kind: str
    made_at: datetime
    who: str
    source: str
    added: int
    corrected: int


@dataclass(frozen=True, slots=True)
class Contents:
    """What is in a store, without withdrawn rows.

    Attributes:
        species: keys of the pens' species, by name.
        pens: labels, in the order in which they were entered, so that a new pen moves none.
        lines: labels of the pens' lines, likewise.
        incubators: labels, likewise.
        rows: sheet name -> rows, every sheet.
        entries: the last changes, newest first.
    """

    species: tuple[str, ...]
    pens: tuple[str, ...]
    lines: tuple[str, ...]
    incubators: tuple[str, ...]
    rows: dict[str, int]
    entries: tuple[Entry, ...]

    @property
    def is_empty(self) -> bool:
        """Whether no sheet has a row."""
        return not any(self.rows.values())


def store_contents(store: Path, last: int = 10) -> Contents:
    """Looks into a store.

    Args:
        store: the store.
        last: how many of the last changes to return.

    Raises:
        as `analytics.store.connection.reading`.
    """
    with reading(store) as connection:
        return Contents(
            species=_words(connection, "SELECT DISTINCT species FROM pens WHERE withdrawn_in IS NULL"
                                       " ORDER BY species"),
            pens=_words(connection, "SELECT pen FROM pens WHERE withdrawn_in IS NULL"
                                    " ORDER BY added_in, row_key"),
            lines=_words(connection, "SELECT line FROM pens WHERE withdrawn_in IS NULL AND line <> ''"
                                     " GROUP BY line ORDER BY min(added_in), min(row_key)"),
            incubators=_words(connection, "SELECT incubator FROM incubators WHERE withdrawn_in IS NULL"
                                          " ORDER BY added_in, row_key"),
            rows=_rows(connection),
            entries=_entries(connection, last),
        )  # fmt: skip


def _words(connection: duckdb.DuckDBPyConnection, question: str) -> tuple[str, ...]:
    return tuple(str(row[0]) for row in connection.execute(question).fetchall())


def _rows(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    counts = " UNION ALL ".join(
        f"SELECT '{sheet.name}', count(*) FROM {sheet.name} WHERE withdrawn_in IS NULL"  # noqa: S608
        for sheet in SHEETS
    )
    found = dict(connection.execute(counts).fetchall())
    return {sheet.name: int(found[sheet.name]) for sheet in SHEETS}


def _entries(connection: duckdb.DuckDBPyConnection, last: int) -> tuple[Entry, ...]:
    rows = connection.execute(
        "SELECT entry_no, kind, made_at, who, source, added, corrected FROM ledger"
        " ORDER BY entry_no DESC LIMIT ?",
        [last],
    ).fetchall()
    return tuple(Entry(*row) for row in rows)
