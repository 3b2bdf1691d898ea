"""Trend of a rate along ordered groups: storage days, hen age, batches in time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Floats, passed_of
from analytics.comparisons.hypothesis import HypothesisTest

_WORK = 100_000_000
"""Additions that the exact test may take before it is refused as too large."""


@dataclass(frozen=True, slots=True)
class ExactTrend:
    """Exact one-sided test of a trend, given how many eggs passed in all.

    Attributes:
        side: "rising" or "falling": the direction seen, and tested.
        p_value: chance of a trend at least as strong to that side, or None.
        mid_p: the same with half the chance of the trend seen, or None.
        why: why there is no value; "" otherwise.
    """

    side: str
    p_value: float | None
    mid_p: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Trend:
    """A linear trend of a rate over scores; eggs taken as independent.

    Attributes:
        test: Cochran-Armitage, chi-square N r2 with 1 degree of freedom.
        z: its signed root; positive where the rate rises with the score.
        mantel: Mantel's variant M2 = (N - 1) r2.
        slope: change of the rate per unit of score (weighted least squares).
        departure: what the groups differ by beyond the straight line.
        exact: exact one-sided test.
        why: why there is no test; "" otherwise.
    """

    test: HypothesisTest
    z: float | None
    mantel: HypothesisTest
    slope: float | None
    departure: HypothesisTest
    exact: ExactTrend
    why: str


_METHODS = (
    "Cochran-Armitage trend, chi-square N r2",
    "Mantel trend, M2 = (N - 1) r2",
    "departure from a straight line",
)


def trend(passed: ArrayLike, eggs: ArrayLike, scores: ArrayLike) -> Trend:
    """Tests whether a rate rises or falls with a score.

    Args:
        passed: eggs that passed, one entry a group.
        eggs: eggs that entered.
        scores: the groups' scores; another choice of scores is another question and another answer.

    Returns:
        The tests. Sources: Cochran 1954; Armitage 1955; Mantel 1963; Agresti 2002, section 5.3.5.
    """
    came, entered = passed_of(passed, eggs)
    score = np.asarray(scores, dtype=float)
    if score.shape != came.shape or not np.all(np.isfinite(score)):
        raise ValueError("every group has one finite score")
    came, entered, score = (row[entered > 0] for row in (came, entered, score))
    why = _why_none(came, entered, score)
    if why:
        tests = [HypothesisTest.missing(method, why) for method in _METHODS]
        return Trend(tests[0], None, tests[1], None, tests[2], ExactTrend("", None, None, why), why)
    return _fitted(came, entered, score)


def midranks(eggs: ArrayLike) -> tuple[float, ...]:
    """Midrank scores of ordered groups: the mean rank of a group's eggs among all eggs."""
    entered = np.asarray(eggs, dtype=float)
    return tuple((np.cumsum(entered) - (entered - 1) / 2).tolist())


def _why_none(came: Floats, entered: Floats, score: Floats) -> str:
    if not entered.size:
        return "There are no eggs to compare."
    if len(np.unique(score)) < 2:
        return "All eggs have the same score, so no trend can show."
    if came.sum() in (0, entered.sum()):
        return "All eggs had the same outcome, so no trend can show."
    return ""


def _fitted(came: Floats, entered: Floats, score: Floats) -> Trend:
    total, rate = entered.sum(), came.sum() / entered.sum()
    centred = score - (entered @ score) / total
    pull, spread = float(came @ centred), float(entered @ centred**2)
    statistic = pull**2 / (rate * (1 - rate) * spread)
    z = math.copysign(math.sqrt(statistic), pull)
    return Trend(
        test=HypothesisTest.chi_square(_METHODS[0], statistic, 1),
        z=z,
        mantel=HypothesisTest.chi_square(_METHODS[1], statistic * (total - 1) / total, 1),
        slope=pull / spread,
        departure=_departure(came, entered, score, statistic),
        exact=exact_trend(came, entered, score, rising=pull >= 0),
        why="",
    )


def _departure(came: Floats, entered: Floats, score: Floats, statistic: float) -> HypothesisTest:
    """Groups of equal score are one group; the rest of Pearson's chi-square is the departure."""
    _, place = np.unique(score, return_inverse=True)
    hits, eggs = np.bincount(place, weights=came), np.bincount(place, weights=entered)
    dof = len(eggs) - 2
    if dof < 1:
        return HypothesisTest.missing(_METHODS[2], "Two scores always lie on a straight line.")
    rate = hits.sum() / eggs.sum()
    pearson = float(((hits - eggs * rate) ** 2 / (eggs * rate * (1 - rate))).sum())
    return HypothesisTest.chi_square(_METHODS[2], max(pearson - statistic, 0.0), dof)


def exact_trend(came: Floats, entered: Floats, score: Floats, rising: bool) -> ExactTrend:
    """Exact one-sided test from the conditional distribution of the passing eggs' score sum.

    Args:
        came: eggs that passed, one entry a group, not all of one outcome.
        entered: eggs that entered, each above 0.
        score: scores; they must be multiples of a common step.
        rising: the side to test.
    """
    side = "rising" if rising else "falling"
    steps = _whole_steps(score)
    if steps is None:
        return ExactTrend(side, None, None, "The scores have no common step, so their sums cannot be listed.")
    rarer = came if came.sum() * 2 <= entered.sum() else entered - came
    up = rising == (rarer is came)
    steps = steps - steps.min() if up else steps.max() - steps
    chance = _sum_distribution(rarer, entered, steps)
    if chance is None:
        return ExactTrend(side, None, None, "There are too many eggs to list all outcomes.")
    seen = int(rarer @ steps)
    here, beyond = float(chance[seen]), float(chance[seen + 1 :].sum())
    return ExactTrend(side, min(1.0, here + beyond), min(1.0, here / 2 + beyond), "")


def _whole_steps(score: Floats) -> np.ndarray | None:
    """Scores as whole multiples of their common step, or None where a fraction is too fine."""
    parts = [Fraction(value).limit_denominator(1000) for value in (score - score.min()).tolist()]
    if not np.allclose([float(part) for part in parts], score - score.min(), rtol=1e-12, atol=1e-12):
        return None
    bottom = math.lcm(*(part.denominator for part in parts))
    whole = [int(part * bottom) for part in parts]
    return np.array(whole) // math.gcd(*whole)


def _sum_distribution(rarer: Floats, entered: Floats, steps: np.ndarray) -> Floats | None:
    """P(score sum = s) over all ways the rarer outcome falls on the groups, margins fixed."""
    from scipy.stats import binom

    total, top = int(rarer.sum()), int(rarer.sum() * steps.max())
    ways = np.minimum(entered, total).astype(int) + 1
    if float(total + 1) * (top + 1) * ways.sum() > _WORK:
        return None
    chance = np.zeros((total + 1, top + 1))
    chance[0, 0] = 1.0
    for count, step in zip(entered.astype(int).tolist(), steps.tolist(), strict=True):
        grown = np.zeros_like(chance)
        weight = binom.pmf(np.arange(min(count, total) + 1), count, total / entered.sum())
        for hits, share in enumerate(weight.tolist()):
            grown[hits:, hits * step :] += share * chance[: total + 1 - hits, : top + 1 - hits * step]
        chance = grown
    found: Floats = chance[total] / chance[total].sum()
    return found
