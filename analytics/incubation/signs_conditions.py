"""Whether something measured or noted of a place's batches is more or less than at the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from scipy.special import stdtrit

from analytics.incubation.signs_records import Condition

LEVEL = 0.95
FEWEST_DOF = 2
Range = tuple[float | None, float | None]
NO_RANGE: Range = (None, None)


def condition(
    own: Sequence[float], others: Sequence[float], published: Range = NO_RANGE, level: float = LEVEL
) -> Condition | None:
    """The place's batches beside the others', with Student's interval of the difference of means.

    The spread between batches is pooled, so that a single batch has an interval too where the others are
    several.

    Args:
        own: a value a batch.
        others: likewise.
        published: what sources advise or measured, in the same unit.
        level: confidence of the interval.

    Returns:
        None where nothing is recorded of the place.
    """
    if not own:
        return None
    mean = float(np.mean(own))
    if not others:
        return Condition(mean, None, None, None, len(own), 0, *published)
    difference = mean - float(np.mean(others))
    dof = len(own) + len(others) - 2
    low = high = None
    if dof >= FEWEST_DOF:
        squares = sum(float(np.sum((np.asarray(part) - np.mean(part)) ** 2)) for part in (own, others))
        half = _half(squares / dof * (1 / len(own) + 1 / len(others)), dof, level)
        low, high = difference - half, difference + half
    return Condition(mean, float(np.mean(others)), low, high, len(own), len(others), *published)


def paired(
    own: Mapping[str, float],
    others: Mapping[str, float],
    published: Range = NO_RANGE,
    level: float = LEVEL,
) -> Condition | None:
    """The same of a pen beside the other pens of the same batches (or days), pair by pair.

    Args:
        own: batch or day -> the pen's value.
        others: batch or day -> the other pens' mean.
        published: as `condition`.
        level: confidence of the interval.
    """
    both = [key for key in own if key in others]
    if not both:
        return condition(list(own.values()), [], published)
    first, second = (np.array([part[key] for key in both]) for part in (own, others))
    apart = first - second
    low = high = None
    if len(both) > FEWEST_DOF:
        half = _half(float(np.var(apart, ddof=1)) / len(both), len(both) - 1, level)
        low, high = float(apart.mean()) - half, float(apart.mean()) + half
    return Condition(float(first.mean()), float(second.mean()), low, high, len(both), len(both), *published)


def _half(variance: float, dof: int, level: float = LEVEL) -> float:
    return float(stdtrit(dof, (1 + level) / 2)) * float(np.sqrt(variance))
