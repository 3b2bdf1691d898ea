"""How sure a share of eggs is that show a sign, and when it stands out from another one.

The interval is the exact binomial one at the number of independent eggs that the eggs are worth (Korn and
Graubard 1998, Survey Methodology 24:193-201, from memory; they also shorten it by degrees of freedom, which
is left out here). Two shares are set side by side by their limits (Newcombe 1998, Statistics in Medicine
17:873-890, from memory). Places are many, so the level is raised with their number: with nothing the matter,
all that are looked at together raise a false sign in one farm of twenty at most.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betaincinv

from analytics.incubation.signs_records import Share
from analytics.measures.counts import Clustering

LEVEL = 0.95
FALSE_SIGNS = 0.05
"""Chance of a false sign in a farm without one, all places and signs together."""
FEWEST_SEEN = 3
"""Eggs that must show a sign before it is one (our own choice)."""


def share_of(
    seen: ArrayLike, eggs: ArrayLike, batch: NDArray[np.str_], alike: Clustering, level: float = LEVEL
) -> Share | None:
    """The share of some trays.

    Args:
        seen: eggs that show the sign, one entry a tray; NaN where not recorded.
        eggs: eggs looked at, likewise.
        batch: label of each tray's batch.
        alike: how alike eggs of a tray and of a batch are.
        level: confidence of the interval.

    Returns:
        The share, or None where no egg was looked at.
    """
    shown, looked = np.asarray(seen, float), np.asarray(eggs, float)
    known = np.isfinite(shown) & np.isfinite(looked) & (looked > 0)
    shown, looked = shown[known], looked[known]
    total = float(looked.sum())
    if total <= 0:
        return None
    names, code = np.unique(batch[known], return_inverse=True)
    in_batch = np.bincount(code, looked)
    tray_squares, batch_squares = float(looked @ looked), float(in_batch @ in_batch)
    effect = 1.0 + max(0.0, tray_squares / total - 1) * alike.rho_tray
    effect += max(0.0, batch_squares - tray_squares) / total * alike.rho_batch
    worth, count = total / effect, float(shown.sum())
    low, high = limits(count / total, worth, level)
    return Share(count, total, len(names), low, high, worth)


def limits(rate: float, worth: float, level: float = LEVEL) -> tuple[float, float]:
    """The exact binomial limits of a rate seen in so many independent eggs; neither need be whole."""
    tail, count = (1 - level) / 2, min(max(rate, 0.0), 1.0) * worth
    low = float(betaincinv(count, worth - count + 1, tail)) if count > 0 else 0.0
    high = float(betaincinv(count + 1, worth - count, 1 - tail)) if count < worth else 1.0
    return low, high


def level_for(places: int) -> float:
    """The confidence at which one of so many places must stand out."""
    return 1 - FALSE_SIGNS / max(places, 1)


def stands_above(own: Share, other: Share, level: float = LEVEL) -> bool:
    """Whether one share is surely the larger: the lower end of the difference lies above 0."""
    low, _ = limits(own.rate, own.worth, level)
    _, high = limits(other.rate, other.worth, level)
    return own.rate - other.rate > math.hypot(own.rate - low, high - other.rate)


def is_seen(own: Share, usual: Share | None, mark: float | None, places: int) -> str:
    """How a sign is seen: `above_own`, `above_published`, or "" where it is not.

    At least `FEWEST_SEEN` eggs must show it. Where the farm has others to hold it against, it must stand
    above these; only without any is the published mark asked.

    Args:
        own: the place's eggs.
        usual: the farm's others.
        mark: published share above which to look further.
        places: places compared, all signs together.
    """
    if own.seen < FEWEST_SEEN:
        return ""
    level = level_for(places)
    if usual is not None:
        return "above_own" if stands_above(own, usual, level) else ""
    low, _ = limits(own.rate, own.worth, level)
    return "above_published" if mark is not None and low > mark else ""
