"""What is believed of a number of hours, as chances on a grid of half hours; sums and differences of such."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

STEP = 0.5
"""Hours between two points of the grid."""


@dataclass(frozen=True, slots=True, eq=False)
class HourBelief:
    """Chances of hours.

    Attributes:
        start: first hour of the grid.
        chances: chance of each half hour from there on, adding up to 1.
    """

    start: float
    chances: NDArray[np.float64]

    def quantile(self, share: float) -> float:
        """The hour below which a share of the chances lies; straight within a half hour."""
        below = np.concatenate([[0.0], np.cumsum(self.chances)])
        edges = self.start - STEP / 2 + STEP * np.arange(len(below))
        return float(np.interp(share, below / below[-1], edges))

    def minus(self, other: HourBelief) -> HourBelief:
        """The difference from another number, the two believed independently."""
        chances = np.convolve(self.chances, other.chances[::-1])
        last = other.start + STEP * (len(other.chances) - 1)
        return HourBelief(self.start - last, chances)

    def widened(self, width: float) -> HourBelief:
        """With an error added that is anywhere within a width around 0, all as likely."""
        return self.minus(uniform(-width / 2, width / 2))


def uniform(low: float, high: float) -> HourBelief:
    """Anywhere between two hours, all as likely, to a half hour; a single point where they are closer."""
    points = max(1, round((high - low) / STEP))
    start = (low + high - STEP * (points - 1)) / 2
    return HourBelief(start, np.full(points, 1 / points))
