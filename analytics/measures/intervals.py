"""Intervals for a share of eggs: Wilson's score interval and the exact one of Clopper and Pearson."""

from __future__ import annotations

import math

from scipy.special import betaincinv, ndtri, stdtrit

from analytics.values import Interval

LEVEL = 0.95
"""Confidence of every interval shown."""


def wilson(count: float, eggs: float, level: float = LEVEL) -> Interval:
    """Wilson's score interval, without continuity correction.

    Args:
        count: eggs counted, 0..eggs; need not be whole.
        eggs: eggs in all, above 0; need not be whole (an effective number).
        level: confidence.

    Raises:
        ValueError: on other counts.

    Returns:
        The interval. Source: Wilson 1927, J. Am. Stat. Assoc. 22:209-212.
    """
    _check(count, eggs, level)
    low, high = score_limits(count / eggs, eggs, normal_quantile(level))
    return Interval(low, high, level, "Wilson, eggs independent")


def clopper_pearson(count: int, eggs: int, level: float = LEVEL) -> Interval:
    """The exact interval: each tail of the binomial holds at most half of what is left.

    Args:
        count: eggs counted, 0..eggs.
        eggs: eggs in all, above 0.
        level: confidence.

    Raises:
        ValueError: on other counts.

    Returns:
        The interval. Source: Clopper and Pearson 1934, Biometrika 26:404-413.
    """
    _check(count, eggs, level)
    tail = (1 - level) / 2
    low = float(betaincinv(count, eggs - count + 1, tail)) if count > 0 else 0.0
    high = float(betaincinv(count + 1, eggs - count, 1 - tail)) if count < eggs else 1.0
    return Interval(low, high, level, "Clopper and Pearson, eggs independent")


def score_limits(share: float, eggs: float, quantile: float) -> tuple[float, float]:
    """The two roots of (share - x)**2 = quantile**2 x (1 - x) / eggs.

    Args:
        share: observed share, 0..1.
        eggs: eggs in all, above 0; an effective number where eggs are not independent.
        quantile: normal or t quantile of the confidence wanted.

    Returns:
        Lower and upper limit; they hold the share between them to the last digit.
    """
    spread = quantile**2 / eggs
    middle = (share + spread / 2) / (1 + spread)
    half = math.sqrt(spread * share * (1 - share) + spread**2 / 4) / (1 + spread)
    return max(0.0, min(share, middle - half)), min(1.0, max(share, middle + half))


def normal_quantile(level: float) -> float:
    """Normal quantile of a two-sided interval of that confidence."""
    return float(ndtri((1 + level) / 2))


def t_quantile(level: float, dof: float) -> float:
    """Student's t quantile of a two-sided interval; the normal one for infinite `dof`."""
    return normal_quantile(level) if math.isinf(dof) else float(stdtrit(dof, (1 + level) / 2))


def _check(count: float, eggs: float, level: float) -> None:
    if not (eggs > 0 and 0 <= count <= eggs and 0 < level < 1):
        raise ValueError(f"{count} of {eggs} eggs at level {level} is no share with an interval")
