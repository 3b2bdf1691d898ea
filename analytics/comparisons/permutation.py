"""Pens compared by exchanging trays within batches: level holds however alike the eggs of a tray are.

Without a difference between pens any tray of a batch could have been any pen's, so the pens' labels are
exchanged among the trays of each batch and the statistic is taken again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.comparisons.counts import Codes, Floats, Trays, by_level, trays_of
from analytics.comparisons.stratified import quadratic_form

EXACT_LIMIT = 20_000
"""Different ways to deal the labels out, up to which all are listed."""

_TIE = 1e-9


@dataclass(frozen=True, slots=True)
class PermutationTest:
    """A permutation test of pens within strata.

    Attributes:
        method: the test in words.
        statistic: quadratic form of the pens' excess of passing eggs; None without a test.
        dof: contrasts among pens that the strata hold together.
        p_value: share of deals with a statistic at least as large, or None.
        error: standard error of `p_value` from drawing (0 where all deals were listed).
        deals: deals of the labels looked at.
        exact: whether all different deals were listed.
        why: why there is no test; "" otherwise.
    """

    method: str
    statistic: float | None
    dof: int | None
    p_value: float | None
    error: float | None
    deals: int
    exact: bool
    why: str


def permute_within(
    passed: ArrayLike,
    eggs: ArrayLike,
    pen: Sequence[object] | NDArray[np.generic],
    stratum: Sequence[object] | NDArray[np.generic],
    random: np.random.Generator,
    draws: int = 1999,
) -> PermutationTest:
    """Tests pen against pen with trays exchanged within strata.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        pen: pen of each tray.
        stratum: what trays may be exchanged within: the batch, or batch and machine together.
        random: seeded by the caller; used only where there are too many deals to list.
        draws: deals to draw then.

    Returns:
        The test; drawn p-values are (b + 1) / (draws + 1) (Phipson and Smyth 2010).
    """
    method = "Cochran-Mantel-Haenszel statistic, trays exchanged within batches"
    trays = trays_of(passed, eggs, pen, stratum)
    why = _why_none(trays)
    if why:
        return PermutationTest(method, None, None, None, None, 0, False, why)
    excess = residuals_in(trays)
    spread = deal_covariance(trays, excess)
    if not np.any(np.diag(spread) > 1e-12):
        return PermutationTest(method, None, None, None, None, 0, False, _FLAT)
    observed = by_level(excess, trays.codes[0], len(trays.levels[0]))
    statistic, dof = quadratic_form(observed, spread)
    exact = _deals(trays) <= EXACT_LIMIT
    sums = _all_deals(trays, excess) if exact else _drawn_deals(trays, excess, random, draws)
    beyond = int((_quadratics(sums, spread) >= statistic * (1 - _TIE) - _TIE).sum())
    p_value = beyond / len(sums) if exact else (beyond + 1) / (draws + 1)
    error = 0.0 if exact else math.sqrt(p_value * (1 - p_value) / draws)
    return PermutationTest(method, statistic, dof, p_value, error, len(sums), exact, "")


_FLAT = (
    "Within every batch all trays have the same rate or only one pen, so exchanging trays changes nothing."
)


def _why_none(trays: Trays) -> str:
    if not trays.eggs.size:
        return "There are no eggs to compare."
    if len(trays.levels[0]) < 2:
        return "Only one pen has eggs."
    if trays.all_alike():
        return "All eggs had the same outcome, so no difference can show."
    return ""


def residuals_in(trays: Trays) -> Floats:
    """Passing eggs of each tray less what its stratum's rate makes expect; they sum to 0 in a stratum."""
    strata = len(trays.levels[1])
    rate = by_level(trays.passed, trays.codes[1], strata) / by_level(trays.eggs, trays.codes[1], strata)
    excess: Floats = trays.passed - trays.eggs * rate[trays.codes[1]]
    return excess


def deal_covariance(trays: Trays, excess: Floats) -> Floats:
    """Exact covariance of the pens' sums over all deals, shape (pens, pens)."""
    pens, strata = len(trays.levels[0]), len(trays.levels[1])
    shares = np.zeros((strata, pens))
    np.add.at(shares, (trays.codes[1], trays.codes[0]), 1.0)
    size = shares.sum(axis=1)
    scale = by_level(excess**2, trays.codes[1], strata) / np.maximum(size - 1, 1)
    spread: Floats = np.diag(scale @ shares) - (shares * (scale / size)[:, None]).T @ shares
    return spread


def _quadratics(sums: Floats, spread: Floats) -> Floats:
    values, vectors = np.linalg.eigh(spread)
    kept = values > values.max() * 1e-9
    turned = sums @ (vectors[:, kept] / np.sqrt(values[kept]))
    found: Floats = (turned**2).sum(axis=1)
    return found


def _members(trays: Trays) -> list[Codes]:
    """The trays of each stratum that holds at least two pens."""
    groups = [np.flatnonzero(trays.codes[1] == stratum) for stratum in range(len(trays.levels[1]))]
    return [group for group in groups if len(np.unique(trays.codes[0][group])) > 1]


def _deals(trays: Trays) -> float:
    """How many different deals there are."""
    ways = 0.0
    for group in _members(trays):
        ways += math.lgamma(len(group) + 1)
        ways -= sum(math.lgamma(count + 1) for count in np.bincount(trays.codes[0][group]).tolist())
    return round(math.exp(min(ways, 50.0)))


def _all_deals(trays: Trays, excess: Floats) -> Floats:
    """The pens' sums for every different deal, shape (deals, pens)."""
    pens = len(trays.levels[0])
    sums = by_level(excess, trays.codes[0], pens)[None, :]
    for group in _members(trays):
        here = _orders(np.bincount(trays.codes[0][group], minlength=pens).tolist())
        dealt = np.zeros((len(here), pens))
        for place, tray in enumerate(group):
            dealt[np.arange(len(here)), here[:, place]] += excess[tray]
        moved = dealt - by_level(excess[group], trays.codes[0][group], pens)
        sums = (sums[:, None, :] + moved[None, :, :]).reshape(-1, pens)
    return sums


def _orders(counts: list[int]) -> Codes:
    """All different orders of a bag of labels with these counts, one order a row."""
    found: list[list[int]] = []

    def grow(order: list[int]) -> None:
        if not any(counts):
            found.append(order)
            return
        for label, left in enumerate(counts):
            if left:
                counts[label] -= 1
                grow([*order, label])
                counts[label] += 1

    grow([])
    return np.array(found, dtype=np.intp)


def _drawn_deals(trays: Trays, excess: Floats, random: np.random.Generator, draws: int) -> Floats:
    """The pens' sums for drawn deals: the residuals are shuffled within strata, the labels stay."""
    order = np.argsort(trays.codes[1], kind="stable")
    stratum, sorted_excess = trays.codes[1][order], excess[order]
    indicator = np.zeros((len(order), len(trays.levels[0])))
    indicator[np.arange(len(order)), trays.codes[0][order]] = 1.0
    blocks = []
    block = max(1, 2_000_000 // len(order))
    for start in range(0, draws, block):
        keys = random.random((min(block, draws - start), len(order))) + stratum
        blocks.append(sorted_excess[np.argsort(keys, axis=1)] @ indicator)
    return np.concatenate(blocks)
