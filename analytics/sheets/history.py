"""What was changed in the store: cell by cell, row by row, with when, by whom, from what and why."""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from analytics.sheets.contents import Entry
from analytics.sheets.contract import BY_NAME, Sheet
from analytics.sheets.headings import known_sheet
from analytics.sheets.keys import key_start, label_sql, quoted, short_times
from analytics.sheets.rows import key_shown_sql, text_sql
from analytics.sheets.withdraw import no_row
from analytics.store.audit import WITHDRAWN, Change, last_changes
from analytics.store.connection import reading

COUNTED, SET_ASIDE, COUNTS_AGAIN = "counted", "set aside", "counts again"
NOT_RECORDED = "not recorded"
LONGEST_SOURCE = 60
"""Letters of the names of files beyond which they are cut short in words."""


@dataclass(frozen=True, slots=True)
class RowChange:
    """One change, with its row as a reader knows it.

    Attributes:
        change: what the history holds.
        row: the row's key as a reader is shown it.
    """

    change: Change
    row: str

    @property
    def of_whole_row(self) -> bool:
        """Whether the row was set aside or brought back, and no cell changed."""
        return self.change.column == WITHDRAWN

    @property
    def origin(self) -> str:
        """Which load or withdrawal made it."""
        return _origin(self.change.kind, self.change.source, self.change.entry_no)

    @property
    def before(self) -> str:
        """What stood there before, in words."""
        if self.of_whole_row:
            return COUNTED if self.change.old is None else SET_ASIDE
        return NOT_RECORDED if self.change.old is None else short_times(self.change.old)

    @property
    def after(self) -> str:
        """What stands there since, in words."""
        if self.of_whole_row:
            return COUNTS_AGAIN if self.change.new is None else SET_ASIDE
        return NOT_RECORDED if self.change.new is None else short_times(self.change.new)


@dataclass(frozen=True, slots=True)
class StoredRow:
    """One row as it is now.

    Attributes:
        sheet: its sheet.
        row_key: its key.
        shown: the key as a reader is shown it.
        cells: column and value as text, None = not recorded; every column, in the sheet's order.
        added: the entry of the ledger that brought it.
        withdrawn: whether it is set aside.
    """

    sheet: str
    row_key: str
    shown: str
    cells: tuple[tuple[str, str | None], ...]
    added: Entry
    withdrawn: bool

    @property
    def origin(self) -> str:
        """Which load brought it."""
        return _origin(self.added.kind, self.added.source, self.added.entry_no)


def _origin(kind: str, source: str, entry_no: int) -> str:
    short = source if len(source) <= LONGEST_SOURCE else f"{source[: LONGEST_SOURCE - 1]}…"
    return f"{'load of ' if kind == 'load' else ''}{short} (entry {entry_no})"


@dataclass(frozen=True, slots=True)
class History:
    """What was changed.

    Attributes:
        sheet: the sheet asked about, or "".
        row: the row asked about as it is now; None when no single row was.
        changes: newest first.
        total: how many there are, listed or not.
    """

    sheet: str
    row: StoredRow | None
    changes: tuple[RowChange, ...]
    total: int


@dataclass(frozen=True, slots=True)
class FoundRows:
    """Rows of a sheet to choose from.

    Attributes:
        rows: key parts as text ("" for a blank one) -> whether the row is set aside; last brought first.
        total: how many match.
    """

    rows: dict[tuple[str, ...], bool]
    total: int


def history(store: Path, sheet: str = "", key_parts: Sequence[object] = (), last: int = 50) -> History:
    """What was changed in the store, in a sheet, in the rows whose key begins so, or in one row.

    Args:
        store: the store.
        sheet: name of the sheet; "" = all.
        key_parts: the first values of its key, or all of them; "" for one that may be blank.
        last: at most so many changes, the newest.

    Raises:
        WrongUsage: no such sheet, or a whole key that no row has.
        StoreError and its kinds: as `reading`.
    """
    found = known_sheet(sheet) if sheet else None
    start = key_start(found, key_parts) if found else ""
    with reading(store) as connection:
        row = None
        if found and len(key_parts) == len(found.key):
            row = _row(connection, found, start, key_parts)
        changes, total = last_changes(connection, found.name if found else "", start, last)
        shown = _shown(connection, changes)
    told = tuple(
        RowChange(one, short_times(shown.get((one.sheet, one.row_key), one.row_key))) for one in changes
    )
    return History(found.name if found else "", row, told, total)


def find_rows(store: Path, sheet: str, part: str = "", most: int = 200) -> FoundRows:
    """Rows of a sheet, those set aside too.

    Args:
        store: the store.
        sheet: name of the sheet.
        part: what their key holds, capitals alike; "" = any.
        most: at most so many.

    Raises:
        as `history`.
    """
    found = known_sheet(sheet)
    parts = ", ".join(
        f"coalesce({text_sql(found.by_name[name], f's.{quoted(name)}')}, '')" for name in found.key
    )
    with reading(store) as connection:
        rows = connection.execute(
            f"SELECT {parts}, withdrawn_in IS NOT NULL, count(*) OVER () FROM {found.name} s"
            f" WHERE contains({label_sql(key_shown_sql(found, 's'))}, {label_sql('$1')})"
            " ORDER BY added_in DESC, row_key LIMIT $2",
            [part, most],
        ).fetchall()
    return FoundRows({tuple(row[:-2]): bool(row[-2]) for row in rows}, int(rows[0][-1]) if rows else 0)


def sheets_with_rows(store: Path) -> tuple[str, ...]:
    """Sheets that have a row, also if all of them are set aside, in the order of the sheets.

    Raises:
        as `reading`.
    """
    with reading(store) as connection:
        return tuple(
            name for name in BY_NAME if connection.execute(f"SELECT 1 FROM {name} LIMIT 1").fetchall()
        )


def _row(
    connection: duckdb.DuckDBPyConnection, sheet: Sheet, row_key: str, parts: Sequence[object]
) -> StoredRow:
    names = ", ".join(text_sql(column, f"s.{quoted(column.name)}") for column in sheet.columns)
    rows = connection.execute(
        f"SELECT {key_shown_sql(sheet, 's')}, withdrawn_in IS NOT NULL, entry_no, kind, made_at, who, source,"
        f" added, corrected, {names} FROM {sheet.name} s JOIN ledger ON entry_no = added_in"
        " WHERE row_key = ?",
        [row_key],
    ).fetchall()
    if not rows:
        raise no_row(connection, sheet, row_key, parts)
    shown, withdrawn, *rest = rows[0]
    cells = tuple(zip(sheet.by_name, rest[7:], strict=True))
    return StoredRow(sheet.name, row_key, short_times(shown), cells, Entry(*rest[:7]), withdrawn)


def _shown(connection: duckdb.DuckDBPyConnection, changes: Iterable[Change]) -> dict[tuple[str, str], str]:
    """The keys of the rows as their breeder writes them."""
    keys: dict[str, list[str]] = {}
    for change in changes:
        keys.setdefault(change.sheet, []).append(change.row_key)
    return {
        (name, key): shown
        for name, wanted in keys.items()
        for key, shown in connection.execute(
            f"SELECT row_key, {key_shown_sql(BY_NAME[name], 's')} FROM {name} s"
            " WHERE list_contains($1, row_key)",
            [wanted],
        ).fetchall()
    }
