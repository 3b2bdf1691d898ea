"""The store's health: is every row readable, counted, named once, and does what it names exist."""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from analytics.errors import StoreDamaged
from analytics.sheets.contract import OUTCOMES, SHEETS, Sheet
from analytics.sheets.keys import JOIN, escaped_sql, label_sql, quoted
from analytics.sheets.references import Reference, references_of
from analytics.store.care import table_sums
from analytics.store.connection import reading_as_it_is
from analytics.store.migrations import STEPS, tally_in, version_of
from analytics.store.tally import Tally, missing_changes, read_tally, refuse_behind, tally_of

MOST_NAMED = 20
"""Rows named in one finding; the true number is always told."""


@dataclass(frozen=True, slots=True)
class SheetCount:
    """How many rows a sheet has.

    Attributes:
        sheet: its name.
        live: rows that count.
        withdrawn: rows set aside.
    """

    sheet: str
    live: int
    withdrawn: int


@dataclass(frozen=True, slots=True)
class Ailment:
    """One thing that is not as it should be.

    Attributes:
        what: changes_missing, tally_missing, tally_of_another, schema_differs, entry_unknown, ledger_ahead,
            key_twice, names_nothing or too_many_outcomes.
        sheet: sheet concerned, or "".
        rows: how many rows are concerned; for changes_missing how many changes.
        row_keys: the first of them.
        sentence: what it means and what to do.
        is_note: whether the store is sound all the same.
    """

    what: str
    sheet: str
    rows: int
    row_keys: tuple[str, ...]
    sentence: str
    is_note: bool = False


@dataclass(frozen=True, slots=True)
class StoreHealth:
    """What a look through the whole store found.

    Attributes:
        store: its path.
        store_id: its random name.
        made_at: when it was made, UTC.
        schema_version: shape of its tables.
        change_count: changes kept.
        tally_count: changes counted in the tally beside it, None without one.
        ledger_entries: loads, corrections and withdrawals.
        history_rows: cells ever changed.
        last_load: when the last load was made, UTC, or None.
        sheets: rows of every sheet.
        ailments: what is wrong, empty when nothing is.
    """

    store: str
    store_id: str
    made_at: datetime
    schema_version: int
    change_count: int
    tally_count: int | None
    ledger_entries: int
    history_rows: int
    last_load: datetime | None
    sheets: tuple[SheetCount, ...]
    ailments: tuple[Ailment, ...]

    @property
    def is_sound(self) -> bool:
        """Whether nothing but notes was found."""
        return all(ailment.is_note for ailment in self.ailments)


def check(store: Path) -> StoreHealth:
    """Reads every row of the store and judges it.

    Raises:
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew.
    """
    with reading_as_it_is(store) as connection:
        tables = table_sums(connection)
        tally = tally_in(connection)
        expected = read_tally(store)
        made_at, last_load = connection.execute(
            "SELECT created_at, (SELECT arg_max(made_at, entry_no) FROM ledger WHERE kind = 'load')"
            " FROM store_meta"
        ).fetchall()[0]
        return StoreHealth(
            store=str(store),
            store_id=tally.store_id,
            made_at=made_at.replace(tzinfo=UTC),
            schema_version=version_of(connection, store),
            change_count=tally.change_count,
            tally_count=expected.change_count if expected else None,
            ledger_entries=tables["ledger"].rows,
            history_rows=tables["history"].rows,
            last_load=last_load and last_load.replace(tzinfo=UTC),
            sheets=tuple(_count(connection, sheet) for sheet in SHEETS),
            ailments=(*_beside(store, tally), *ailments_within(connection)),
        )


def ailments_within(connection: duckdb.DuckDBPyConnection) -> tuple[Ailment, ...]:
    """What is wrong among the rows of an open store."""
    found = [_steps_differ(connection), _ledger_ahead(connection), _unknown_history(connection)]
    for sheet in SHEETS:
        found += [_unknown_entry(connection, sheet), _key_twice(connection, sheet)]
        found += [_names_nothing(connection, reference) for reference in references_of(sheet)]
    found.append(_too_many_outcomes(connection))
    return tuple(ailment for ailment in found if ailment)


def _count(connection: duckdb.DuckDBPyConnection, sheet: Sheet) -> SheetCount:
    live, withdrawn = connection.execute(
        f"SELECT count(*) FILTER (withdrawn_in IS NULL), count(withdrawn_in) FROM {sheet.name}"
    ).fetchall()[0]
    return SheetCount(sheet.name, int(live), int(withdrawn))


_NO_TALLY = "There is no {} beside the store: changes lost until now go unnoticed. The next change makes one"
_OTHER_TALLY = "{} was counted for another store: changes lost go unnoticed. The next change makes a new one"
_OTHER_STEPS = (
    "The tables were made by a script that this program does not have, so questions may fail."
    " Export the store and load it into a new one"
)


def _beside(store: Path, found: Tally) -> list[Ailment]:
    expected, name = read_tally(store), tally_of(store).name
    if expected is None:
        return [_note("tally_missing", _NO_TALLY.format(name))]
    if expected.store_id != found.store_id:
        return [_note("tally_of_another", _OTHER_TALLY.format(name))]
    try:
        refuse_behind(store, found, expected)
    except StoreDamaged as error:
        return [Ailment("changes_missing", "", missing_changes(expected, found), (), str(error))]
    return []


def _note(what: str, sentence: str) -> Ailment:
    return Ailment(what, "", 0, (), sentence, is_note=True)


def _steps_differ(connection: duckdb.DuckDBPyConnection) -> Ailment | None:
    applied = connection.execute("SELECT version, checksum FROM migrations ORDER BY version").fetchall()
    same = [(step.version, step.checksum) for step in STEPS] == applied
    return None if same else _note("schema_differs", _OTHER_STEPS)


def _ledger_ahead(connection: duckdb.DuckDBPyConnection) -> Ailment | None:
    ahead = connection.execute(
        "SELECT entry_no FROM ledger WHERE entry_no > (SELECT change_count FROM store_meta)"
    ).fetchall()
    return _ailment("ledger_ahead", "", ahead, "in the ledger, but not counted as changes")


def _unknown_history(connection: duckdb.DuckDBPyConnection) -> Ailment | None:
    rows = connection.execute(
        "SELECT row_key FROM history WHERE entry_no NOT IN (SELECT entry_no FROM ledger)"
    ).fetchall()
    return _ailment("entry_unknown", "", rows, "changed in an entry that the ledger does not have")


def _unknown_entry(connection: duckdb.DuckDBPyConnection, sheet: Sheet) -> Ailment | None:
    rows = connection.execute(
        f"SELECT row_key FROM {sheet.name} WHERE added_in NOT IN (SELECT entry_no FROM ledger)"
        " OR withdrawn_in NOT IN (SELECT entry_no FROM ledger)"
    ).fetchall()
    return _ailment("entry_unknown", sheet.name, rows, "from an entry that the ledger does not have")


def _key_twice(connection: duckdb.DuckDBPyConnection, sheet: Sheet) -> Ailment | None:
    rows = connection.execute(
        f"SELECT row_key FROM {sheet.name} GROUP BY row_key HAVING count(*) > 1 ORDER BY row_key"
    ).fetchall()
    return _ailment("key_twice", sheet.name, rows, "there more than once; one of them is counted too much")


def _names_nothing(connection: duckdb.DuckDBPyConnection, reference: Reference) -> Ailment | None:
    key = f" || '{JOIN}' || ".join(escaped_sql(label_sql(f"r.{quoted(part)}")) for part in reference.parts)
    rows = connection.execute(
        f"SELECT r.row_key FROM {reference.sheet} r WHERE r.withdrawn_in IS NULL AND {reference.given()} AND"
        f" {key} NOT IN (SELECT row_key FROM {reference.to} WHERE withdrawn_in IS NULL) ORDER BY r.row_key"
    ).fetchall()
    what = f"naming in {reference.column} a row of {reference.to} that is not there or was set aside"
    return _ailment("names_nothing", reference.sheet, rows, what)


def _too_many_outcomes(connection: duckdb.DuckDBPyConnection) -> Ailment | None:
    total = " + ".join(f"coalesce({name}, 0)" for name in OUTCOMES)
    rows = connection.execute(
        f"SELECT row_key FROM trays WHERE withdrawn_in IS NULL AND {total} > eggs_set ORDER BY row_key"
    ).fetchall()
    return _ailment("too_many_outcomes", "trays", rows, "with more outcomes than eggs set")


def _ailment(what: str, sheet: str, rows: list[tuple[object, ...]], meaning: str) -> Ailment | None:
    if not rows:
        return None
    keys = tuple(str(row[0]) for row in rows[:MOST_NAMED])
    place = f" of {sheet}" if sheet else ""
    more = ", …" if len(rows) > len(keys) else ""
    sentence = f"{len(rows)} row{'' if len(rows) == 1 else 's'}{place} {meaning}: {', '.join(keys)}{more}"
    return Ailment(what, sheet, len(rows), keys, sentence)
