"""Exact tests of a table with fixed margins, for few eggs."""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Codes, Floats, whole_counts
from analytics.comparisons.hypothesis import HypothesisTest

LARGEST = 1_000_000
"""Partial tables that one half of a table may have before the exact test is refused."""

_TIE = 1e-7

Side = Literal["two-sided", "less", "greater"]


def fisher_2x2(table: ArrayLike, side: Side = "two-sided") -> HypothesisTest:
    """Fisher's exact test of a 2 x 2 table.

    Args:
        table: counts, shape (2, 2).
        side: "greater" asks whether the odds of the first row are the higher ones.

    Returns:
        The test; `statistic` is the sample odds ratio, None where it is infinite or undefined.
    """
    from scipy.stats import fisher_exact

    method = f"Fisher's exact test, {side}"
    counts = whole_counts(table, "the table's cells")
    if counts.shape != (2, 2):
        raise ValueError("the table is 2 x 2")
    why = _nothing_to_test(counts)
    if why:
        return HypothesisTest.missing(method, why)
    p_value = float(fisher_exact(counts.astype(int), alternative=side).pvalue)
    against = counts[0, 1] * counts[1, 0]
    odds = float(counts[0, 0] * counts[1, 1] / against) if against else None
    return HypothesisTest(method, odds, None, None, p_value, "")


def fisher(table: ArrayLike, largest: int = LARGEST) -> HypothesisTest:
    """Exact test of an r x c table: the chance of a table no more likely than this one, margins fixed.

    No random draws: the table is cut in two, all halves are listed, and halves that fit together are
    counted by sorting.

    Args:
        table: counts, shape (rows, columns).
        largest: halves that may be listed before the test is refused as too large.

    Returns:
        The test, without a statistic. Source: Freeman and Halton 1951; Fisher for 2 x 2.
    """
    method = "exact test of the table, margins fixed (Freeman-Halton)"
    counts = whole_counts(table, "the table's cells")
    why = _nothing_to_test(counts)
    if why:
        return HypothesisTest.missing(method, why)
    kept = counts[counts.sum(axis=1) > 0][:, counts.sum(axis=0) > 0].astype(np.intp)
    if kept.shape == (2, 2):
        return HypothesisTest(method, None, None, None, fisher_2x2(kept).p_value, "")
    halves = _halves(kept, largest)
    if halves is None or len(np.unique(halves[0][0])) > largest // 10:
        return HypothesisTest.missing(method, "The table is too large to list all tables with its margins.")
    return HypothesisTest(method, None, None, None, _tail(halves, kept), "")


def _nothing_to_test(counts: Floats) -> str:
    if counts.size == 0 or counts.sum() == 0:
        return "There are no eggs to compare."
    if (counts.sum(axis=1) > 0).sum() < 2:
        return "Only one group has eggs, so there is nothing to compare it with."
    if (counts.sum(axis=0) > 0).sum() < 2:
        return "All eggs had the same outcome, so no difference can show."
    return ""


_Half = tuple[Codes, Floats]
_Ways = list[Codes]


def _halves(table: Codes, largest: int) -> tuple[_Half, _Half] | None:
    """Both halves of all tables: the code of the column totals used up, and the log weight."""
    plans = [_plan(lines, largest) for lines in (table, table.T)]
    sizes = [max(_size(half) for half in plan) if plan else float("inf") for plan in plans]
    best = sizes.index(min(sizes))
    plan, caps = plans[best], (table, table.T)[best].sum(axis=0)
    if plan is None:
        return None
    first, second = _listed(plan[0], caps, largest), _listed(plan[1], caps, largest)
    if first is None or second is None:
        return None
    whole = int(caps @ _places(caps))
    return _sorted(first), _sorted((whole - second[0], second[1]))


def _plan(lines: Codes, largest: int) -> tuple[_Ways, _Ways] | None:
    """The ways to fill each line, dealt out so that both halves have about as many tables."""
    ways = []
    for total in lines.sum(axis=1):
        found = _compositions(int(total), lines.sum(axis=0), largest)
        if found is None:
            return None
        ways.append(found)
    halves: tuple[_Ways, _Ways] = ([], [])
    for found in sorted(ways, key=len, reverse=True):
        min(halves, key=_size).append(found)
    return halves


def _size(half: _Ways) -> float:
    return float(np.prod([float(len(ways)) for ways in half]))


def _places(caps: Codes) -> Codes:
    return np.concatenate(([1], np.cumprod(caps[:-1] + 1))).astype(np.intp)


def _listed(half: _Ways, caps: Codes, largest: int) -> _Half | None:
    """All ways to fill these lines together, no column above its cap."""
    from scipy.special import gammaln

    used, weight = np.zeros((1, caps.size), dtype=np.intp), np.zeros(1)
    for ways in half:
        if len(ways) * len(used) > 4 * largest:
            return None
        added = (used[:, None, :] + ways[None, :, :]).reshape(-1, caps.size)
        weights = (weight[:, None] - gammaln(ways + 1.0).sum(axis=1)[None, :]).ravel()
        fits = (added <= caps).all(axis=1)
        used, weight = added[fits], weights[fits]
        if len(used) > largest:
            return None
    return used @ _places(caps), weight


def _compositions(total: int, caps: Codes, largest: int) -> Codes | None:
    """All rows of whole numbers with this total, none above its cap."""
    rows = np.zeros((1, 0), dtype=np.intp)
    for column, cap in enumerate(caps[:-1]):
        steps = np.arange(min(total, int(cap)) + 1)
        if len(rows) * len(steps) > 4 * largest:
            return None
        rows = np.column_stack((np.repeat(rows, len(steps), axis=0), np.tile(steps, len(rows)))).astype(
            np.intp
        )
        left = total - rows.sum(axis=1)
        rows = rows[(left >= 0) & (left <= caps[column + 1 :].sum())]
    return np.column_stack((rows, total - rows.sum(axis=1))).astype(np.intp)


def _sorted(half: _Half) -> _Half:
    order = np.lexsort((half[1], half[0]))
    return half[0][order], half[1][order]


def _tail(halves: tuple[_Half, _Half], table: Codes) -> float:
    from scipy.special import gammaln

    (state, weight), (other_state, other_weight) = halves
    constant = gammaln(table.sum(axis=1) + 1.0).sum() + gammaln(table.sum(axis=0) + 1.0).sum()
    constant -= gammaln(table.sum() + 1.0)
    limit = -gammaln(table + 1.0).sum() + np.log1p(_TIE)
    total = 0.0
    shared = np.intersect1d(state, other_state)
    bounds = _spans(state, shared), _spans(other_state, shared)
    for (start, end), (start2, end2) in zip(*bounds, strict=True):
        left, right = weight[start:end], other_weight[start2:end2]  # both sorted, the likeliest last
        sums = np.concatenate(([0.0], np.cumsum(np.exp(right - right[-1]))))
        fitting = np.searchsorted(right, limit - left, side="right")
        scale = np.exp(constant + left[-1] + right[-1])
        total += float(scale * (np.exp(left - left[-1]) @ sums[fitting]))
    return min(1.0, total)


def _spans(state: Codes, shared: Codes) -> list[tuple[int, int]]:
    starts = np.searchsorted(state, shared, side="left").tolist()
    ends = np.searchsorted(state, shared, side="right").tolist()
    return list(zip(starts, ends, strict=True))
