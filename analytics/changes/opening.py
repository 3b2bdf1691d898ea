"""Where a series breaks by itself: the split that leaves the least squares, and Pettitt's test of one.

A change that worked opens the gap to the untouched pens where its date says; a gap that opened months before
or after speaks for another cause.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

_FEWEST = 4


@dataclass(frozen=True, slots=True)
class Opening:
    """One break of a series.

    Attributes:
        place: how many values lie before the break.
        mean_before: mean of those.
        mean_after: mean of the rest.
        pettitt_place: the same place as Pettitt's rank statistic finds it.
        p_value: of Pettitt's test that there is no break, his approximation, at most 1.
    """

    place: int
    mean_before: float
    mean_after: float
    pettitt_place: int
    p_value: float


def opening(values: ArrayLike, weights: ArrayLike | None = None) -> Opening | None:
    """The one break that fits best.

    Args:
        values: in the order of time, shape (n,), finite.
        weights: how much each counts for the least squares (eggs), above 0; None = alike.

    Returns:
        The break; None for fewer than 4 values. Source of the test: Pettitt 1979, Applied Statistics
        28:126-135 (from memory): K = max |U_k|, p near 2 exp(-6 K^2 / (n^3 + n^2)).
    """
    y = np.asarray(values, dtype=float)
    if len(y) < _FEWEST:
        return None
    weight = np.ones(len(y)) if weights is None else np.asarray(weights, dtype=float)
    held, sums = np.cumsum(weight)[:-1], np.cumsum(weight * y)[:-1]
    rest, left = weight.sum() - held, (weight * y).sum() - sums
    place = int(np.argmax(sums**2 / held + left**2 / rest)) + 1
    ranked = np.abs(np.cumsum(np.sign(y[:, None] - y[None, :]).sum(axis=1))[:-1])
    largest, n = float(ranked.max()), len(y)
    return Opening(
        place,
        float(sums[place - 1] / held[place - 1]),
        float(left[place - 1] / rest[place - 1]),
        int(np.argmax(ranked)) + 1,
        min(1.0, 2 * float(np.exp(-6 * largest**2 / (n**3 + n**2)))),
    )
