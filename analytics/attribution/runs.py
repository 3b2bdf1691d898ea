"""From when to when: the run of months in which a pen or a machine lost most beyond its other months."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from analytics.attribution.layout import Floats
from analytics.attribution.terms import BETWEEN

FEWEST = 3
FLAT = 1e-12


@dataclass(frozen=True, slots=True)
class Run:
    """A run of months.

    Attributes:
        first: place of its first month.
        last: place of its last.
        p_value: two-sided normal p value of the run's mean against the other months', times the number of
            runs that were tried.
    """

    first: int
    last: int
    p_value: float


def cells_by_level(cells: Sequence[str]) -> dict[str, list[int]]:
    """For each pen or machine the places of its months in order, from names such as "Flint / 2026-02"."""
    found: dict[str, list[int]] = {}
    for at in sorted(range(len(cells)), key=lambda place: month_of(cells[place])):
        found.setdefault(cells[at].rsplit(BETWEEN, 1)[0], []).append(at)
    return found


def month_of(cell: str) -> str:
    """The month in the name of a cell."""
    return cell.rsplit(BETWEEN, 1)[1]


def worst_run(values: Floats, covariance: Floats, usual: float = 1.0) -> Run | None:
    """The run of months, not all of them, that lies furthest below the level's other months.

    By the model the best values of months that differ by chance with variance v vary with covariance
    C - C^2 + v (1 - C)^2, C = `covariance`; a run is measured against that: it must stand out from what
    months usually differ by.

    Args:
        values: best values of the months' effects, over their sd, shape (months,).
        covariance: what is left of their variance given the records, shape (months, months).
        usual: v, the variance of months elsewhere, over the square of their fitted sd.

    Returns:
        the run, or None with fewer than three months or where no run passed fewer than the rest.
    """
    months = len(values)
    if months < FEWEST:
        return None
    first, end = np.triu_indices(months + 1, 1)
    part = end - first < months
    first, end = first[part], end[part]
    at = np.arange(months)
    inside = (at >= first[:, None]) & (at < end[:, None])
    length = (end - first)[:, None]
    contrast = inside / length - ~inside / (months - length)
    learnt = np.eye(months) - covariance
    by_chance = covariance @ learnt + usual * learnt @ learnt
    spread = np.einsum("ij,jk,ik->i", contrast, by_chance, contrast)
    height = -(contrast @ values) / np.sqrt(np.maximum(spread, FLAT))
    best = int(height.argmax())
    if height[best] <= 0:
        return None
    p_value = min(1.0, 2 * float(ndtr(-height[best])) * len(first))
    return Run(int(first[best]), int(end[best]) - 1, p_value)


def usual_variance(values: Floats, left: Floats) -> float:
    """Variance of months' effects over the square of the fitted sd, by moments.

    Args:
        values: best values of the effects, over the fitted sd, shape (cells,).
        left: variance left of each given the records.

    Returns:
        the v at which the mean square of the values is what it should be, at least 0; 1 without cells.
    """
    weight = float(((1 - left) ** 2).sum())
    return (
        max(0.0, (float(values @ values) - float((left * (1 - left)).sum())) / weight) if weight > 0 else 1.0
    )
