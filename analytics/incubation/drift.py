"""Whether a series of batches, weeks or checks kept one level, and from where to where it did not.

Changes of level are those of least squares, found exactly by `ruptures` (Truong, Oudre & Vayatis 2020, Signal
Processing 167:107299, from memory). Each change must save more squares than a penalty: the values' own spread
around the best of all levels, times what 4 in 100 series of as many normal values would save by chance. So a
machine without a drift seldom gets months; neighbours that are alike for another reason, such as weeks of one
season, are cut more often, and whoever asks must then look at the size and at other machines.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

LEAST = 8
"""Values below which no change of level is looked for."""
LEVEL = 0.04
"""Share of series of chance alone in which a change is seen."""
DRAWS = 299
MOST_CHANGES = 4
_HALF = 0.5
_SEED = 20260105


@dataclass(frozen=True, slots=True)
class Shift:
    """A stretch of the series that stands apart from its usual level.

    Attributes:
        first: place of its first value.
        last: place of its last value.
        size: its mean less the usual one.
    """

    first: int
    last: int
    size: float


@dataclass(frozen=True, slots=True)
class Levels:
    """The levels of a series.

    Attributes:
        starts: places at which a level begins, 0 first.
        usual: mean of the values at the usual level: that of the usual stretch and of those like it.
        shifts: the stretches apart from it; empty where one level holds.
        penalty: what a change had to save, squares of the unit.
        p_value: share of series of chance that save as much; 1.0 where none was looked for.
        values: how many there were.
    """

    starts: tuple[int, ...]
    usual: float
    shifts: tuple[Shift, ...]
    penalty: float
    p_value: float
    values: int


def levels(values: Sequence[float], shortest: int = 2, towards: float | None = None) -> Levels:
    """The levels of a series.

    Args:
        values: in order of time.
        shortest: fewest values of a stretch.
        towards: where the values should lie, if that is known: the usual stretch is then the longest one only
            where no other is nearer to it by more than half of what lies between them.
    """
    series = np.asarray(values, dtype=np.float64)
    if len(series) < max(LEAST, 2 * shortest) or np.ptp(series) == 0:
        return Levels((0,), float(series.mean()) if len(series) else 0.0, (), 0.0, 1.0, len(series))
    drawn, own = _of_chance(len(series), shortest), _saved(series, shortest)
    p_value = (1 + sum(one >= own for one in drawn)) / (DRAWS + 1)
    penalty = sorted(drawn)[-int(LEVEL * (DRAWS + 1))] * _spread(series, _changes(series, shortest))
    starts = _starts(series, penalty, shortest) if p_value <= LEVEL else (0,)
    usual, shifts = _apart(series, starts, towards)
    return Levels(starts, usual, shifts, penalty, p_value, len(series))


@cache
def _of_chance(many: int, shortest: int) -> tuple[float, ...]:
    """What changes save in series of so many normal values; the same at every call."""
    chance = np.random.default_rng([_SEED, many, shortest])
    return tuple(_saved(chance.normal(size=many), shortest) for _ in range(DRAWS))


def _saved(series: Floats, shortest: int) -> float:
    """The most that a change saves of the squares, of up to `MOST_CHANGES`, in units of the spread."""
    found = _changes(series, shortest)
    whole = _squares(series, ())
    best = max((whole - _squares(series, ends)) / len(ends) for ends in found)
    return best / max(_spread(series, found), 1e-300)


def _spread(series: Floats, found: Sequence[tuple[int, ...]]) -> float:
    """Variance of the values around the best of all levels."""
    return min(_squares(series, ends) for ends in found) / (len(series) - len(found) - 1)


def _starts(series: Floats, penalty: float, shortest: int) -> tuple[int, ...]:
    """The stretches for which squares and penalties together are least."""
    found = [(), *_changes(series, shortest)]
    return (0, *min(found, key=lambda ends: _squares(series, ends) + penalty * len(ends)))


def _changes(series: Floats, shortest: int) -> list[tuple[int, ...]]:
    """The best places for one change, for two, and so on."""
    from ruptures import KernelCPD

    search = KernelCPD(kernel="linear", min_size=shortest).fit(series[:, None])
    most = min(MOST_CHANGES, len(series) // shortest - 1)
    return [tuple(int(end) for end in search.predict(n_bkps=many)[:-1]) for many in range(1, most + 1)]


def _squares(series: Floats, ends: Sequence[int]) -> float:
    return sum(float(part.var()) * len(part) for part in np.split(series, list(ends)))


def _apart(series: Floats, starts: Sequence[int], towards: float | None) -> tuple[float, tuple[Shift, ...]]:
    """The usual level, and the stretches nearer to the farthest one; neighbours on one side join."""
    ends = (*starts[1:], len(series))
    parts = [series[start:end] for start, end in zip(starts, ends, strict=True)]
    middle = _usual_of(parts, towards).mean()
    off = [abs(float(part.mean() - middle)) for part in parts]
    is_apart = [gap > _HALF * max(off) for gap in off]
    usual = float(np.concatenate([part for part, far in zip(parts, is_apart, strict=True) if not far]).mean())
    shifts: list[Shift] = []
    for start, end, far in zip(starts, ends, is_apart, strict=True):
        if not far:
            continue
        goes_on = bool(shifts) and shifts[-1].last == start - 1
        one = _shift(series, start, end, usual)
        if goes_on and one.size * shifts[-1].size > 0:
            shifts[-1] = _shift(series, shifts[-1].first, end, usual)
        else:
            shifts.append(one)
    return usual, tuple(shifts)


def _usual_of(parts: Sequence[Floats], towards: float | None) -> Floats:
    longest = max(parts, key=len)
    if towards is None:
        return longest
    nearest = min(parts, key=lambda part: abs(float(part.mean()) - towards))
    nearer = abs(longest.mean() - towards) - abs(nearest.mean() - towards)
    return nearest if nearer > _HALF * abs(longest.mean() - nearest.mean()) else longest


def _shift(series: Floats, start: int, end: int, usual: float) -> Shift:
    return Shift(start, end - 1, float(series[start:end].mean()) - usual)
