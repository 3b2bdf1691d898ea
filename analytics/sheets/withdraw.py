"""Setting a wrong row aside, and taking that back: the row stays in the store with its whole history."""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb

from analytics.errors import DataTooThin, WrongUsage
from analytics.sheets.checking import check_rows
from analytics.sheets.contract import BY_NAME, Sheet
from analytics.sheets.findings import Judgement, Staged
from analytics.sheets.headings import known_sheet
from analytics.sheets.keys import row_key
from analytics.sheets.references import Reference, references_to
from analytics.sheets.rows import key_shown_sql, settle_stored
from analytics.store.audit import WITHDRAWN, begin_entry, finish_entry, record_change
from analytics.store.connection import LeaveUnchanged, writing

_MOST_NAMED = 5
_MOST_COMPARED = 20_000


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """A row set aside, or brought back.

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


class NoLongerFits(DataTooThin):
    """A row that was set aside and breaks a rule with the records of today."""


def withdraw(
    store: Path,
    sheet: str,
    key_parts: Sequence[object],
    why: str,
    who: str | None = None,
    source: str = "withdraw",
    *,
    keep: bool = True,
) -> Withdrawal:
    """Sets a row aside, with the reason, in one transaction with its ledger entry and history.

    Args:
        store: the store.
        sheet: name of the sheet.
        key_parts: the values of its key columns, in their order; "" for one that may be blank.
        why: the reason; not blank.
        who: name for the ledger, None = the user's.
        source: page or command used.
        keep: whether to do it; otherwise it is only tried, and nothing is kept.

    Raises:
        WrongUsage: no such sheet or row, no reason.
        StillNamed: live rows name it.
        StoreError and its kinds: as `writing`.
    """
    found, key = _asked(sheet, key_parts, why)
    with writing(store) as connection:
        row = _stored_row(connection, found, key, key_parts)
        if row.entry is not None:
            given = f"{row.shown} in {found.name}"
            raise WrongUsage(given, f"It was withdrawn in entry {row.entry}", "Nothing to do")
        _refuse_named(connection, found, key, row.shown)
        entry_no = begin_entry(connection, "withdraw", source, who, why.strip())
        _mark(connection, found, key, entry_no, None, entry_no)
        if not keep:
            raise LeaveUnchanged
    return Withdrawal(found.name, key, row.shown, entry_no)


def bring_back(
    store: Path,
    sheet: str,
    key_parts: Sequence[object],
    why: str,
    who: str | None = None,
    source: str = "withdraw --undo",
    *,
    keep: bool = True,
) -> Withdrawal:
    """Lets a row that was set aside count again, with the reason; the history keeps both.

    Args:
        store: the store.
        sheet: name of the sheet.
        key_parts: as for `withdraw`.
        why: the reason; not blank.
        who: name for the ledger, None = the user's.
        source: page or command used.
        keep: whether to do it; otherwise it is only tried, and nothing is kept.

    Raises:
        WrongUsage: no such sheet or row, no reason, or the row was not set aside.
        NoLongerFits: with the records of today the row breaks a rule.
        StoreError and its kinds: as `writing`.
    """
    found, key = _asked(sheet, key_parts, why)
    with writing(store) as connection:
        row = _stored_row(connection, found, key, key_parts)
        if row.entry is None:
            raise WrongUsage(f"{row.shown} in {found.name}", "It was not withdrawn", "Nothing to do")
        _refuse_breaking(connection, found, key, row.shown)
        entry_no = begin_entry(connection, "edit", source, who, why.strip())
        _mark(connection, found, key, entry_no, row.entry, None)
        if not keep:
            raise LeaveUnchanged
    return Withdrawal(found.name, key, row.shown, entry_no)


def _asked(sheet: str, key_parts: Sequence[object], why: str) -> tuple[Sheet, str]:
    if not why.strip():
        raise WrongUsage("No reason", "A row is set aside for a reason, which is kept", "Say why: --why TEXT")
    found = known_sheet(sheet)
    return found, row_key(found, key_parts)


def _mark(
    connection: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    key: str,
    entry_no: int,
    old: int | None,
    new: int | None,
) -> None:
    connection.execute(f"UPDATE {sheet.name} SET withdrawn_in = ? WHERE row_key = ?", [new, key])
    record_change(connection, entry_no, sheet.name, key, WITHDRAWN, old, new)
    finish_entry(connection, entry_no, added=0, corrected=0, unchanged=0)


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of the store: its key as shown, and the entry that set it aside, None = it counts."""

    shown: str
    entry: int | None


def _stored_row(
    connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str, parts: Sequence[object]
) -> _Row:
    row = connection.execute(
        f"SELECT {key_shown_sql(sheet, 's')}, withdrawn_in FROM {sheet.name} s WHERE row_key = ?", [key]
    ).fetchone()
    if row is None:
        raise no_row(connection, sheet, key, parts)
    return _Row(str(row[0]), row[1])


def no_row(
    connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str, parts: Sequence[object]
) -> WrongUsage:
    """The refusal of a key that no row has, with the nearest that one has."""
    named = ", ".join(str(part) for part in parts if part not in (None, ""))
    return WrongUsage(
        f"There is no row {named} in {sheet.name}",
        f"A row is named by {', '.join(sheet.key)}",
        _near(connection, sheet, key),
    )


def _near(connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str) -> str:
    rows = connection.execute(
        f"SELECT row_key, {key_shown_sql(sheet, 's')} FROM {sheet.name} s WHERE withdrawn_in IS NULL"
        f" ORDER BY row_key LIMIT {_MOST_COMPARED}"
    ).fetchall()
    shown = dict(rows)
    near = difflib.get_close_matches(key, list(shown), 1)
    return f"Did you mean {shown[near[0]]}?" if near else "Look at its labels"


def _refuse_breaking(connection: duckdb.DuckDBPyConnection, sheet: Sheet, key: str, shown: str) -> None:
    """Judges the row as a load would, beside the records as they are now."""
    settle_stored(connection, sheet, key)
    staged = {sheet.name: Staged(sheet.name, (), frozenset(sheet.by_name), 1)}
    judgement = Judgement()
    check_rows(connection, staged, frozenset(), False, date.today(), judgement)  # noqa: DTZ011
    if judgement.errors.total:
        problem = judgement.errors.placed(staged)[0]
        raise NoLongerFits(
            f"{shown} in {sheet.name} cannot count again: {problem.given}", problem.rule, problem.repair
        )


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
