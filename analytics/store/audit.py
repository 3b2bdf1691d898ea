"""The ledger and the history: who changed what and when, written in the transaction that changes it.

Use inside `writing`: `begin_entry` once per transaction, `record_change` for every cell that changes (and
every row withdrawn), `finish_entry` with the counts. `last_changes` reads them back.
"""

from __future__ import annotations

import getpass
import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

import duckdb

from analytics.store.connection import reading

WITHDRAWN = "withdrawn_in"
"""The column that the history names when a whole row was set aside."""


@dataclass(frozen=True, slots=True)
class Change:
    """One cell changed, or one row set aside (`column` is then WITHDRAWN).

    Attributes:
        entry_no: entry of the ledger.
        made_at: when, UTC.
        who: name of the user.
        kind: load, withdraw or edit.
        source: file names, page or command.
        why: reason given, or "".
        sheet: sheet of the row.
        row_key: its key.
        column: column changed.
        old: value before as text, None = not recorded.
        new: value after, likewise.
    """

    entry_no: int
    made_at: datetime
    who: str
    kind: str
    source: str
    why: str
    sheet: str
    row_key: str
    column: str
    old: str | None
    new: str | None


def user_name() -> str:
    """Who works here: PENWISE_WHO if set, else the name of the operating system's user."""
    named = os.environ.get("PENWISE_WHO", "").strip()
    if named:
        return named
    try:
        return getpass.getuser()
    except (OSError, KeyError, ImportError):
        return "unknown"


def as_text(value: object) -> str | None:
    """A cell as the history keeps it: ISO dates, plain numbers, yes/no as true/false; None stays None."""
    if value is None:
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (date, datetime)):
        return value.isoformat()
    return str(value)


def begin_entry(
    connection: duckdb.DuckDBPyConnection,
    kind: str,
    source: str,
    who: str | None = None,
    why: str | None = None,
) -> int:
    """Opens the ledger entry of this transaction and returns its number.

    The number is the change count that the transaction makes, so the loader can mark new rows with it.

    Args:
        connection: of `writing`; one entry per transaction.
        kind: load, withdraw or edit.
        source: file names loaded, or the page or command used.
        who: name of the user; None = `user_name()`.
        why: reason given.
    """
    entry_no = next_entry_no(connection)
    made_at = datetime.now(UTC).replace(tzinfo=None)
    connection.execute(
        "INSERT INTO ledger VALUES (?, ?, ?, ?, ?, 0, 0, 0, ?)",
        [entry_no, kind, made_at, who or user_name(), source, why or None],
    )
    return entry_no


def next_entry_no(connection: duckdb.DuckDBPyConnection) -> int:
    """Number that the next ledger entry will have."""
    row = connection.execute(
        "SELECT greatest((SELECT change_count FROM store_meta), (SELECT max(entry_no) FROM ledger), 0) + 1"
    ).fetchone()
    assert row is not None
    return int(row[0])


def finish_entry(
    connection: duckdb.DuckDBPyConnection, entry_no: int, added: int, corrected: int, unchanged: int
) -> None:
    """Puts the numbers of rows into the entry begun: added, corrected, there already and the same."""
    connection.execute(
        "UPDATE ledger SET added = ?, corrected = ?, unchanged = ? WHERE entry_no = ?",
        [added, corrected, unchanged, entry_no],
    )


def record_change(
    connection: duckdb.DuckDBPyConnection,
    entry_no: int,
    sheet: str,
    row_key: str,
    column: str,
    old: object,
    new: object,
) -> None:
    """Keeps one cell's change in the history; for a withdrawal `column` is WITHDRAWN and `new` the entry."""
    record_changes(connection, entry_no, [(sheet, row_key, column, old, new)])


def record_changes(
    connection: duckdb.DuckDBPyConnection,
    entry_no: int,
    changes: Iterable[tuple[str, str, str, object, object]],
) -> None:
    """Keeps many changes: (sheet, row_key, column, old, new) each."""
    rows = [
        (entry_no, sheet, row_key, column, as_text(old), as_text(new))
        for sheet, row_key, column, old, new in changes
    ]
    if rows:
        connection.executemany("INSERT INTO history VALUES (?, ?, ?, ?, ?, ?)", rows)


def records_mark(store: Path) -> str:
    """Changes with every change of the store but a draft: its name, its other changes, and its last entry.

    Raises:
        as `reading`.
    """
    with reading(store) as connection:
        row = connection.execute(
            "SELECT store_id, change_count - (SELECT count(DISTINCT change_no) FROM taps),"
            " (SELECT max(made_at) FROM ledger) FROM store_meta"
        ).fetchone()
    return " ".join(map(str, row or ()))


def history_of(store: Path, sheet: str, row_key: str) -> tuple[Change, ...]:
    """Every change of one row, oldest first.

    Raises:
        as `reading`.
    """
    with reading(store) as connection:
        found, _ = last_changes(connection, sheet, row_key)
    return found[::-1]


def last_changes(
    connection: duckdb.DuckDBPyConnection, sheet: str = "", key_start: str = "", last: int | None = None
) -> tuple[tuple[Change, ...], int]:
    """Changes, newest first, and how many there are.

    Args:
        connection: of `reading`.
        sheet: only rows of this sheet; "" = all.
        key_start: only rows whose key is this or begins with these parts; "" = all.
        last: at most so many; None = all.
    """
    rows = connection.execute(
        "SELECT l.entry_no, l.made_at, l.who, l.kind, l.source, coalesce(l.why, ''),"
        " h.sheet, h.row_key, h.column_name, h.old_value, h.new_value, count(*) OVER ()"
        " FROM history h JOIN ledger l ON l.entry_no = h.entry_no"
        " WHERE ($1 = '' OR h.sheet = $1)"
        " AND ($2 = '' OR h.row_key = $2 OR starts_with(h.row_key, $2 || '|'))"
        " ORDER BY l.entry_no DESC, h.rowid DESC LIMIT $3",
        [sheet, key_start, last],
    ).fetchall()
    return tuple(Change(*row[:-1]) for row in rows), int(rows[0][-1]) if rows else 0
