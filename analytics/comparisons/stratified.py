"""Comparisons within batches (Cochran-Mantel-Haenszel): each batch is its own little trial.

The batch cannot be mistaken for the pen here, but eggs are still taken as independent of their tray-mates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.comparisons.counts import Floats, Trays, trays_of, whole_counts
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.values import Interval

_CMH = "Cochran-Mantel-Haenszel, stratified by batch"
_NAMES = (
    f"{_CMH}, no continuity correction",
    f"{_CMH}, continuity correction 0.5",
    "Breslow-Day, equal odds ratios",
    "Breslow-Day with Tarone's correction, equal odds ratios",
)
_ALIKE = "In every batch all eggs had the same outcome, so no difference can show."


@dataclass(frozen=True, slots=True)
class StratifiedOdds:
    """Two groups compared within strata.

    Attributes:
        test: Cochran-Mantel-Haenszel without continuity correction.
        test_corrected: the same with the correction of one half.
        odds_ratio: Mantel-Haenszel common odds ratio, first group against second, or None.
        interval: for the odds ratio (Robins, Breslow and Greenland), or None.
        breslow_day: homogeneity of the odds ratios (Breslow-Day).
        tarone: the same with Tarone's correction.
        strata: strata that say something.
        left_out: strata where one group had no eggs or all eggs had the same outcome.
        why: why there is no odds ratio or interval; "" otherwise.
    """

    test: HypothesisTest
    test_corrected: HypothesisTest
    odds_ratio: float | None
    interval: Interval | None
    breslow_day: HypothesisTest
    tarone: HypothesisTest
    strata: int
    left_out: int
    why: str


def common_odds(tables: ArrayLike, level: float = 0.95) -> StratifiedOdds:
    """Compares two groups over strata.

    Args:
        tables: counts, shape (strata, 2 groups, 2 outcomes passed / failed).
        level: confidence level of the interval.

    Returns:
        Tests, odds ratio and homogeneity. Sources: Mantel and Haenszel 1959; Robins, Breslow and Greenland
        1986, Biometrics 42:311-323; Breslow and Day 1980; Tarone 1985.
    """
    counts = whole_counts(tables, "the tables' cells")
    if counts.size == 0:
        counts = counts.reshape(0, 2, 2)
    if counts.ndim != 3 or counts.shape[1:] != (2, 2):
        raise ValueError("tables have the shape (strata, 2, 2)")
    tells = (counts.sum(axis=1) > 0).all(axis=1) & (counts.sum(axis=2) > 0).all(axis=1)
    kept, left_out = counts[tells], int((~tells).sum())
    if not len(kept):
        tests = [HypothesisTest.missing(name, _ALIKE) for name in _NAMES]
        return StratifiedOdds(tests[0], tests[1], None, None, tests[2], tests[3], 0, left_out, _ALIKE)
    ratio, interval, why = _odds_ratio(kept, level)
    plain, corrected = _two_group_tests(kept)
    day, tarone = _homogeneity(kept, ratio)
    return StratifiedOdds(plain, corrected, ratio, interval, day, tarone, len(kept), left_out, why)


def _two_group_tests(kept: Floats) -> tuple[HypothesisTest, HypothesisTest]:
    total = kept.sum(axis=(1, 2))
    groups, outcomes = kept.sum(axis=2), kept.sum(axis=1)
    gap = abs(float((kept[:, 0, 0] - groups[:, 0] * outcomes[:, 0] / total).sum()))
    spread = float((groups.prod(axis=1) * outcomes.prod(axis=1) / (total**2 * (total - 1))).sum())
    step = 0.5 if gap >= 0.5 else 0.0  # as in R: a correction never overshoots zero
    return (
        HypothesisTest.chi_square(_NAMES[0], gap**2 / spread, 1),
        HypothesisTest.chi_square(_NAMES[1], (gap - step) ** 2 / spread, 1),
    )


def _odds_ratio(kept: Floats, level: float) -> tuple[float | None, Interval | None, str]:
    from statsmodels.stats.contingency_tables import StratifiedTable

    total = kept.sum(axis=(1, 2))
    agree = float((kept[:, 0, 0] * kept[:, 1, 1] / total).sum())
    cross = float((kept[:, 0, 1] * kept[:, 1, 0] / total).sum())
    if cross == 0:
        return None, None, "The common odds ratio has no upper limit in these data."
    if agree == 0:
        return 0.0, None, "The common odds ratio is 0 in these data, so it has no interval."
    fitted = StratifiedTable(np.moveaxis(kept, 0, 2))
    low, high = fitted.oddsratio_pooled_confint(alpha=1 - level)
    interval = Interval(float(low), float(high), level, "Robins-Breslow-Greenland")
    return float(fitted.oddsratio_pooled), interval, ""


def _homogeneity(kept: Floats, ratio: float | None) -> tuple[HypothesisTest, HypothesisTest]:
    why = "Only one batch says something." if len(kept) < 2 else ""
    why = why if ratio else "Without a common odds ratio there is nothing for the batches to agree with."
    if why or not ratio:
        return HypothesisTest.missing(_NAMES[2], why), HypothesisTest.missing(_NAMES[3], why)
    expected, variance = _first_cell(kept, ratio)
    gap = kept[:, 0, 0] - expected
    day = float((gap**2 / variance).sum())
    tarone = day - float(gap.sum()) ** 2 / float(variance.sum())
    dof = len(kept) - 1
    return HypothesisTest.chi_square(_NAMES[2], day, dof), HypothesisTest.chi_square(_NAMES[3], tarone, dof)


def _first_cell(kept: Floats, ratio: float) -> tuple[Floats, Floats]:
    """Mean and variance of each stratum's first cell where the odds ratio is `ratio`."""
    group, other = kept.sum(axis=2).T
    passed = kept[:, :, 0].sum(axis=1)
    slack = other - passed  # the last cell less the first
    b = ratio * (group + passed) + slack
    root = np.sqrt(np.maximum(b**2 - 4 * (ratio - 1) * ratio * group * passed, 0.0))
    # the stable form of the quadratic's root, which also holds at an odds ratio of 1
    expected = np.where(b > 0, 2 * ratio * group * passed / (b + root), (b - root) / (2 * (ratio - 1 or 1.0)))
    cells = np.stack((expected, group - expected, passed - expected, slack + expected))
    return expected, 1 / (1 / cells).sum(axis=0)


def within_batches(
    passed: ArrayLike,
    eggs: ArrayLike,
    pen: Sequence[object] | NDArray[np.generic],
    batch: Sequence[object] | NDArray[np.generic],
) -> HypothesisTest:
    """Generalised Cochran-Mantel-Haenszel test of several pens over batches.

    Args:
        passed: eggs that passed, one entry a tray (or batch x pen).
        eggs: eggs that entered.
        pen: pen labels.
        batch: batch labels.

    Returns:
        The test; degrees of freedom are the contrasts among pens that some batch holds together. Source:
        Landis, Heyman and Koch 1978; Agresti 2002, section 7.5.3.
    """
    method = "generalised Cochran-Mantel-Haenszel, stratified by batch"
    trays = trays_of(passed, eggs, pen, batch)
    if not trays.eggs.size:
        return HypothesisTest.missing(method, "There are no eggs to compare.")
    if len(trays.levels[0]) < 2:
        return HypothesisTest.missing(method, "Only one pen has eggs.")
    gap, spread = _pen_sums(trays)
    if not np.any(np.diag(spread) > 1e-12):
        return HypothesisTest.missing(method, _why_flat(trays))
    statistic, dof = quadratic_form(gap, spread)
    return HypothesisTest.chi_square(method, statistic, dof)


def _why_flat(trays: Trays) -> str:
    shares = np.unique(np.column_stack(trays.codes), axis=0)
    if len(shares) == len(trays.levels[1]):
        return "No batch holds eggs of two pens, so pens cannot be compared within batches."
    return _ALIKE


def _pen_sums(trays: Trays) -> tuple[Floats, Floats]:
    """Observed less expected passing eggs by pen, and its covariance with all margins of a batch fixed."""
    pens, batches = len(trays.levels[0]), len(trays.levels[1])
    cell = trays.codes[1] * pens + trays.codes[0]
    came, entered = (
        np.bincount(cell, weights=w, minlength=pens * batches).reshape(batches, pens)
        for w in (trays.passed, trays.eggs)
    )
    total, hits = entered.sum(axis=1), came.sum(axis=1)
    gap = (came - entered * (hits / total)[:, None]).sum(axis=0)
    scale = hits * (total - hits) / (total**2 * np.maximum(total - 1, 1))
    spread = np.diag((scale * total) @ entered) - (entered * scale[:, None]).T @ entered
    return gap, spread


def quadratic_form(gap: Floats, spread: Floats) -> tuple[float, int]:
    """gap' spread^- gap and the rank of the covariance.

    Args:
        gap: shape (k,), within the space that `spread` spans.
        spread: covariance, shape (k, k), not all zero; may lack rank.
    """
    values, vectors = np.linalg.eigh(spread)
    kept = values > values.max() * 1e-9
    turned = vectors[:, kept].T @ gap
    return float((turned**2 / values[kept]).sum()), int(kept.sum())
