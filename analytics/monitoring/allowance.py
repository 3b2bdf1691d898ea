"""How many false signals a year of reviews may give, and how far out a signal must therefore lie.

A farm where nothing changes may give one false signal in twelve monthly reviews. A month's twelfth of it is
shared out over everything that is watched in the month: the more pens, machines and steps, the farther out.
The shares add up to more than the one: by themselves they hold for months that stand alone, while a run that
goes on is called once, and limits widened for trays and batches are rather too wide than too narrow. What is
left in the end is measured (tests/simulation/monitoring.py).
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
PENS_FIRST, OTHERS, BETTER = 1.05, 0.35, 0.10
"""What is shared out: pens' first step falling, everything else falling, anything rising (by simulation)."""


def reaches(watched: Flags, kinds: Sequence[Kind], part: float = 1.0) -> tuple[Floats, Floats]:
    """Distances from which a month is a signal.

    Args:
        watched: what is watched, shape (steps, units).
        kinds: kind of each unit.
        part: what of the allowance is for these; several species of a farm share it.

    Returns:
        Downwards and upwards, both above 0, shape (steps, units); also for what is not watched, as if it were
        one of the others.
    """
    first = np.zeros(watched.shape, dtype=bool)
    first[0] = np.array([kind == "pen" for kind in kinds])
    month = part * A_YEAR / 12
    down, up = np.zeros(watched.shape), np.zeros(watched.shape)
    for group, share in ((first, PENS_FIRST), (~first, OTHERS)):
        down[group] = reach(month * share / max(int((watched & group).sum()), 1))
    up[:] = reach(month * BETTER / max(int(watched.sum()), 1))
    return down, up


@cache
def reach(chance: float) -> float:
    """The distance that the month or its moving average passes, on one side, with that chance."""
    return float(brentq(lambda far: _either(far) - chance, 0.0, 9.0, xtol=1e-10))


def _either(far: float) -> float:
    """Chance that one of two correlated normal numbers lies beyond; Owen 1956 for the pair."""
    alike = WEIGHT / ewma_spread(WEIGHT, WINDOW)
    return float(ndtr(-far) + 2 * owens_t(far, np.sqrt((1 - alike) / (1 + alike))))
