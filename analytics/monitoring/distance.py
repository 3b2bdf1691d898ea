"""How far a month lies from what its baseline lets expect, and what drop would have been seen."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import xlogy

from analytics.monitoring.ewma import ewma_spread
from analytics.monitoring.p_chart import Floats

WEIGHT = 0.2
"""What the newest month counts in the moving average."""
WINDOW = 2
"""Months of the moving average: it starts at the baseline before the first of them."""
NINE_IN_TEN = 1.2816
_STEPS, _BESIDE = 40, 1e-5
_MOST_SKEW, _TAKEN_OFF = 1.5, 0.5


def distance(
    share: ArrayLike,
    worth: ArrayLike,
    expected: ArrayLike,
    base_worth: ArrayLike,
    clustered: ArrayLike = 0.0,
) -> Floats:
    """Signed root of twice the log likelihood ratio of two shares: near normal where nothing changed.

    Eggs that fail together are counted as so many fewer independent ones. Their share is more skew than that:
    twice as skew where all of its variance comes from trays and batches, as a beta share is. Half of what is
    more is taken off by Hall's monotone cubic; taking off all of it made far tails too thin (by draws of beta
    trays, rates .8 to .98, 2 to 10 % alike, 3 to 24 trays).

    Args:
        share: of the month.
        worth: independent eggs it rests on; 0 gives 0.
        expected: share in the baseline.
        base_worth: independent eggs that rests on.
        clustered: part of the month's variance that trays, batches and months add to that of single eggs.

    Returns:
        Below 0 where the month's share is the lower one; the shape of the arguments. Source of the cubic:
        Hall 1992, Journal of the Royal Statistical Society B 54:221-228 (from memory).
    """
    p, n, q, m, more = _arrays(share, worth, expected, base_worth, clustered)
    together = (np.where(n > 0, p * n, 0) + q * m) / np.maximum(n + m, 1e-9)
    both = n * _divergence(p, together) + m * _divergence(q, together)
    root = np.sign(p - q) * np.sqrt(2 * np.maximum(both, 0.0))
    a = -_TAKEN_OFF * _more_skew(n, q, m, more) / 6
    found = root + a * (root**2 - 1) + a**2 * root**3 / 3
    return np.where((n > 0) & (m > 0), found, 0.0)


def _more_skew(worth: Floats, expected: Floats, base_worth: Floats, clustered: Floats) -> Floats:
    """Skewness of the month's share beyond that of as many independent eggs."""
    spread = np.maximum(worth * expected * (1 - expected), 1e-9)
    part = (base_worth / np.maximum(worth + base_worth, 1e-9)) ** 1.5
    return np.clip(
        np.maximum(clustered, 0) * part * (1 - 2 * expected) / np.sqrt(spread), -_MOST_SKEW, _MOST_SKEW
    )


def _arrays(*values: ArrayLike) -> tuple[Floats, ...]:
    return tuple(np.broadcast_arrays(*(np.asarray(value, dtype=float) for value in values)))


def _divergence(share: Floats, from_share: Floats) -> Floats:
    inside = np.clip(from_share, 1e-12, 1 - 1e-12)
    found = xlogy(share, share / inside) + xlogy(1 - share, (1 - share) / (1 - inside))
    return np.asarray(np.nan_to_num(found), dtype=float)


def limit(
    reach: ArrayLike,
    worth: ArrayLike,
    expected: ArrayLike,
    base_worth: ArrayLike,
    clustered: ArrayLike = 0.0,
) -> Floats:
    """The share at which the distance is `reach`: a limit of the chart, found by halving.

    Args:
        reach: distance, below 0 for a lower limit.
        worth: as in `distance`, likewise the others.
        expected: likewise.
        base_worth: likewise.
        clustered: likewise.

    Returns:
        The share; 0 or 1 where none lies so far.
    """
    aim, n, q, m, more = _arrays(reach, worth, expected, base_worth, clustered)
    low, high = np.where(aim < 0, 0.0, q), np.where(aim < 0, q, 1.0)
    for _ in range(_STEPS):
        middle = (low + high) / 2
        beyond = distance(middle, n, q, m, more) < aim
        low, high = np.where(beyond, middle, low), np.where(beyond, high, middle)
    return (low + high) / 2


def smallest_drop(
    reach: ArrayLike,
    worth: ArrayLike,
    expected: ArrayLike,
    base_worth: ArrayLike,
    clustered: ArrayLike = 0.0,
) -> Floats:
    """The drop that two months like this one would show in nine of ten cases, by the moving average.

    Args:
        reach: distance from which it is a signal, above 0.
        worth: independent eggs of one month.
        expected: share in the baseline.
        base_worth: independent eggs of the baseline.
        clustered: as in `distance`.

    Returns:
        Shares, 0..1; NaN where not even a fall to nothing would.
    """
    aim, n, q, m, more = _arrays(reach, worth, expected, base_worth, clustered)
    both = n * _evenness()
    low, high = np.zeros(q.shape), np.asarray(np.where(q > 0, q, 0.0), dtype=float)
    for _ in range(_STEPS):
        drop = (low + high) / 2
        share = q - drop
        found, beside = (distance(at, both, q, m, more) for at in (share, share + _BESIDE))
        slope = (beside - found) / _BESIDE
        own = slope**2 * np.maximum(share * (1 - share), 0) / np.maximum(both, 1e-9)
        scatter = np.sqrt(own + both / np.maximum(both + m, 1e-9))
        seen = -found - NINE_IN_TEN * scatter >= aim
        low, high = np.where(seen, low, drop), np.where(seen, drop, high)
    return np.where(high < q * (1 - _BESIDE), (low + high) / 2, np.nan)


def _evenness() -> float:
    """How many months the moving average is worth where all have the same eggs."""
    total = 1 - (1 - WEIGHT) ** WINDOW
    return float((total / ewma_spread(WEIGHT, WINDOW)) ** 2)
