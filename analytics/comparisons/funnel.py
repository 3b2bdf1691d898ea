"""Limits about a common rate: how far a pen's rate may lie from it by chance alone, by its eggs.

A rate outside the limits is one whose exact interval leaves out the common rate. Eggs that fail together are
first divided by their design effect. Nothing is held equal here, neither machine nor storage.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Floats

LEVELS = (0.95, 0.998)
"""Shares of pens of the common rate that lie within the inner and the outer limits, at least."""


def expected_limits(rate: float, eggs: ArrayLike, deff: float, level: float) -> tuple[Floats, Floats]:
    """Limits of what chance makes of a common rate.

    Args:
        rate: the common rate, 0..1.
        eggs: eggs of each place where limits are wanted, above 0.
        deff: design effect, 1 or more.
        level: share of such pens within the limits, at least.

    Returns:
        Lower and upper limits as shares, one of each for every number of eggs. Exact binomial tails, carried
        over to numbers of eggs that are not whole; 95 % and 99.8 % limits after Spiegelhalter 2005,
        Statistics in Medicine 24:1185-1202 (from memory), there for independent cases.

    Raises:
        ValueError: on other rates, eggs, design effects or levels.
    """
    worth = np.asarray(eggs, dtype=float) / deff
    if not (0 <= rate <= 1 and deff >= 1 and 0 < level < 1 and bool(np.all(worth > 0))):
        raise ValueError(f"no limits about a rate of {rate} at a design effect of {deff} and level {level}")
    tail = (1 - level) / 2
    return _lowest(rate, worth, tail), 1 - _lowest(1 - rate, worth, tail)


def _lowest(rate: float, worth: Floats, tail: float) -> Floats:
    """The share at or below which that much of the binomial distribution lies; 0 where not even none does."""
    from scipy.special import bdtrik

    if rate in (0, 1):
        return np.full(worth.shape, float(rate))
    found: Floats = np.clip(bdtrik(tail, worth, rate) / worth, 0.0, 1.0)
    return found
