"""What the records leave out, and what is not finished: batches in the machine, blanks, unopened eggs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import duckdb

from analytics.options import Selection
from analytics.store.counts import rows_of
from analytics.values import Month

CHECK_DAYS = 90
"""A machine without a reference reading for so many days is named (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class InMachine:
    """A batch that has not hatched.

    Attributes:
        batch: label.
        incubator: where it was set.
        species: keys of the species in it.
        eggs_set: eggs in it, all trays.
        set_on: day of setting.
        due_from: first day a hatch is expected, None where the species' days are not known.
        due_to: last such day.
    """

    batch: str
    incubator: str
    species: tuple[str, ...]
    eggs_set: int
    set_on: date
    due_from: date | None
    due_to: date | None


@dataclass(frozen=True, slots=True)
class Missing:
    """One kind of gap in the records of a span of days.

    Attributes:
        how_many: trays, or machines.
        eggs: eggs concerned; 0 for machines.
        labels: the first ten, by label.
    """

    how_many: int
    eggs: int
    labels: tuple[str, ...]


def closed_months(connection: duckdb.DuckDBPyConnection) -> tuple[Month, ...]:
    """The months in which a chosen batch hatched, oldest first."""
    return tuple(Month(row["year"], row["month"]) for row in rows_of(connection, "months", {}))


def batches_in_machine(
    connection: duckdb.DuckDBPyConnection, selection: Selection, day: date | None = None
) -> tuple[InMachine, ...]:
    """The batches in a machine on a day, oldest first.

    Args:
        connection: from `counting` without a period.
        selection: its filters.
        day: the day; None = now, as far as the records go.
    """
    filtered = bool(selection.species or selection.pens or selection.incubators)
    asked = {"everything": not filtered, "day": day or date.max}
    rows = rows_of(connection, "open_batches", asked)
    return tuple(
        InMachine(
            batch=row["batch"],
            incubator=row["incubator"],
            species=tuple(row["species"]),
            eggs_set=row["eggs_set"],
            set_on=row["set_day"],
            due_from=row["due_from"],
            due_to=row["due_to"],
        )
        for row in rows
    )


def missing_records(
    connection: duckdb.DuckDBPyConnection, first_day: date, last_day: date, as_of: date
) -> dict[str, Missing]:
    """Gaps in the records of chosen batches that hatched on these days, by kind.

    Kinds: no_hatched, unaccounted, not_opened, clear, unstaged, no_storage (trays and their eggs), no_check
    (machines in use without a reference thermometer reading in the `CHECK_DAYS` up to `last_day`, or up to
    `as_of` where that is earlier).
    """
    checked_to = min(last_day, as_of)
    days = {
        "first_day": first_day,
        "last_day": last_day,
        "checked_from": checked_to - timedelta(days=CHECK_DAYS),
        "checked_to": checked_to,
    }
    return {
        row["kind"]: Missing(row["how_many"], row["eggs"], tuple(row["labels"]))
        for row in rows_of(connection, "gaps", days)
    }
