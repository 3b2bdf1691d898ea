"""What is ahead: chicks to expect of the eggs in the machines, and the birds that are there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analytics.measures.clustering import estimate_clustering
from analytics.measures.outlook import ExpectedChicks, SetEggs, expected_chicks
from analytics.options import Selection
from analytics.store.ahead import EggsAhead, PenBirds, birds_present, eggs_ahead
from analytics.store.counts import Span, Stratum, cluster_sums, counting, strata
from analytics.values import Month, Period

MONTHS = 12
"""Months before whose hatches say what to expect."""
NO_PAST = "nothing of this kind hatched in the twelve months before"


@dataclass(frozen=True, slots=True)
class DueChicks:
    """Chicks to expect of one species in one month.

    Attributes:
        month: month in which the hatch begins; None = days not known.
        species: key.
        batches: labels.
        eggs: eggs in the machine and not cracked.
        expected: the chicks; None where nothing tells.
        first_day: first day a hatch is expected.
        last_day: last such day.
        why: why there is no number, "" where there is.
    """

    month: Month | None
    species: str
    batches: tuple[str, ...]
    eggs: int
    expected: ExpectedChicks | None
    first_day: date | None
    last_day: date | None
    why: str


@dataclass(frozen=True, slots=True)
class Outlook:
    """What is ahead on a day.

    Attributes:
        as_of: the day.
        due: chicks to expect, by month and species.
        birds: birds in each pen.
    """

    as_of: date
    due: tuple[DueChicks, ...]
    birds: tuple[PenBirds, ...]


def outlook(store: Path, selection: Selection, as_of: date) -> Outlook:
    """Looks ahead from a day.

    Chicks are expected as the selection's pens hatched in the twelve months up to that day; what changed
    since (a season, a male, a machine) is not in it. Of a batch past its days nothing is expected.

    Args:
        store: the store's file.
        selection: filters; its period does not matter.
        as_of: the day.

    Raises:
        as `counting`.
    """
    past = Period(Month(as_of.year, as_of.month).back(MONTHS).period().start, as_of)
    with counting(store, selection.during(Period(None, None))) as connection:
        ahead = eggs_ahead(connection, as_of)
        birds = birds_present(connection, selection, as_of)
        known = {(one.species, one.pen): one for one in strata(connection, [Span(past)])}
        clustering = estimate_clustering(cluster_sums(connection, until=as_of).get("hatch_of_set"))
    by_month: dict[tuple[Month | None, str], list[EggsAhead]] = {}
    for one in ahead:
        if one.due_to and one.due_to < as_of:
            continue
        month = Month(one.due_from.year, one.due_from.month) if one.due_from else None
        by_month.setdefault((month, one.species), []).append(one)
    due = []
    for (month, species), parts in by_month.items():
        trays = [tray for part in parts for tray in part.trays]
        whole = known.get((species, ""))
        expected = (
            expected_chicks(trays, whole.families.hatch, _pens(known, species), clustering) if whole else None
        )
        due.append(_due(month, species, parts, trays, expected))
    return Outlook(as_of, tuple(due), birds)


def _pens(known: dict[tuple[str, str], Stratum], species: str) -> dict[str, tuple[float, float]]:
    """Pen -> chicks and eggs set of its hatches."""
    return {
        pen: (float(hatch.hatched + hatch.culled), float(hatch.eggs_set))
        for (kind, pen), one in known.items()
        for hatch in (one.families.hatch,)
        if pen and kind == species
    }


def _due(
    month: Month | None,
    species: str,
    parts: Sequence[EggsAhead],
    trays: Sequence[SetEggs],
    expected: ExpectedChicks | None,
) -> DueChicks:
    first = [part.due_from for part in parts if part.due_from]
    last = [part.due_to for part in parts if part.due_to]
    return DueChicks(
        month=month,
        species=species,
        batches=tuple(dict.fromkeys(tray.batch for tray in trays)),
        eggs=sum(tray.eggs for tray in trays),
        expected=expected,
        first_day=min(first, default=None),
        last_day=max(last, default=None),
        why="" if expected else NO_PAST,
    )
