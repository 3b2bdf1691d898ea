"""What a month lets expect: a level of each pen and machine, from the months before.

Log odds of a cell are the farm's level plus its pen's plus its machine's. Pens and machines are drawn towards
the farm's level with an assumed spread, which only those with few eggs feel: a new pen is expected at the
farm's level, with a wide margin.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.monitoring.p_chart import Floats

PEN_SPREAD, MACHINE_SPREAD = 0.5, 0.4
"""Standard deviations of log odds of pens and of machines (assumed, no source)."""
_LEVEL_SPREAD = 30.0
_ROUNDS, _CLOSE, _FARTHEST = 30, 1e-5, 9.0


@dataclass(frozen=True, slots=True)
class Baseline:
    """Levels, one fit for every leading index.

    Attributes:
        columns: which parts a cell has: level, pens, machines; shape (cells, parts), cells pen by pen.
        parts: estimates, shape (..., parts).
        covariance: of the parts, shape (..., parts, parts).
    """

    columns: Floats
    parts: Floats
    covariance: Floats

    def log_odds(self, pens: int) -> Floats:
        """Expected log odds, shape (..., pens, machines)."""
        found = self.parts @ self.columns.T
        return found.reshape(*found.shape[:-1], pens, -1)

    def variance(self, slopes: Floats) -> Floats:
        """Variance of weighted sums of the log odds.

        Args:
            slopes: weights of the cells, shape (..., sums, cells).
        """
        led = slopes @ self.columns
        found: Floats = np.einsum("...ui,...ij,...uj->...u", led, self.covariance, led)
        return found


def fit(passed: Floats, worth: Floats, start: Floats | None = None) -> Baseline:
    """Fits the levels.

    Args:
        passed: share that passed, shape (..., pens, machines); anything where `worth` is 0.
        worth: independent eggs behind it, likewise.
        start: parts to begin with.
    """
    columns, prior = _columns(*passed.shape[-2:])
    flat = (*passed.shape[:-2], -1)
    share, weight = passed.reshape(flat), worth.reshape(flat)
    parts = _first(share, weight, len(prior)) if start is None else start
    for _ in range(_ROUNDS):
        rate = 1 / (1 + np.exp(-np.clip(parts @ columns.T, -_FARTHEST, _FARTHEST)))
        information = (columns.T * (weight * rate * (1 - rate))[..., None, :]) @ columns + np.diag(prior)
        slope = (weight * (share - rate)) @ columns - prior * parts
        move = np.clip(np.linalg.solve(information, slope[..., None])[..., 0], -2, 2)
        parts = parts + move
        if float(np.abs(move).max()) < _CLOSE:
            break
    return Baseline(columns, parts, np.asarray(np.linalg.inv(information), dtype=float))


def _columns(pens: int, machines: int) -> tuple[Floats, Floats]:
    pen, machine = np.divmod(np.arange(pens * machines), machines)
    ones = np.ones((pens * machines, 1))
    columns = np.hstack((ones, pen[:, None] == np.arange(pens), machine[:, None] == np.arange(machines)))
    spreads = np.r_[_LEVEL_SPREAD, np.full(pens, PEN_SPREAD), np.full(machines, MACHINE_SPREAD)]
    return columns.astype(float), spreads**-2.0


def _first(share: Floats, weight: Floats, parts: int) -> Floats:
    """The farm's level alone."""
    total = weight.sum(axis=-1)
    rate = ((share * weight).sum(axis=-1) + 0.5) / (total + 1)
    found = np.zeros((*rate.shape, parts))
    found[..., 0] = np.log(rate / (1 - rate))
    return found
