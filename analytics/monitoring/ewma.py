"""The exponentially weighted moving average: months before count too, ever less."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analytics.monitoring.p_chart import Floats


def ewma(values: ArrayLike, start: float, weight: float) -> Floats:
    """The average after each value.

    Args:
        values: oldest first.
        start: the average before the first, the centre of the chart.
        weight: what the newest value counts, above 0 and at most 1.

    Returns:
        One average a value. Source: NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4.

    Raises:
        ValueError: on another weight.
    """
    if not 0 < weight <= 1:
        raise ValueError(f"the newest value cannot count {weight}")
    found, average = [], start
    for value in np.asarray(values, dtype=float).tolist():
        average = weight * value + (1 - weight) * average
        found.append(average)
    return np.array(found)


def ewma_spread(weight: float, after: int | None = None) -> float:
    """Standard deviation of the average over that of one value.

    Args:
        weight: what the newest value counts.
        after: values since the start; None = so many that more change nothing.
    """
    settled = weight / (2 - weight)
    grown = 1.0 if after is None else 1 - (1 - weight) ** (2 * after)
    return float(np.sqrt(settled * grown))
