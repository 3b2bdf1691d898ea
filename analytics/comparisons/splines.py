"""Restricted cubic splines: smooth curves that run straight beyond their outer knots."""

from __future__ import annotations

import numpy as np

from analytics.comparisons.counts import Floats

_KNOTS_AT = {
    3: (0.10, 0.50, 0.90),
    4: (0.05, 0.35, 0.65, 0.95),
    5: (0.05, 0.275, 0.50, 0.725, 0.95),
}
"""Quantiles at which the knots stand, by how many there are (Harrell 2001, Regression Modeling Strategies,
table 2.3; from memory)."""
_VALUES_FOR = {5: 8, 4: 6, 3: 3}
"""Different values that so many knots need (a choice of ours)."""


def knots_for(x: Floats) -> Floats:
    """Three to five knots at quantiles of x, fewer where x has few values; none for two values or one.

    Args:
        x: finite values, one a tray.
    """
    values = np.unique(x)
    for count, needed in _VALUES_FOR.items():
        if len(values) >= needed:
            knots = np.unique(np.quantile(x, _KNOTS_AT[count]))
            if len(knots) == count:
                return np.asarray(knots, dtype=float)
    return np.asarray(values, dtype=float) if len(values) == 3 else np.zeros(0)


def bends(x: Floats, knots: Floats) -> Floats:
    """The columns of the spline beside x itself: two fewer than knots, shape (len(x), columns).

    Source: Stone and Koo 1985, Proc. Stat. Comp. Section ASA, 45-48; from memory.
    """
    if len(knots) < 3:
        return np.zeros((len(x), 0))
    last, before = knots[-1], knots[-2]
    columns = []
    for knot in knots[:-2]:
        column = _cube(x - knot)
        column = column - _cube(x - before) * (last - knot) / (last - before)
        column = column + _cube(x - last) * (before - knot) / (last - before)
        columns.append(column / (last - knots[0]) ** 2)
    return np.column_stack(columns)


def _cube(x: Floats) -> Floats:
    cube: Floats = np.maximum(x, 0.0) ** 3
    return cube
