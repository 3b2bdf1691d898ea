"""How many false signals a year of reviews may give, and how far out a signal must therefore lie.

A farm where nothing changes may give one false signal in twelve monthly reviews. A month's twelfth of it is
shared out over everything that is watched in the month: the more pens, machines and steps, the farther out.
The shares add up to about the one; a run that goes on is called once, months are skew, and how far they lie
apart is only estimated: what comes of it all is measured (tests/simulation/monitoring.py). Pens' first step
gets most: its power is promised, and a fall there, not a rise, is what must not be missed.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, owens_t

from analytics.monitoring.distance import WEIGHT, WINDOW
from analytics.monitoring.ewma import ewma_spread
from analytics.monitoring.p_chart import Flags, Floats
from analytics.monitoring.records import Kind

A_YEAR = 1.0
"""False signals of a farm in twelve monthly reviews."""
PENS_FIRST, OTHERS, BETTER = 0.68, 0.30, 0.03
"""What is shared out: pens' first step falling, everything else falling, anything rising (by simulation)."""
FARTHER = 1.2
"""How many times as far out as its average a pen's month must lie in the first step to be a signal alone:
there a fall lasts, and two months together tell it best. Elsewhere a single month counts as much."""


def reaches(watched: Flags, kinds: Sequence[Kind], months: Floats, part: float = 1.0) -> Floats:
    """Distances from which a month is a signal.

    Args:
        watched: what is watched, shape (steps, units).
        kinds: kind of each unit.
        months: degrees of freedom behind how far months lie apart, above 0, likewise.
        part: what of the allowance is for these; several species of a farm share it.

    Returns:
        Of the moving average and of the month alone, each downwards and upwards, all above 0; shape
        (2, 2, steps, units). What is not watched has those of the others.
    """
    first = pens_first(watched.shape, kinds)
    month = part * A_YEAR / 12
    found = np.zeros((2, *watched.shape))
    for group, share in ((first, PENS_FIRST), (~first, OTHERS)):
        farther = FARTHER if group is first else 1.0
        found[0, group] = reach(month * share / max(int((watched & group).sum()), 1), farther)
        found[1, group] = reach(month * BETTER / max(int(watched.sum()), 1), farther)
    found = np.where(first, unsure(found, months), found)
    return np.stack((found, found * np.where(first, FARTHER, 1.0)))


def pens_first(shape: tuple[int, ...], kinds: Sequence[Kind]) -> Flags:
    """Which of (steps, units) are pens in their first step: they are watched for a fall that lasts."""
    found = np.zeros(shape, dtype=bool)
    found[0] = np.array([kind == "pen" for kind in kinds])
    return found


def unsure(reach: Floats, months: Floats) -> Floats:
    """Distances where how far months lie apart was learnt from so many of them: Student's t about the normal.

    Args:
        reach: distances for a known spread.
        months: degrees of freedom behind the spread, above 0.

    Returns:
        Student's quantiles to first order. Source: Abramowitz and Stegun 1964, formula 26.7.5 (from memory).
    """
    return np.asarray(reach * (1 + (reach**2 + 1) / (4 * months)))


@cache
def reach(chance: float, farther: float) -> float:
    """The distance that the moving average passes, or the month one so many times as far, with that chance.

    Args:
        chance: on one side.
        farther: how many times as far out the month alone must lie.
    """
    return float(brentq(lambda far: _either(far, farther * far) - chance, 1e-3, 9.0, xtol=1e-10))


def _either(average: float, month: float) -> float:
    """Chance that the average or the month, two correlated normal numbers, lies beyond its distance."""
    alike = WEIGHT / ewma_spread(WEIGHT, WINDOW)
    return float(ndtr(-average) + ndtr(-month) - _both(average, month, alike))


def _both(one: float, other: float, alike: float) -> float:
    """Chance that both of two normal numbers lie beyond, both distances above 0; Owen 1956."""
    rest = np.sqrt(1 - alike**2)
    tails = owens_t(one, (other / one - alike) / rest) + owens_t(other, (one / other - alike) / rest)
    return float((ndtr(-one) + ndtr(-other)) / 2 - tails)
