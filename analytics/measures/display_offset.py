"""How far a machine's display is from a reference instrument read beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.errors import DataTooThin
from analytics.values import Interval

LEVEL = 0.95


@dataclass(frozen=True, slots=True)
class DisplayOffset:
    """Display less reference, in the unit of the readings.

    Attributes:
        offset: mean difference; + means that the display shows too much, so the machine runs that much lower.
        interval: Student's interval of the mean, or None from a single check. It holds the scatter of the
            readings only: an error of the reference itself is in all of them and is not in it.
        scatter: standard deviation of one check, or None from a single one.
        checks: pairs of readings.
    """

    offset: float
    interval: Interval | None
    scatter: float | None
    checks: int


def display_offset(displayed: Sequence[float], reference: Sequence[float]) -> DisplayOffset:
    """The offset of a display over its checks.

    Args:
        displayed: what the machine showed.
        reference: what the reference showed at the same time.

    Raises:
        DataTooThin: no check, or lists of unlike length.
    """
    from scipy.special import stdtrit

    if not displayed or len(displayed) != len(reference):
        raise DataTooThin(
            f"{len(displayed)} displays and {len(reference)} references",
            "An offset needs both readings of each check",
            "Read a reference thermometer beside the display",
        )
    differences = np.asarray(displayed, float) - np.asarray(reference, float)
    mean, checks = float(differences.mean()), len(differences)
    if checks == 1:
        return DisplayOffset(mean, None, None, 1)
    scatter = float(differences.std(ddof=1))
    half = float(stdtrit(checks - 1, (1 + LEVEL) / 2)) * scatter / checks**0.5
    return DisplayOffset(mean, Interval(mean - half, mean + half, LEVEL, "Student's t"), scatter, checks)
