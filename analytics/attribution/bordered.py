"""Cholesky of a symmetric matrix that falls into blocks once its first rows and columns are set aside."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dpotrf, dpotri, dpotrs, dtrtrs

from analytics.attribution.layout import Floats, Ints


@dataclass(frozen=True, slots=True)
class Bordered:
    """The matrix [[F, E], [E', B]] in factored form, B block-diagonal; without blocks it is F alone.

    Attributes:
        front: upper Cholesky factor of F - E B^-1 E'.
        blocks: rows of each block of B, counted from the first row after the front.
        roots: upper Cholesky factor of each block.
        bridge: B^-1 E', shape (rows of B, rows of F).
    """

    front: Floats
    blocks: tuple[Ints, ...]
    roots: tuple[Floats, ...]
    bridge: Floats

    def log_determinant(self) -> float:
        """Logarithm of the determinant."""
        return 2 * sum(float(np.log(np.diagonal(root)).sum()) for root in (self.front, *self.roots))

    def solve(self, right: Floats) -> Floats:
        """Solves for one right side or several, shape (rows,) or (rows, k)."""
        edge = len(self.front)
        first, rest = right[:edge], right[edge:]
        answer = np.empty_like(right)
        if edge:
            answer[:edge] = dpotrs(self.front, first - self.bridge.T @ rest)[0].reshape(first.shape)
        for rows, root in zip(self.blocks, self.roots, strict=True):
            answer[edge + rows] = dpotrs(root, rest[rows])[0].reshape(rest[rows].shape)
        answer[edge:] -= self.bridge @ answer[:edge]
        return answer

    def inverse(self) -> Floats:
        """The inverse within the front, the blocks and between front and blocks; 0 between blocks."""
        edge = len(self.front)
        size = edge + len(self.bridge)
        whole = np.zeros((size, size))
        whole[:edge, :edge] = _inverse(self.front)
        across = -self.bridge @ whole[:edge, :edge]
        whole[edge:, :edge], whole[:edge, edge:] = across, across.T
        for rows, root in zip(self.blocks, self.roots, strict=True):
            at = edge + rows
            whole[np.ix_(at, at)] = _inverse(root) - across[rows] @ self.bridge[rows].T
        return whole

    def spread(self, noise: Floats) -> Floats:
        """Turns standard normal numbers, (rows, k), into draws with the inverse as covariance."""
        edge = len(self.front)
        draw = np.empty_like(noise)
        if edge:
            draw[:edge] = dtrtrs(self.front, noise[:edge])[0]
        for rows, root in zip(self.blocks, self.roots, strict=True):
            draw[edge + rows] = dtrtrs(root, noise[edge + rows])[0]
        draw[edge:] -= self.bridge @ draw[:edge]
        return draw


def factor_bordered(upper: Floats, blocks: tuple[Ints, ...]) -> Bordered | None:
    """Factors a matrix of which the upper triangle is read; None where it is not positive definite.

    Args:
        upper: shape (rows, rows).
        blocks: rows of each block, counted from the first row after the front, ascending; all rows of
            the matrix that are in no block are its front.
    """
    edge = len(upper) - sum(len(rows) for rows in blocks)
    bridge = np.empty((len(upper) - edge, edge))
    roots = []
    for rows in blocks:
        at = edge + rows
        root, failed = dpotrf(upper[np.ix_(at, at)], clean=1)
        if failed:
            return None
        roots.append(root)
        if edge:
            bridge[rows] = dpotrs(root, upper[:edge, at].T)[0]
    front = upper[:edge, :edge] - upper[:edge, edge:] @ bridge if blocks else upper
    failed = 0
    if edge:
        front, failed = dpotrf(front, clean=1)
    return None if failed else Bordered(front, blocks, tuple(roots), bridge)


def _inverse(root: Floats) -> Floats:
    """Inverse from an upper Cholesky factor."""
    if not len(root):
        return root
    upper = np.triu(dpotri(root)[0])
    return np.asarray(upper + np.triu(upper, 1).T)
