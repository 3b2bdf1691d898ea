"""Did a pen or a machine leave its usual level this month: the watch, month by month, on the whole farm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering
from analytics.monitoring.distance import WINDOW, limit, smallest_drop
from analytics.monitoring.p_chart import Floats
from analytics.monitoring.records import Charts, Kind, MonthlyCounts
from analytics.monitoring.watch import BASELINE, FEWEST_MONTHS, watch
from analytics.options import Selection
from analytics.store.counts import cluster_sums, counting
from analytics.store.monthly import MonthlySums, monthly_sums, told_families
from analytics.studies.records import MonthReview
from analytics.studies.signal_records import MonthSignals, Point, Signal, TenPoints, Watched
from analytics.studies.signal_words import how, lines, sentence
from analytics.values import Month, Period, label_order

REVIEWS = 24
"""Months whose reviews are gone through again, so that a signal is known as long as it is one."""
HALF_YEAR = 6
TEN_POINTS = 0.10
ASKED = np.arange(10.0, 2001.0, 10.0)
"""Eggs of a pen in a month for which it is asked whether ten points would show."""
SHOWN = 12
"""Months before the one reviewed that a chart shows."""


def with_signals(store: Path, review: MonthReview) -> MonthReview:
    """The review with the signals of its month.

    Args:
        store: the store's file.
        review: from `month_review`.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    return replace(review, signals=month_signals(store, review.month, review.selection))


def month_signals(store: Path, month: Month, selection: Selection) -> MonthSignals:
    """The signals of a month's review.

    All of the farm up to the end of the month is looked at; the selection only says what is shown.

    Args:
        store: the store's file.
        month: the month of hatch.
        selection: filters; the period bounds nothing here.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    span = REVIEWS + BASELINE + WINDOW
    months = [month.back(back) for back in range(span - 1, -1, -1)]
    until = month.period().end
    assert until
    with counting(store, Selection(period=Period(None, until))) as connection:
        found = monthly_sums(connection, told_families(connection), months)
        likeness = {
            day: {name: estimate_clustering(sums) for name, sums in cluster_sums(connection, day).items()}
            for day in dict.fromkeys(map(_known_until, months[BASELINE + WINDOW :]))
            if found and day >= _first_day(found)
        }
    alive = np.array([_alive(one) for one in found])
    parts = alive / np.maximum(alive.sum(axis=0), 1)
    looked = [_Looked(one, likeness, part) for one, part in zip(found, parts, strict=True)]
    return _answer(month, selection, looked)


def _known_until(month: Month) -> date:
    """The day up to which a review learns how alike eggs are: the half-year before is over.

    A fixed day, so that a review of later months finds the same signals in the months before.
    """
    return date(month.year, 6, 30) if month.month > HALF_YEAR else date(month.year - 1, 12, 31)


def _first_day(found: Sequence[MonthlySums]) -> date:
    first = min(one.months[_first_month(one)] for one in found)
    return date(first.year, first.month, 1)


def _alive(sums: MonthlySums) -> Floats:
    """Pens with eggs in each month or the twelve before."""
    there = sums.entered[0].sum(axis=(0, 3)) > 0
    recent = [there[max(last - BASELINE, 0) : last + 1].any(axis=0).sum() for last in range(len(there))]
    return np.array(recent, dtype=float)


class _Looked:
    """One species' charts."""

    def __init__(self, sums: MonthlySums, likeness: dict[date, dict[str, Clustering]], part: Floats) -> None:
        first = _first_month(sums)
        self.sums, self.months = sums, sums.months[first:]
        self.counts = MonthlyCounts(
            steps=sums.steps,
            machines=sums.machines,
            pens=sums.pens,
            entered=sums.entered[:, :, first:],
            passed=sums.passed[:, :, first:],
            tray_squares=sums.tray_squares[:, first:],
            batch_squares=sums.batch_squares[:, first:],
            machine_squares=sums.machine_squares[:, first:],
            likeness=_likeness(sums.steps, self.months, likeness),
            part=part[first:],
        )
        self.charts: Charts = watch(self.counts)

    @property
    def last(self) -> int:
        """Place of the month reviewed."""
        return len(self.months) - 1

    def reads(self, step: int, share: float) -> float:
        """The share that passed, or what was lost, as the measure says it."""
        return 1 - share if self.sums.steps[step].endswith("_loss") else share

    def point(self, step: int, month: int, unit: int) -> Point:
        """One month of a chart."""
        c, at = self.charts, (step, month, unit)
        eggs = float(c.eggs[at])
        rate = self.reads(step, float(c.share[at])) if eggs > 0 else None
        if not (eggs > 0 and c.base_worth[at] > 0 and c.watched[at] | (c.state[at] != 0)):
            return Point(self.months[month], eggs, rate, None, None, None, bool(c.state[at]))
        asked = c.worth[at], c.expected[at], c.base_worth[at], c.clustered[at]
        ends = sorted(
            self.reads(step, float(limit(reach, *asked)))
            for reach in (-c.reach[(1, 0, *at)], c.reach[(1, 1, *at)])
        )
        expected = self.reads(step, float(c.expected[at]))
        return Point(self.months[month], eggs, rate, expected, ends[0], ends[1], bool(c.state[at]))


def _likeness(
    steps: Sequence[str], months: Sequence[Month], known: dict[date, dict[str, Clustering]]
) -> Floats:
    """How alike eggs of a tray and a batch are, as each month's review knows it, shape (2, steps, months)."""
    assumed = estimate_clustering(None)
    found = [[known.get(_known_until(month), {}).get(step, assumed) for month in months] for step in steps]
    return np.array(
        [[[getattr(one, name) for one in row] for row in found] for name in ("rho_tray", "rho_batch")]
    )


def _first_month(sums: MonthlySums) -> int:
    """The first month with eggs; earlier ones are no gap but a time before the records."""
    with_eggs = sums.entered[0].sum(axis=(0, 2, 3)) > 0
    return int(with_eggs.argmax())


def _answer(month: Month, selection: Selection, looked: Sequence[_Looked]) -> MonthSignals:
    signals = sorted(
        (signal for one in looked for signal in _signals(one) if _asked(selection, signal)), key=_order
    )
    seen = tuple(each for one in looked for each in _watched(one) if _asked(selection, each))
    charts = sum(int(one.charts.watched[:, one.last].sum()) for one in looked)
    first = min((one.months[0] for one in looked), default=month)
    base = (max(month.back(BASELINE + WINDOW - 1), first), month.back(WINDOW)) if charts else None
    needed = tuple(found for one in looked if (found := _ten_points(one, seen)))
    return MonthSignals(
        month=month,
        signals=tuple(signals),
        watched=seen,
        charts=charts,
        base_from=base[0] if base else None,
        base_to=base[1] if base else None,
        lines=lines(signals, seen, charts, needed),
        how=how(seen, charts, base),
        ten_points=needed,
    )


def _asked(selection: Selection, one: Signal | Watched) -> bool:
    """Whether the filters let it be shown: pens and machines each by their own, the flock without either."""
    if selection.species and one.species not in selection.species:
        return False
    if one.kind == "flock":
        return not (selection.pens or selection.incubators)
    own, others = (
        (selection.pens, selection.incubators)
        if one.kind == "pen"
        else (selection.incubators, selection.pens)
    )
    if own:
        return one.label.casefold() in {label.strip().casefold() for label in own}
    return not others


def _order(signal: Signal) -> tuple[bool, int, object, str]:
    kinds: tuple[Kind, ...] = ("flock", "machine", "pen")
    return signal.known, kinds.index(signal.kind), label_order(signal.label), signal.measure


def _signals(one: _Looked) -> list[Signal]:
    state = one.charts.state[:, one.last]
    return [_signal(one, int(step), int(unit)) for step, unit in np.argwhere(state != 0)]


def _signal(one: _Looked, step: int, unit: int) -> Signal:
    at = step, one.last, unit
    kind, label = one.counts.units[unit]
    worse, charts = bool(one.charts.state[at] < 0), one.charts
    average, month = charts.reach[(slice(None), 0 if worse else 1, *at)]
    side = -1 if worse else 1
    chart = "month" if side * charts.distance[at] >= month else "average"
    known = bool(abs(charts.state[at]) == 2)
    if known and side * charts.smoothed[at] < average and chart == "average":
        chart = "run"
    first = max(one.last - SHOWN, 0)
    points = tuple(one.point(step, month, unit) for month in range(first, one.last + 1))
    since = one.months[_first_called(charts, step, unit)]
    measure = one.sums.steps[step]
    words = sentence(kind, label, measure, one.sums.species, known, since, worse, chart, points)
    return Signal(kind, label, one.sums.species, measure, known, since, worse, chart, points, words)


def _first_called(charts: Charts, step: int, unit: int) -> int:
    """The month in whose review this run was first a signal: the eggs may have turned a month earlier."""
    return int(np.flatnonzero(np.abs(charts.state[step, :, unit]) == 1)[-1])


def _watched(one: _Looked) -> list[Watched]:
    last, charts = one.last, one.charts
    if last < FEWEST_MONTHS + WINDOW - 1:
        return []
    asked = [
        values[:, last]
        for values in (charts.reach[0, 0], charts.worth, charts.expected, charts.base_worth, charts.clustered)
    ]
    smallest = smallest_drop(*asked)
    return [
        _one_watched(one, int(step), int(unit), float(smallest[step, unit]))
        for unit, step in np.argwhere(charts.eggs[:, last].T > 0)
    ]


def _ten_points(one: _Looked, seen: Sequence[Watched]) -> TenPoints | None:
    """Eggs a month for ten points in the first step, trays and batches set as in this month."""
    measure, charts, last = one.sums.steps[0], one.charts, one.last
    shown = {each.label for each in seen if each.kind == "pen" and each.species == one.sums.species}
    own = np.array([kind == "pen" and label in shown for kind, label in one.counts.units])
    pens = np.flatnonzero(own & charts.watched[0, last])
    if not len(pens):
        return None
    reach, worth, expected, months = (
        float(np.median(values[0, last, pens]))
        for values in (
            charts.reach[0, 0],
            charts.worth / np.maximum(charts.eggs, 1),
            charts.expected,
            charts.own_months,
        )
    )
    asked = reach, worth * ASKED, expected, worth * ASKED * max(months, 1.0), 1 - worth
    shows = ASKED[smallest_drop(*asked) <= TEN_POINTS]
    eggs = charts.eggs[0, last, own & (charts.eggs[0, last] > 0)]
    return TenPoints(
        species=one.sums.species,
        measure=measure,
        likeness=float(one.counts.likeness[0, 0, last]),
        eggs=float(shows[0]) if len(shows) else None,
        fewest=float(eggs.min()),
        most=float(eggs.max()),
    )


def _one_watched(one: _Looked, step: int, unit: int, smallest: float) -> Watched:
    at, charts = (step, one.last, unit), one.charts
    kind, label = one.counts.units[unit]
    return Watched(
        kind=kind,
        label=label,
        species=one.sums.species,
        measure=one.sums.steps[step],
        eggs=float(charts.eggs[at]),
        expected=one.reads(step, float(charts.expected[at])),
        smallest=None if np.isnan(smallest) else smallest,
        own_months=int(charts.own_months[at]),
        possible=bool(charts.watched[at]),
    )
