"""How surely trays of two pens would show a difference, eggs of a tray and of a batch failing together.

The power is that of Student's t on the difference of the two pens' rates, its error worked out from the trays
and how alike eggs are; where the two pens share batches, what a batch does to both cancels out.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.measures.counts import Clustering

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]
LEVEL = 0.05
"""The level at which a difference is told, two-sided."""
_NOTHING = 1e-12
_SHARE_THAT_COUNTS = 1e-3
_NODES = 128


@dataclass(frozen=True, slots=True)
class TwoPens:
    """Trays of two pens.

    Attributes:
        eggs: eggs of each tray, above 0.
        pen: 0 or 1.
        batch: code of its batch, from 0.
    """

    eggs: Floats
    pen: Codes
    batch: Codes

    @classmethod
    def of(cls, eggs: ArrayLike, pen: ArrayLike, batch: ArrayLike) -> TwoPens:
        """From rows of numbers and labels of two pens, in their sorted order."""
        codes = (np.unique(np.asarray(labels), return_inverse=True)[1] for labels in (pen, batch))
        return cls(np.asarray(eggs, dtype=float), *(code.astype(np.intp) for code in codes))


@dataclass(frozen=True, slots=True)
class Precision:
    """How well a difference of two rates is known.

    Attributes:
        error: standard error, in shares.
        dof: degrees of freedom of its t; 0 where the trays cannot tell chance.
        design_effect: its variance over that of as many independent eggs.
    """

    error: float
    dof: float
    design_effect: float


def precision(trays: TwoPens, rates: tuple[float, float], clustering: Clustering) -> Precision:
    """Standard error of the difference of two pens, each tray weighed as it deserves.

    Args:
        trays: of both pens.
        rates: true rates of pen 0 and 1, 0..1.
        clustering: how alike eggs are.

    Returns:
        Generalised least squares with variance p q (1 + (n - 1) rho_tray) / n of a tray, and rho_batch times
        the geometric mean of p q between two trays of a batch. Degrees of freedom: Satterthwaite 1946 over
        what is told within batches (trays - batches - 1) and between them (batches - 2).
    """
    spread = np.sqrt([max(rate * (1 - rate), _NOTHING) for rate in rates])[trays.pen]
    own = spread**2 * ((1 - clustering.rho_tray) / trays.eggs + clustering.rho_tray - clustering.rho_batch)
    own = np.maximum(own, _NOTHING)
    known = _told(trays, spread, own, clustering.rho_batch)
    if known <= 0:
        return Precision(math.inf, 0.0, math.inf)
    within = min(_told_within(trays, own) / known, 1.0)
    dof = _dof(within, len(trays.eggs), len(np.unique(trays.batch)))
    eggs = np.bincount(trays.pen, weights=trays.eggs, minlength=2)
    independent = max(sum(rate * (1 - rate) / n for rate, n in zip(rates, eggs, strict=True)), _NOTHING)
    return Precision(known**-0.5, dof, 1 / known / independent)


def _told(trays: TwoPens, spread: Floats, own: Floats, rho_batch: float) -> float:
    """1 / variance of the difference; 0 where one pen has no tray."""
    weight = [_by_batch(trays, (trays.pen == pen) / own) for pen in (0, 1)]
    pull = [_by_batch(trays, (trays.pen == pen) * spread / own) for pen in (0, 1)]
    shrink = rho_batch / (1 + rho_batch * _by_batch(trays, spread**2 / own))
    first, second = (float((weight[pen] - pull[pen] ** 2 * shrink).sum()) for pen in (0, 1))
    both = -float((pull[0] * pull[1] * shrink).sum())
    sums = first + second + 2 * both
    return max((first * second - both**2) / sums, 0.0) if sums > 0 else 0.0


def _told_within(trays: TwoPens, own: Floats) -> float:
    """The same from comparisons within batches alone, whatever the batches do."""
    first, second = (_by_batch(trays, (trays.pen == pen) / own) for pen in (0, 1))
    return float((first * second / np.maximum(first + second, _NOTHING)).sum())


def _by_batch(trays: TwoPens, values: Floats) -> Floats:
    sums: Floats = np.bincount(trays.batch, weights=values).astype(float)
    return sums


def _dof(within: float, trays: int, batches: int) -> float:
    """Of an estimate that has this share of its information from within batches."""
    parts = [(within, trays - batches - 1), (1 - within, batches - 2)]
    parts = [(part, dof) for part, dof in parts if part > _SHARE_THAT_COUNTS]
    if any(dof <= 0 for _, dof in parts):
        return float(max(0, *(dof for _, dof in parts)))
    return 1 / sum(part**2 / dof for part, dof in parts)


def power(trays: TwoPens, rates: tuple[float, float], clustering: Clustering, level: float = LEVEL) -> float:
    """Chance that a two-sided t test of the difference calls it.

    Args:
        trays: of both pens.
        rates: true rates of pen 0 and 1.
        clustering: how alike eggs are.
        level: of the test.

    Returns:
        0..1; 0 where the trays cannot tell chance. Source: noncentral t, as in Raudenbush 1997, Psychological
        Methods 2:173-185, for whole clusters to each side.
    """
    known = precision(trays, rates, clustering)
    return power_of_difference(rates[0] - rates[1], known.error, known.dof, level)


def power_of_difference(difference: float, error: float, dof: float, level: float = LEVEL) -> float:
    """Chance that a two-sided t test calls a true difference with that standard error.

    The normal chance, averaged over the error as it would be found: chi-square over its degrees of freedom.
    (The noncentral t and F of scipy are not numbers here and there in their far tails.)
    """
    from scipy.special import chdtri, ndtr, stdtrit

    if dof <= 0:
        return 0.0
    nodes, weights = _nodes()
    cut = float(stdtrit(dof, 1 - level / 2)) * np.sqrt(chdtri(dof, nodes) / dof)
    away = abs(difference) / error
    return float(weights @ (ndtr(away - cut) + ndtr(-away - cut)))


@cache
def _nodes() -> tuple[Floats, Floats]:
    """Points and weights of Gauss and Legendre on 0..1."""
    points, weights = np.polynomial.legendre.leggauss(_NODES)
    return (points + 1) / 2, weights / 2
