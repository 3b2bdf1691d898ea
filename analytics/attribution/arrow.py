"""Cholesky factor of an arrow-shaped information matrix: diagonal large block, dense small one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.sparse import csr_array

from analytics.attribution.bordered import Bordered, factor_bordered
from analytics.attribution.layout import Floats, Layout

CHUNK = 8_000_000


@dataclass(frozen=True, slots=True)
class Arrow:
    """The matrix [[S, C], [C', D]] in factored form; with `skip`, its first rows are left out.

    Attributes:
        layout: where the cells stand.
        skip: rows and columns left out at the front (the slopes, when they are held fixed).
        scale: what each column of the design was multiplied by, shape (unknowns,).
        side: C', large x small, dense or sparse.
        inverse: 1 / D, shape (large,).
        root: factored S - C D^-1 C', the first `skip` rows left out.
    """

    layout: Layout
    skip: int
    scale: Floats
    side: Any
    inverse: Floats
    root: Bordered

    def log_determinant(self) -> float:
        """Logarithm of the determinant."""
        return self.root.log_determinant() - float(np.log(self.inverse).sum())

    def solve(self, right: Floats) -> Floats:
        """Solves for one right side or several, shape (unknowns,) or (unknowns, k); 0 in left-out rows."""
        small, skip = self.layout.small, self.skip
        answer = np.zeros_like(right)
        held = (right[small:].T * self.inverse).T
        if small > skip:
            answer[skip:small] = self.root.solve(right[skip:small] - (self.side.T @ held)[skip:])
        answer[small:] = held - (self.inverse * (self.side @ answer[:small]).T).T
        return answer

    def small_inverse(self) -> Floats:
        """The inverse's small part, shape (small, small), where the matrix has cells; 0 elsewhere."""
        full = np.zeros((self.layout.small, self.layout.small))
        full[self.skip :, self.skip :] = self.root.inverse()
        return full

    def cells_of_inverse(self) -> tuple[Floats, Floats]:
        """Elements of the inverse where the matrix has cells.

        Returns:
            the weights that turn `layout.pairs` into the variance of each tray's linear predictor,
            and the diagonal of the inverse, shape (unknowns,).
        """
        layout, scale, small = self.layout, self.scale, self.layout.small
        block = self.small_inverse()
        diagonal = np.concatenate((np.diagonal(block), self.inverse))
        square = block * scale[:small]
        square *= 2 * scale[:small, None]
        square[np.diag_indices(small)] /= 2
        if not layout.large:
            return square.ravel(), diagonal
        side, sums = self._side_of_inverse(block)
        diagonal[small:] += self.inverse**2 * sums
        own = scale[-1] ** 2 * diagonal[small:]
        return np.concatenate((square.ravel(), side, own)), diagonal

    def _side_of_inverse(self, block: Floats) -> tuple[Floats, Floats]:
        """Scaled cells of the side block of the inverse, doubled, and the row sums of C' M^-1 C."""
        scale, small = self.scale, self.layout.small
        if self.layout.cells is None:
            moved = self.side @ block
            sums = np.einsum("ij,ij->i", moved, self.side)
            moved *= (-2 * scale[-1] * self.inverse)[:, None]
            moved *= scale[:small]
            return moved.ravel(), sums
        columns, starts = self.layout.cells
        rows = np.repeat(np.arange(self.layout.large), np.diff(starts))
        values = np.empty(len(columns))
        step = max(1, CHUNK // max(small, 1))
        for low in range(0, self.layout.large, step):
            part = slice(starts[low], starts[min(low + step, self.layout.large)])
            moved = self.side[low : low + step] @ block
            values[part] = moved[rows[part] - low, columns[part]]
        products = values * self.side.data
        sums = np.asarray(np.bincount(rows, products, minlength=self.layout.large), dtype=np.float64)
        return -2 * scale[-1] * values * scale[columns] * self.inverse[rows], sums

    def spread(self, noise: Floats) -> Floats:
        """Turns standard normal numbers, (unknowns, k), into draws with the inverse as covariance."""
        small, skip = self.layout.small, self.skip
        draw = np.zeros_like(noise)
        if small > skip:
            draw[skip:small] = self.root.spread(noise[skip:small])
        own = np.sqrt(self.inverse)[:, None] * noise[small:]
        draw[small:] = own - self.inverse[:, None] * (self.side @ draw[:small])
        return draw


def factor_arrow(layout: Layout, weights: Floats, scale: Floats, ridge: Floats, skip: int) -> Arrow | None:
    """Builds and factors scale * A' diag(weights) A * scale + diag(ridge).

    Args:
        layout: the tables.
        weights: shape (trays,), not negative.
        scale: shape (unknowns,).
        ridge: shape (unknowns,), added to the diagonal.
        skip: rows left out at the front.

    Returns:
        the factor, or None where the matrix is not positive definite.
    """
    small = layout.small
    cells = layout.turned_pairs @ weights
    square = cells[: small * small].reshape(small, small) * scale[:small]
    square *= scale[:small, None]
    square[np.diag_indices(small)] += ridge[:small]
    inverse = np.empty(0)
    side: Any = np.zeros((0, small))
    if layout.large:
        side = _side(layout, cells[small * small : small * small + layout.side], scale)
        inverse = 1 / (ridge[small:] + scale[-1] ** 2 * cells[small * small + layout.side :])
        square -= _crossed(side, inverse)
    root = factor_bordered(square[skip:, skip:], layout.blocks)
    return None if root is None else Arrow(layout, skip, scale, side, inverse, root)


def _side(layout: Layout, cells: Floats, scale: Floats) -> Any:
    small = layout.small
    if layout.cells is None:
        return cells.reshape(layout.large, small) * (scale[-1] * scale[:small])
    columns, starts = layout.cells
    return csr_array((cells * scale[-1] * scale[columns], columns, starts), shape=(layout.large, small))


def _crossed(side: Any, inverse: Floats) -> Floats:
    """C D^-1 C'."""
    if isinstance(side, np.ndarray):
        half = side * np.sqrt(inverse)[:, None]
        return np.asarray(half.T @ half)
    half = side.multiply(np.sqrt(inverse)[:, None]).tocsr()
    return np.asarray((half.T @ half).toarray())
