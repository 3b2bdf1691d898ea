"""Charts of a share by month: limits by chance alone, and widened where months differ more than by chance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

MEAN_RANGE = 1.128
"""Mean difference of two standard normal numbers (2 / sqrt(pi), as the charts' tables round it)."""


@dataclass(frozen=True, slots=True)
class ShareChart:
    """A run chart of a share.

    Attributes:
        share: the shares, one a month.
        centre: all counts over all eggs.
        low: lower limits, one a month; below 0 where few eggs leave them open.
        high: upper limits; above 1 likewise.
        widened: how many times wider than by chance the limits are; 1 for a p chart.
    """

    share: Floats
    centre: float
    low: Floats
    high: Floats
    widened: float


def p_chart(count: ArrayLike, eggs: ArrayLike, reach: float = 3.0) -> ShareChart:
    """A p chart: limits as if every egg were independent.

    Args:
        count: eggs counted, one entry a month.
        eggs: eggs they are a share of, above 0.
        reach: standard errors from the centre to a limit.

    Returns:
        The chart. Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.3.2.
    """
    return _chart(count, eggs, reach, 1.0)


def laney_chart(count: ArrayLike, eggs: ArrayLike, reach: float = 3.0) -> ShareChart:
    """A p chart whose limits are widened (or narrowed) by how far neighbouring months really lie apart.

    Args:
        count: eggs counted, one entry a month, at least two.
        eggs: eggs they are a share of, above 0.
        reach: standard errors from the centre to a limit.

    Returns:
        The chart. Source: Laney 2002, Quality Engineering 14:531-537 (formula from makers' help pages).
    """
    plain = _chart(count, eggs, reach, 1.0)
    chance = np.sqrt(plain.centre * (1 - plain.centre) / np.asarray(eggs, dtype=float))
    distance = (plain.share - plain.centre) / chance
    apart, _ = moving_range(distance, np.ones(distance.shape, dtype=bool))
    return _chart(count, eggs, reach, float(apart))


def _chart(count: ArrayLike, eggs: ArrayLike, reach: float, widened: float) -> ShareChart:
    y, n = np.asarray(count, dtype=float), np.asarray(eggs, dtype=float)
    centre = float(y.sum() / n.sum())
    half = reach * widened * np.sqrt(centre * (1 - centre) / n)
    return ShareChart(y / n, centre, centre - half, centre + half, widened)


def moving_range(distance: Floats, there: Flags) -> tuple[Floats, Floats]:
    """Spread of a standardised series as the differences of neighbours tell it.

    A level that moves once adds one difference only, so that the spread does not take it for noise.

    Args:
        distance: distances from the centre in standard errors, months along the last axis.
        there: which months have a value; neighbours are months with no value between them.

    Returns:
        The spread (0 without a pair) and the pairs it rests on, both without the last axis.
    """
    place = np.where(there, np.arange(distance.shape[-1]), -1)
    before = np.maximum.accumulate(place, axis=-1)[..., :-1]
    earlier = np.take_along_axis(distance, np.maximum(before, 0), axis=-1)
    pair = there[..., 1:] & (before >= 0)
    pairs = pair.sum(axis=-1)
    total = np.where(pair, np.abs(distance[..., 1:] - earlier), 0.0).sum(axis=-1)
    return total / np.maximum(pairs, 1) / MEAN_RANGE, pairs.astype(float)
