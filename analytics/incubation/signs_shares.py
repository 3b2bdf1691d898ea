"""How sure a share of eggs is that show a sign, and when it stands out from another one.

The interval is the exact binomial one at the number of independent eggs that the eggs are worth (Korn and
Graubard 1998, Survey Methodology 24:193-201, from memory; they also shorten it by degrees of freedom, which
is left out here). Two shares are set side by side by their limits (Newcombe 1998, Statistics in Medicine
17:873-890, from memory). Of a single batch the rate itself is drawn anew, and where few eggs show a sign such
rates are skewed far to the right; so it must also lie beyond the beta distribution of batches that has the
others' mean and the spread that likeness gives (Skellam 1948, Journal of the Royal Statistical Society B
10:257-261, from memory: batches whose rates are beta). Places are
many, so the level is raised with their number: with nothing the matter, all that are looked at together raise
a false sign in one farm of twenty at most.
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


def batch_limit(rate: float, worth: float, level: float = LEVEL) -> float:
    """How high the share of a batch may be by chance where batches have this rate on the whole.

    Args:
        rate: the mean of batches, 0..1.
        worth: independent eggs that the batch is worth; their binomial variance is the variance of the beta.
        level: confidence; one tail of it is left above.
    """
    around = worth - 1
    if around <= 0:
        return 1.0
    if rate <= 0 or rate >= 1:
        return rate
    return float(betaincinv(rate * around, (1 - rate) * around, (1 + level) / 2))


def batch_stands_above(own: Share, other: Share, level: float = LEVEL) -> bool:
    """Whether a single batch surely has the larger share: beyond what batches reach by chance as well."""
    low, _ = limits(own.rate, own.worth, level)
    _, high = limits(other.rate, other.worth, level)
    reach = max(own.rate - low, batch_limit(other.rate, own.worth, level) - other.rate)
    return own.rate - other.rate > math.hypot(reach, high - other.rate)


def is_seen(own: Share, usual: Share | None, mark: float | None, places: int) -> str:
    """How a sign is seen: `above_own`, `above_published`, or "" where it is not.

    At least `FEWEST_SEEN` eggs must show it. Where the farm has others to hold it against, it must stand
    above these; only without any is the published mark asked. A single batch is held to `batch_limit` too.

    Args:
        own: the place's eggs.
        usual: the farm's others.
        mark: published share above which to look further.
        places: places compared, all signs, kinds of places and species together.
    """
    if own.seen < FEWEST_SEEN:
        return ""
    level, is_single = level_for(places), own.batches == 1
    if usual is not None:
        above = batch_stands_above if is_single else stands_above
        return "above_own" if above(own, usual, level) else ""
    if mark is None or (is_single and own.rate <= batch_limit(mark, own.worth, level)):
        return ""
    low, _ = limits(own.rate, own.worth, level)
    return "above_published" if low > mark else ""
