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


def marks(code: Codes) -> Floats:
    """One column of 0 and 1 a level, shape (trays, levels)."""
    found: Floats = np.zeros((len(code), int(code.max(initial=-1)) + 1))
    found[np.arange(len(code)), code] = 1.0
    return found


def kept_columns(gram: Floats) -> list[int]:
    """Places of the columns that those before them do not span, from the columns' cross products."""
    left, kept = gram.copy(), []
    for column in range(len(gram)):
        if left[column, column] > 1e-9 * gram[column, column] and gram[column, column] > 0:
            kept.append(column)
            left -= np.outer(left[:, column], left[column]) / left[column, column]
    return kept


def comparable_levels(gram: Floats, first: int) -> tuple[tuple[int, ...], ...]:
    """Levels of the last factor whose differences the columns tell: alike in all that cancels out.

    Args:
        gram: the columns' cross products.
        first: the place of the factor's first level; the factor has a column a level and comes last.

    Returns:
        Groups of levels, the largest first; levels of different groups are set apart by other columns.
    """
    size = np.sqrt(np.diag(gram))
    size = np.where(size > 0, size, 1.0)
    values, vectors = np.linalg.eigh(gram / np.outer(size, size))
    nothing = vectors[:, values < 1e-8 * values.max()] / size[:, None]
    place = np.round(nothing[first:] / max(float(np.abs(nothing).max(initial=0.0)), 1e-300), 5)
    found: dict[tuple[float, ...], list[int]] = {}
    for level, row in enumerate(place + 0.0):
        found.setdefault(tuple(row.tolist()), []).append(level)
    return tuple(sorted((tuple(levels) for levels in found.values()), key=lambda group: (-len(group), group)))
