"""From when to when: the run of months in which a pen or a machine lost most beyond its other months."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from analytics.attribution.layout import Floats
from analytics.attribution.terms import BETWEEN

FEWEST = 3


@dataclass(frozen=True, slots=True)
class Run:
    """A run of months.

    Attributes:
        first: place of its first month.
        last: place of its last.
        p_value: two-sided normal p value of the run's mean loss against the other months', times the number
            of runs that were tried.
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


def worst_run(lost: Floats) -> Run | None:
    """The run of months, not all of them, whose mean loss stands out most from that of the others.

    Args:
        lost: chicks lost in each month beyond the level's own average, shape (draws, months).

    Returns:
        the run, or None with fewer than three months or where no run lost more than the rest.
    """
    months = lost.shape[1]
    if months < FEWEST:
        return None
    ladder = np.concatenate((np.zeros((len(lost), 1)), np.cumsum(lost, axis=1)), axis=1)
    first, end = np.triu_indices(months + 1, 1)
    part = end - first < months
    first, end = first[part], end[part]
    run, length = ladder[:, end] - ladder[:, first], end - first
    run = run / length - (ladder[:, -1:] - run) / (months - length)
    sd = run.std(axis=0)
    height = np.where(sd > 0, run.mean(axis=0) / np.where(sd > 0, sd, 1), 0.0)
    best = int(height.argmax())
    if height[best] <= 0:
        return None
    p_value = min(1.0, 2 * float(ndtr(-height[best])) * len(first))
    return Run(int(first[best]), int(end[best]) - 1, p_value)
