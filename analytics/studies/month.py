"""How did the month go: its rates beside the twelve months before, and what the records leave open."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from analytics.errors import WrongUsage
from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.store.counts import Span, Stratum, breeder_targets, cluster_sums, counting, lay_out, strata
from analytics.store.gaps import InMachine, Missing, batches_in_machine, closed_months, missing_records
from analytics.studies.clear_records import Clears
from analytics.studies.clears import clears
from analytics.studies.gap_words import data_gaps
from analytics.studies.headline import headline
from analytics.studies.records import MonthReview, OpenBatch, PenMonth, Rates, SpeciesMonth
from analytics.values import Month, Period, label_order

MONTHS_BEFORE = 12
_NOW = 0
_TOGETHER = MONTHS_BEFORE + 1
_AGAINST = MONTHS_BEFORE + 2


@dataclass(frozen=True, slots=True)
class _Sums:
    """What the store says, before any rate is made of it."""

    month: Month
    months: tuple[Month, ...]
    as_of: date
    strata: dict[tuple[int, str, str], Stratum]
    clustering: Mapping[str, Clustering]
    targets: dict[str, dict[str, float]]
    in_machine: tuple[InMachine, ...]
    missing: dict[str, Missing]

    def rates(self, span: int, species: str, pen: str = "") -> Rates:
        """Rates of one stratum; empty where it has no eggs."""
        stratum = self.strata.get((span, species, pen))
        return rates(stratum.families, self.clustering) if stratum else {}


def month_review(
    store: Path,
    month: Month | None,
    selection: Selection,
    as_of: date,
    *,
    against: Month | None = None,
    target: float | None = None,
    looking_back: bool = False,
) -> MonthReview:
    """Reviews a month.

    Args:
        store: the store's file.
        month: the month of hatch; None = the last one with a closed batch in the selection.
        selection: filters; a period bounds the month and the twelve before as well.
        as_of: the day on which batches in the machine are looked at.
        against: another month to set beside it.
        target: the aim for hatch of set, instead of the one in the records.
        looking_back: whether a month before the last one is looked at on its own last day instead.

    Raises:
        WrongUsage: the month is to be set beside itself.
        as `reading`.
    """
    sums = _ask(store, month, selection, as_of, against, looking_back=looking_back)
    if target is not None:
        sums = replace(sums, targets=_aiming(sums, target))
    told = _clears(store, selection, sums)
    species = sorted(
        (
            replace(_species(sums, key), clears=told.of(key) if told else None)
            for key in {key for _, key, _ in sums.strata}
        ),
        key=lambda one: (-one.eggs_set, one.species),
    )
    open_batches = tuple(_open_batch(batch, sums.as_of) for batch in sums.in_machine)
    return MonthReview(
        month=sums.month,
        selection=selection,
        headline=headline(sums.month, selection, species, open_batches, sums.months, against),
        species=tuple(species),
        open_batches=open_batches,
        data_gaps=data_gaps(sums.missing, open_batches),
        months=sums.months,
        as_of=sums.as_of,
        against=against,
    )


def _clears(store: Path, selection: Selection, sums: _Sums) -> Clears | None:
    """What the month's clear eggs are likely to be; None where it has none."""
    if not any(one.families.fertile.opened.clear for (span, *_), one in sums.strata.items() if span == _NOW):
        return None
    (first, last), asked = _days(sums.month.period()), selection.period
    period = Period(max(first, asked.start or first), min(last, asked.end or last))
    return clears(store, selection.during(period))


def _aiming(sums: _Sums, target: float) -> dict[str, dict[str, float]]:
    """The aims of every species with this one for hatch of set."""
    keys = {key for _, key, _ in sums.strata}
    return {key: sums.targets.get(key, {}) | {"hatch_of_set": target} for key in keys}


def _ask(
    store: Path,
    month: Month | None,
    selection: Selection,
    as_of: date,
    against: Month | None,
    *,
    looking_back: bool,
) -> _Sums:
    with counting(store, selection) as connection:
        months = closed_months(connection)
        month = month or (months[-1] if months else Month(as_of.year, as_of.month))
        if against == month:
            raise WrongUsage(
                f"{month} beside itself", "A month is set beside another", "Give another month to --against"
            )
        first_day, last_day = _days(month.period())
        if looking_back and months and month < months[-1]:
            as_of = min(as_of, last_day)
        latest = max(month, against) if against else month
        sums = cluster_sums(connection, until=_days(latest.period())[1])
        missing = missing_records(connection, first_day, last_day, as_of)
        found = {(s.span, s.species, s.pen): s for s in strata(connection, _spans(month, against))}
        if selection.period != Period(None, None):
            lay_out(connection, selection.during(Period(None, None)))
        return _Sums(
            month=month,
            months=months,
            as_of=as_of,
            strata=found,
            clustering={measure: estimate_clustering(each) for measure, each in sums.items()},
            targets=breeder_targets(connection),
            in_machine=batches_in_machine(connection, selection, as_of),
            missing=missing,
        )


def _spans(month: Month, against: Month | None) -> list[Span]:
    """The month, the twelve before (the latest first), those twelve together, and the month set beside."""
    before = [month.back(months).period() for months in range(1, MONTHS_BEFORE + 1)]
    together = Period(before[-1].start, before[0].end)
    each = [Span(period, each_pen=False) for period in before]
    return [Span(month.period()), *each, Span(together), *([Span(against.period())] if against else [])]


def _days(period: Period) -> tuple[date, date]:
    assert period.start
    assert period.end
    return period.start, period.end


def _species(sums: _Sums, key: str) -> SpeciesMonth:
    now = sums.strata.get((_NOW, key, ""))
    return SpeciesMonth(
        species=key,
        eggs_set=now.eggs_set if now else 0,
        chicks=now.chicks if now else 0,
        batches=now.batches if now else 0,
        rates=sums.rates(_NOW, key),
        months_before=tuple(
            (sums.month.back(months), sums.rates(months, key)) for months in range(MONTHS_BEFORE, 0, -1)
        ),
        pens=tuple(_pen(sums, stratum) for stratum in _pens_of(sums, key)),
        targets=sums.targets.get(key, {}),
        before=sums.rates(_TOGETHER, key),
        against=sums.rates(_AGAINST, key),
    )


def _pens_of(sums: _Sums, key: str) -> list[Stratum]:
    found = [s for s in sums.strata.values() if s.span == _NOW and s.species == key and s.pen]
    return sorted(found, key=lambda stratum: label_order(stratum.pen))


def _pen(sums: _Sums, now: Stratum) -> PenMonth:
    return PenMonth(
        pen=now.pen,
        eggs_set=now.eggs_set,
        chicks=now.chicks,
        rates=sums.rates(_NOW, now.species, now.pen),
        before=sums.rates(_TOGETHER, now.species, now.pen),
        against=sums.rates(_AGAINST, now.species, now.pen),
    )


def _open_batch(batch: InMachine, as_of: date) -> OpenBatch:
    overdue = (as_of - batch.due_to).days if batch.due_to else 0
    return OpenBatch(
        batch=batch.batch,
        incubator=batch.incubator,
        species=batch.species,
        eggs_set=batch.eggs_set,
        set_on=batch.set_on,
        due_from=batch.due_from,
        due_to=batch.due_to,
        overdue_days=max(overdue, 0),
    )
