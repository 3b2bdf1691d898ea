"""How alike the eggs of a tray are, and chi-square tests that allow for it.

With correlation r among tray-mates, n eggs tell only as much as n / (1 + (n - 1) r) independent ones.
The methods weigh the trays differently and do not agree on the same data; each names itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.comparisons.counts import Floats, Trays, by_level, trays_of
from analytics.comparisons.hypothesis import HypothesisTest

Labels = Sequence[object] | NDArray[np.generic]


@dataclass(frozen=True, slots=True)
class Clustering:
    """How alike the eggs of one tray are.

    Attributes:
        method: the estimator in words.
        icc: correlation of two eggs of a tray; below 0 where trays differ less than by chance. None without.
        design_effect: 1 + (mean tray - 1) icc, at least 0; how many times fewer eggs would tell as much.
        mean_tray: eggs of a tray, weighted by its eggs.
        trays: trays used.
        eggs: eggs used.
        why: why there is no value; "" otherwise.
    """

    method: str
    icc: float | None
    design_effect: float | None
    mean_tray: float | None
    trays: int
    eggs: int
    why: str


@dataclass(frozen=True, slots=True)
class AdjustedTest:
    """A chi-square test of groups after an adjustment for trays.

    Attributes:
        test: the adjusted test.
        icc: the correlation used, or None where the method uses none.
        design_effects: what each group's variance was divided by, in the order of `groups`; () without.
        groups: labels of the groups, sorted.
    """

    test: HypothesisTest
    icc: float | None
    design_effects: tuple[float, ...]
    groups: tuple[object, ...]


def clustering(
    passed: ArrayLike, eggs: ArrayLike, group: Labels, estimator: Literal["anova", "moments"] = "anova"
) -> Clustering:
    """Estimates the correlation of eggs within trays, after each group's own rate is taken out.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        group: the group of each tray; its rate may differ from the others'.
        estimator: "anova" (Donner 1989, Biometrics 45:605-611) or "moments" (Kleinman 1973, weights = eggs).
    """
    method = {"anova": "analysis of variance", "moments": "moments, weighted by eggs"}[estimator]
    trays = trays_of(passed, eggs, group)
    used = len(trays.eggs), int(trays.eggs.sum())
    why = _why_no_icc(trays)
    if why:
        return Clustering(method, None, None, None, *used, why)
    icc = _anova_icc(trays) if estimator == "anova" else _moments_icc(trays)
    mean_tray = float((trays.eggs**2).sum() / trays.eggs.sum())
    return Clustering(method, icc, max(0.0, 1 + (mean_tray - 1) * icc), mean_tray, *used, "")


def _why_no_icc(trays: Trays) -> str:
    if not trays.eggs.size:
        return "There are no eggs."
    if trays.all_alike():
        return "All eggs had the same outcome, so their likeness within trays cannot be seen."
    if len(trays.eggs) == len(trays.levels[0]):
        return "No group has two trays, so trays cannot be compared."
    if trays.eggs.max() < 2:
        return "Every tray holds one egg, so eggs of one tray cannot be compared."
    if not _within(trays) + _between(trays):
        return "Within each group all eggs had the same outcome."
    return ""


def _group_sums(trays: Trays) -> tuple[Floats, Floats]:
    groups = len(trays.levels[0])
    return by_level(trays.passed, trays.codes[0], groups), by_level(trays.eggs, trays.codes[0], groups)


def _between(trays: Trays) -> float:
    came, entered = _group_sums(trays)
    expected = trays.eggs * (came / entered)[trays.codes[0]]
    return float(((trays.passed - expected) ** 2 / trays.eggs).sum())


def _within(trays: Trays) -> float:
    return float((trays.passed * (trays.eggs - trays.passed) / trays.eggs).sum())


def _free_trays(trays: Trays) -> tuple[float, float]:
    """Trays less groups, and their eggs on the same footing: N - sum over groups of sum n^2 / N_group."""
    _, entered = _group_sums(trays)
    squares = by_level(trays.eggs**2, trays.codes[0], len(entered))
    return len(trays.eggs) - len(entered), float(trays.eggs.sum() - (squares / entered).sum())


def _anova_icc(trays: Trays) -> float:
    free, free_eggs = _free_trays(trays)
    among = _between(trays) / free
    inside = _within(trays) / (trays.eggs.sum() - len(trays.eggs))
    return float((among - inside) / (among + (free_eggs / free - 1) * inside))


def _moments_icc(trays: Trays) -> float:
    came, entered = _group_sums(trays)
    share = came / entered
    groups = np.arange(len(entered))
    counts = np.bincount(trays.codes[0], minlength=len(groups))
    squares = by_level(trays.eggs**2, trays.codes[0], len(groups))
    chance = share * (1 - share)
    top = _between(trays) - float((chance * (counts - 1)).sum())
    bottom = float((chance * (entered - squares / entered - (counts - 1))).sum())
    return top / bottom


def rao_scott(passed: ArrayLike, eggs: ArrayLike, group: Labels, pooled: bool = False) -> AdjustedTest:
    """Chi-square test of groups with each group's counts divided by its design effect.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        group: group (pen) of each tray.
        pooled: one design effect for all groups instead of one each.

    Returns:
        The test. Source: Rao and Scott 1992, Biometrics 48:577-585.
    """
    method = f"Rao-Scott chi-square, {'one design effect' if pooled else 'a design effect per group'}"
    trays = trays_of(passed, eggs, group)
    why = _why_not_adjusted(trays)
    if why:
        return AdjustedTest(HypothesisTest.missing(method, why), None, (), trays.levels[0])
    came, entered = _group_sums(trays)
    effects = _pooled_effects(trays) if pooled else _group_effects(trays)
    if not np.all(effects > 0):
        why = "In a group all trays have the same rate, so its design effect cannot be estimated."
        return AdjustedTest(HypothesisTest.missing(method, why), None, (), trays.levels[0])
    test = HypothesisTest.chi_square(
        method, _adjusted_chi_square(came / effects, entered / effects), len(came) - 1
    )
    return AdjustedTest(test, None, tuple(effects.tolist()), trays.levels[0])


def _why_not_adjusted(trays: Trays) -> str:
    if not trays.eggs.size:
        return "There are no eggs to compare."
    if len(trays.levels[0]) < 2:
        return "Only one group has eggs, so there is nothing to compare it with."
    if trays.all_alike():
        return "All eggs had the same outcome, so no difference can show."
    if np.bincount(trays.codes[0]).min() < 2:
        return "A group has only one tray, so its trays cannot be compared."
    return ""


def _group_effects(trays: Trays) -> Floats:
    came, entered = _group_sums(trays)
    share = came / entered
    counts = np.bincount(trays.codes[0])
    squares = by_level((trays.passed - trays.eggs * share[trays.codes[0]]) ** 2, trays.codes[0], len(came))
    binomial = entered * share * (1 - share)
    effects: Floats = np.divide(
        counts / (counts - 1) * squares, binomial, out=np.zeros_like(binomial), where=binomial > 0
    )
    return effects


def _pooled_effects(trays: Trays) -> Floats:
    came, entered = _group_sums(trays)
    share, total = came / entered, entered.sum()
    overall = came.sum() / total
    mixed = (1 - entered / total) * share * (1 - share) * _group_effects(trays)
    effect = mixed.sum() / ((len(came) - 1) * overall * (1 - overall))
    return np.full(len(came), effect)


def _adjusted_chi_square(came: Floats, entered: Floats) -> float:
    rate = came.sum() / entered.sum()
    return float(((came - entered * rate) ** 2 / (entered * rate * (1 - rate))).sum())


def donner(passed: ArrayLike, eggs: ArrayLike, group: Labels) -> AdjustedTest:
    """Chi-square test of groups, each group's term divided by its own inflation from a common correlation.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        group: group (pen) of each tray.

    Returns:
        The test. Source: Donner 1989, Biometrics 45:605-611.
    """
    method = "Donner's adjusted chi-square, common correlation"
    trays = trays_of(passed, eggs, group)
    why = _why_not_compared(trays) or _why_no_icc(trays)
    if why:
        return AdjustedTest(HypothesisTest.missing(method, why), None, (), trays.levels[0])
    came, entered = _group_sums(trays)
    icc = _anova_icc(trays)
    mean_tray = by_level(trays.eggs**2, trays.codes[0], len(came)) / entered
    inflation = 1 + (mean_tray - 1) * icc
    if not np.all(inflation > 0):
        why = "Trays differ so much less than by chance that the adjustment fails."
        return AdjustedTest(HypothesisTest.missing(method, why), icc, (), trays.levels[0])
    rate = trays.rate
    terms = (came - entered * rate) ** 2 / (inflation * entered * rate * (1 - rate))
    test = HypothesisTest.chi_square(method, float(terms.sum()), len(came) - 1)
    return AdjustedTest(test, icc, tuple(inflation.tolist()), trays.levels[0])


def _why_not_compared(trays: Trays) -> str:
    if trays.eggs.size and len(trays.levels[0]) < 2:
        return "Only one group has eggs, so there is nothing to compare it with."
    return ""
