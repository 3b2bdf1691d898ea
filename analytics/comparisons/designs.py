"""Design matrices for models of rates by tray."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Codes, Floats


def factor_columns(codes: Sequence[Codes], trays: int) -> Floats:
    """An intercept and, per factor, one column for each level but the first.

    Args:
        codes: one row of codes a factor, each with one entry a tray.
        trays: number of trays.

    Returns:
        Shape (trays, columns); columns that other factors already hold are left out.
    """
    columns = [np.ones(trays)]
    for code in codes:
        columns += [(code == level).astype(float) for level in range(1, int(code.max()) + 1)]
    return independent(np.column_stack(columns))


def independent(design: Floats) -> Floats:
    """The design without the columns that earlier columns already span."""
    kept = np.empty((len(design), 0))
    basis = np.empty((len(design), 0))
    for column in design.T:
        rest = column - basis @ (basis.T @ column)
        rest = rest - basis @ (basis.T @ rest)
        length = float(np.linalg.norm(rest))
        if length > 1e-9 * max(float(np.linalg.norm(column)), 1e-300):
            kept = np.column_stack((kept, column))
            basis = np.column_stack((basis, rest / length))
    return kept


def checked_design(design: ArrayLike, trays: int) -> Floats:
    """A design given from outside as floats.

    Raises:
        ValueError: its shape does not fit, a value is not finite, or columns depend on one another.
    """
    columns = np.asarray(design, dtype=float)
    if columns.ndim != 2 or len(columns) != trays or not np.all(np.isfinite(columns)):
        raise ValueError("a design has one finite row a tray")
    if trays and independent(columns).shape != columns.shape:
        raise ValueError("columns of the design depend on one another")
    return columns
