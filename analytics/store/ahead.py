"""What is in the machines and in the pens on a day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

import duckdb

from analytics.measures.outlook import SetEggs
from analytics.options import Selection
from analytics.reference.species import species_table
from analytics.store.counts import rows_of


@dataclass(frozen=True, slots=True)
class EggsAhead:
    """Eggs of one species that are due in one stretch of days.

    Attributes:
        species: key.
        trays: the trays.
        due_from: first day their hatch is expected; None where the species' days are not known.
        due_to: last such day.
    """

    species: str
    trays: tuple[SetEggs, ...]
    due_from: date | None
    due_to: date | None


@dataclass(frozen=True, slots=True)
class PenBirds:
    """Birds of a pen on a day.

    Attributes:
        pen: label.
        species: key.
        males: cocks; None = not recorded.
        females: hens; None = not recorded.
    """

    pen: str
    species: str
    males: int | None
    females: int | None


def eggs_ahead(connection: duckdb.DuckDBPyConnection, day: date) -> tuple[EggsAhead, ...]:
    """Eggs that are in a machine on a day, batch by batch and species by species, the first due first.

    Args:
        connection: from `counting` without a period.
        day: the day.
    """
    found: dict[tuple[str, str], list[SetEggs]] = {}
    set_on: dict[str, datetime] = {}
    for row in rows_of(connection, "eggs_ahead", {"day": day}):
        tray = SetEggs(row["batch"], row["pen"], row["eggs"])
        found.setdefault((tray.batch, row["species"]), []).append(tray)
        set_on[tray.batch] = row["set_on"]
    every = [
        EggsAhead(species, tuple(trays), *_due(species, set_on[batch]))
        for (batch, species), trays in found.items()
    ]
    return tuple(sorted(every, key=lambda one: (one.due_from or date.max, one.trays[0].batch, one.species)))


def _due(species: str, set_on: datetime) -> tuple[date | None, date | None]:
    """First and last day on which a species' eggs hatch, None where its days are not known."""
    known = species_table().get(species)
    if known is None:
        return None, None
    shortest, longest = timedelta(known.shortest_days), timedelta(known.longest_days)
    return (set_on + shortest).date(), (set_on + longest).date()


def birds_present(
    connection: duckdb.DuckDBPyConnection, selection: Selection, day: date
) -> tuple[PenBirds, ...]:
    """Males and females of each pen on a day, by pen.

    Args:
        connection: from `counting`.
        selection: its filters; with any, only pens whose trays are chosen.
        day: the day.
    """
    filtered = bool(selection.species or selection.pens or selection.incubators)
    rows = rows_of(connection, "birds_present", {"day": day, "everything": not filtered})
    return tuple(PenBirds(row["pen"], row["species"], row["males"], row["females"]) for row in rows)
