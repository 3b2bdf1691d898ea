"""Weeks in which a machine's air, or a display's error, left its usual level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from analytics.incubation.drift import Floats, Shift, levels
from analytics.measures.intervals import LEVEL, t_quantile

LEAST_C = 0.3
"""Difference worth naming, °C (common practice, no source: 0.3 to 0.6 for the whole term costs chicks)."""
MOST_BINS = 130
"""Bins of time in which a level is looked for; a longer record has bins of several weeks."""
_WEEK = 7


@dataclass(frozen=True, slots=True)
class Reading:
    """A mean of some readings.

    Attributes:
        day: their day.
        value: °C.
        weight: how many hours stand behind it.
    """

    day: date
    value: float
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class LevelShift:
    """Weeks or checks apart from the usual level.

    Attributes:
        first_day: first day with a reading in them.
        last_day: last such day.
        values: weeks, or checks.
        size: mean less the usual mean, °C.
        low: lower end of its interval; weeks are taken as independent.
        high: upper end.
        usual: the usual mean, °C.
    """

    first_day: date
    last_day: date
    values: int
    size: float
    low: float
    high: float
    usual: float


def weekly_shifts(readings: Sequence[Reading], least: float = LEAST_C) -> tuple[LevelShift, ...]:
    """Weeks in which the mean left its level by so much; bins of weeks where the record is long.

    Args:
        readings: daily means, by day.
        least: smallest size that is reported.
    """
    if not readings:
        return ()
    span = (readings[-1].day - readings[0].day).days + 1
    width = _WEEK * max(1, -(-span // (_WEEK * MOST_BINS)))
    bins: dict[int, list[Reading]] = {}
    for reading in readings:
        bins.setdefault((reading.day - readings[0].day) // timedelta(days=width), []).append(reading)
    return _shifts([bins[place] for place in sorted(bins)], least)


def check_shifts(readings: Sequence[Reading], least: float = LEAST_C) -> tuple[LevelShift, ...]:
    """Checks in which a display's error left its level by so much.

    Args:
        readings: display less reference, by day.
        least: smallest size that is reported.
    """
    return _shifts([[reading] for reading in readings], least)


def _shifts(bins: Sequence[Sequence[Reading]], least: float) -> tuple[LevelShift, ...]:
    means = _means(bins)
    found = levels(means.tolist())
    if not found.shifts:
        return ()
    ends = [_ends(bins, shift, found.usual) for shift in found.shifts]
    usual = [[one for one in those if not any(a <= one.day <= b for a, b in ends)] for those in bins]
    made = [_shift(bins, usual, first, last) for first, last in ends]
    return tuple(one for one in made if abs(one.size) >= least and not one.low <= 0 <= one.high)


def _means(bins: Sequence[Sequence[Reading]]) -> Floats:
    """Mean of each bin that is not empty."""
    return np.array([
        np.average([one.value for one in those], weights=[one.weight for one in those])
        for those in bins
        if those
    ])  # fmt: skip


def _ends(bins: Sequence[Sequence[Reading]], shift: Shift, usual: float) -> tuple[date, date]:
    """First and last day of a shift: of the days around each end, those that part the two levels best."""
    level, last = usual + shift.size, len(bins) - 1
    around = [one for those in bins[max(0, shift.first - 1) : shift.first + 2] for one in those]
    first_day = bins[0][0].day if shift.first == 0 else _parted(around, usual, level)
    around = [one for those in bins[max(0, shift.last - 1) : shift.last + 2] for one in those]
    last_day = bins[-1][-1].day if shift.last == last else _parted(around[::-1], usual, level)
    return first_day, last_day


def _parted(readings: Sequence[Reading], before: float, after: float) -> date:
    """The first of the readings, in this order, at the later level."""
    values = np.array([one.value for one in readings])
    nearer = np.cumsum((values - before) ** 2 - (values - after) ** 2)
    return readings[min(int(np.argmin(nearer[:-1])) + 1, len(readings) - 1)].day


def _shift(
    bins: Sequence[Sequence[Reading]], usual: Sequence[Sequence[Reading]], first: date, last: date
) -> LevelShift:
    within = [[one for one in those if first <= one.day <= last] for those in bins]
    these, others = _means(within), _means(usual)
    size, freedom = float(these.mean() - others.mean()), len(these) + len(others) - 2
    squares = ((these - these.mean()) ** 2).sum() + ((others - others.mean()) ** 2).sum()
    error = float(np.sqrt(squares / freedom * (1 / len(these) + 1 / len(others))))
    half = t_quantile(LEVEL, freedom) * error
    return LevelShift(first, last, len(these), size, size - half, size + half, float(others.mean()))
