"""Setting a wrong row aside: it stays in the store and its history, and enters no rate."""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import duckdb

from analytics.errors import DataTooThin, WrongUsage
from analytics.sheets.contract import BY_NAME, Sheet
from analytics.sheets.headings import near_sheet, sheet_named
from analytics.sheets.keys import row_key
from analytics.sheets.references import Reference, references_to
from analytics.sheets.rows import key_shown_sql
from analytics.store.audit import WITHDRAWN, begin_entry, finish_entry, record_change
from analytics.store.connection import writing

_MOST_NAMED = 5
_MOST_COMPARED = 20_000


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """A row set aside.

    Attributes:
        sheet: its sheet.
        row_key: its key.
        shown: the key as a reader is shown it.
        entry_no: the ledger entry.
    """

    sheet: str
    row_key: str
    shown: str
    entry_no: int


class StillNamed(DataTooThin):
    """A row that live rows of other sheets name; they have to be set aside first."""


def withdraw(
    store: Path,
    sheet: str,
    key_parts: Sequence[object],
    why: str,
    who: str | None = None,
    source: str = "withdraw",
) -> Withdrawal:
    """Sets a row aside, with the reason, in one transaction with its ledger entry and history.

    Args:
        store: the store.
        sheet: name of the sheet.
        key_parts: the values of its key columns, in their order; "" for one that may be blank.
        why: the reason; not blank.
        who: name for the ledger, None = the user's.
        source: page or command used.

    Raises:
        WrongUsage: no such sheet or row, no reason.
        StillNamed: live rows name it.
        StoreError and its kinds: as `writing`.
    """
    if not why.strip():
        raise WrongUsage("No reason", "A row is set aside for a reason, which is kept", "Say why: --why TEXT")
    found = sheet_named(sheet)
    if found is None:
        near = near_sheet(sheet)
        raise WrongUsage(
            f"The sheet {sheet!r}",
            f"A sheet is one of {', '.join(BY_NAME)}",
            f"Did you mean {near}?" if near else "Look at its name",
        )
    key = row_key(found, key_parts)
    with writing(store) as connection:
        shown = _live_row(connection, found, key)
        _refuse_named(connection, found, key, shown)
        entry_no = begin_entry(connection, "withdraw", source, who, why.strip())
        connection.execute(f"UPDATE {found.name} SET withdrawn_in = ? WHERE row_key = ?", [entry_no, key])
        record_change(connection, entry_no, found.name, key, WITHDRAWN, None, entry_no)
        finish_entry(connection, entry_no, added=0, corrected=0, unchanged=0)
    return Withdrawal(found.name, key, shown, entry_no)


def _live_row(connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str) -> str:
    row = connection.execute(
        f"SELECT {key_shown_sql(sheet, 's')}, withdrawn_in FROM {sheet.name} s WHERE row_key = ?", [key]
    ).fetchone()
    if row is None:
        raise WrongUsage(
            f"No row {key} in {sheet.name}",
            f"A row is named by {', '.join(sheet.key)}",
            _near(connection, sheet, key),
        )
    if row[1] is not None:
        raise WrongUsage(f"{row[0]} in {sheet.name}", f"It was withdrawn in entry {row[1]}", "Nothing to do")
    return str(row[0])


def _near(connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str) -> str:
    rows = connection.execute(
        f"SELECT row_key, {key_shown_sql(sheet, 's')} FROM {sheet.name} s WHERE withdrawn_in IS NULL"
        f" ORDER BY row_key LIMIT {_MOST_COMPARED}"
    ).fetchall()
    shown = dict(rows)
    near = difflib.get_close_matches(key, list(shown), 1)
    return f"Did you mean {shown[near[0]]}?" if near else "Look at its labels"


def _refuse_named(connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str, shown: str) -> None:
    naming: list[str] = []
    total = 0
    for reference in references_to(sheet.name):
        names, count = _naming(connection, reference, key)
        total += count
        naming += [f"{reference.sheet} {name}" for name in names]
    if total:
        more = f" and {total - _MOST_NAMED} more" if total > _MOST_NAMED else ""
        raise StillNamed(
            f"{shown} in {sheet.name} is named by {'; '.join(naming[:_MOST_NAMED])}{more}",
            "A row that others name stays",
            "Withdraw or correct those first",
        )


def _naming(connection: duckdb.DuckDBPyConnection, reference: Reference, key: str) -> tuple[list[str], int]:
    rows = connection.execute(
        f"SELECT {key_shown_sql(BY_NAME[reference.sheet], 'r')}, count(*) OVER () FROM {reference.sheet} r"
        f" JOIN {reference.to} k ON {reference.same('k')}"
        f" WHERE k.row_key = ? AND r.withdrawn_in IS NULL AND r.row_key IS DISTINCT FROM {_itself(reference)}"
        f" AND {reference.given()} ORDER BY r.row_key LIMIT {_MOST_NAMED}",
        [key],
    ).fetchall()
    return [str(row[0]) for row in rows], int(rows[0][1]) if rows else 0


def _itself(reference: Reference) -> str:
    """SQL of the row's own key where a sheet names its own rows; a bird is not kept by naming itself."""
    return "k.row_key" if reference.sheet == reference.to else "NULL"
