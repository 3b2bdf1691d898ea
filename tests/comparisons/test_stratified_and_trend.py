"""Stratified tests and trend tests: definitions put back in, slow twins, named variants."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy import stats
from statsmodels.stats.contingency_tables import StratifiedTable

from analytics.comparisons.chi_square import chi_square
from analytics.comparisons.stratified import common_odds, within_batches
from analytics.comparisons.trend import midranks, trend

SMOKERS, PATIENTS = [83, 90, 129, 70], [86, 93, 136, 82]


def _tables(columns) -> np.ndarray:
    counts = columns("ucb_admissions")
    return np.column_stack((counts["admitted"], counts["rejected"])).reshape(-1, 2, 2)


def test_correction_is_named_and_changes_the_number(columns) -> None:
    found = common_odds(_tables(columns))
    assert "no continuity correction" in found.test.method
    assert "continuity correction 0.5" in found.test_corrected.method
    assert found.test.statistic - found.test_corrected.statistic == pytest.approx(
        1.524607 - 1.426946, abs=1e-5
    )


def test_everything_agrees_with_statsmodels(columns) -> None:
    tables = _tables(columns)
    twin = StratifiedTable(np.moveaxis(tables, 0, 2))
    found = common_odds(tables)
    assert found.test.statistic == pytest.approx(twin.test_null_odds().statistic)
    assert found.test_corrected.statistic == pytest.approx(twin.test_null_odds(correction=True).statistic)
    assert found.breslow_day.statistic == pytest.approx(twin.test_equal_odds().statistic)
    assert found.tarone.statistic == pytest.approx(twin.test_equal_odds(adjust=True).statistic)


def test_breslow_day_cells_keep_the_common_odds_ratio(columns) -> None:
    from analytics.comparisons.stratified import _first_cell

    tables = _tables(columns)
    for ratio in (0.2, 0.9046968, 1.0, 1.0 + 1e-12, 7.5):
        a, _ = _first_cell(tables, ratio)
        b, c = tables[:, 0].sum(1) - a, tables[:, :, 0].sum(1) - a
        d = tables.sum((1, 2)) - a - b - c
        assert np.allclose(a * d / (b * c), ratio)


def test_a_corrected_statistic_never_exceeds_the_plain_one() -> None:
    even = [[[10, 10], [10, 10]], [[5, 6], [6, 5]]]
    found = common_odds(even)
    assert found.test_corrected.statistic <= found.test.statistic


def test_odds_ratio_turns_over_with_the_groups(columns) -> None:
    tables = _tables(columns)
    there, back = common_odds(tables), common_odds(tables[:, ::-1])
    assert there.odds_ratio * back.odds_ratio == pytest.approx(1)
    assert there.interval.low * back.interval.high == pytest.approx(1)


def test_generalised_test_of_two_pens_is_the_plain_one(columns) -> None:
    tables = _tables(columns)
    found = within_batches(
        tables[:, :, 0].ravel(), tables.sum(2).ravel(), ["m", "f"] * 6, np.repeat(np.arange(6), 2)
    )
    assert found.statistic == pytest.approx(1.5246, abs=5.1e-5)  # R mantelhaen.test(correct = FALSE), SEEN
    assert found.dof == 1


def test_generalised_test_of_one_batch_is_pearson_times_n_less_one_over_n() -> None:
    table = np.array([[34, 6], [28, 12], [39, 1], [30, 9]])
    found = within_batches(table[:, 0], table.sum(1), list("abcd"), ["x"] * 4)
    n = table.sum()
    assert found.statistic == pytest.approx(chi_square(table).statistic * (n - 1) / n)
    assert found.dof == 3


def test_generalised_test_has_the_permutation_mean_of_its_degrees_of_freedom() -> None:
    """Eggs dealt out anew within batches: the statistic's mean is its degrees of freedom."""
    random = np.random.default_rng(2)
    eggs, pen, batch = [12, 9, 15, 10, 8, 11], ["a", "b", "c", "a", "b", "c"], [1, 1, 1, 2, 2, 2]
    found = []
    for _ in range(1500):
        first = random.multivariate_hypergeometric(eggs[:3], 26)
        second = random.multivariate_hypergeometric(eggs[3:], 17)
        found.append(within_batches([*first, *second], eggs, pen, batch).statistic)
    assert np.mean(found) == pytest.approx(2, abs=0.2)  # standard error about 0.05


def test_pens_that_never_meet_are_not_compared() -> None:
    passed, eggs = [8, 5, 9, 4], [10, 10, 10, 10]
    found = within_batches(passed, eggs, ["a", "b", "c", "d"], [1, 1, 2, 2])
    assert found.dof == 2  # a with b, c with d, nothing across
    alone = within_batches(passed, eggs, ["a", "b", "c", "d"], [1, 2, 3, 4])
    assert alone.p_value is None
    assert "No batch holds eggs of two pens" in alone.why


def test_trend_is_n_times_r_squared_and_mantel_n_less_one() -> None:
    scores, passing = [], []
    for score, (y, n) in enumerate(zip(SMOKERS, PATIENTS, strict=True)):
        scores += [score] * n
        passing += [1] * y + [0] * (n - y)
    r = np.corrcoef(scores, passing)[0, 1]
    found = trend(SMOKERS, PATIENTS, [0, 1, 2, 3])
    assert found.test.statistic == pytest.approx(len(scores) * r**2)
    assert found.mantel.statistic == pytest.approx((len(scores) - 1) * r**2)
    assert "N r2" in found.test.method
    assert "(N - 1) r2" in found.mantel.method
    assert found.z == pytest.approx(-2.867913, abs=5e-7)  # R prop.trend.test, Fleiss 1981 p.139, SEEN
    assert found.slope == pytest.approx(np.polyfit(scores, passing, 1)[0])


def test_trend_and_departure_add_up_to_the_whole() -> None:
    found = trend(SMOKERS, PATIENTS, [1, 2, 3, 4])
    assert found.departure.statistic == pytest.approx(4.3755, abs=5.1e-5)  # 12.6004 - 8.2249, R, SEEN
    assert found.departure.dof == 2


def test_scores_change_everything() -> None:
    # Agresti 2007 p.44: M2 = 6.57 with daily drinks, 0.35 with midranks (MEMORY)
    passed = [48, 38, 5, 1, 1]
    eggs = [17114, 14502, 793, 127, 38]
    assert midranks(eggs) == (8557.5, 24365.5, 32013, 32473, 32555.5)
    assert trend(passed, eggs, [0, 0.5, 1.5, 4, 7]).mantel.statistic > 6.5
    assert trend(passed, eggs, midranks(eggs)).mantel.statistic < 0.36


def test_equal_scores_are_one_group() -> None:
    split = trend([5, 6, 9, 4], [10, 10, 20, 20], [1, 1, 2, 3])
    joined = trend([11, 9, 4], [20, 20, 20], [1, 2, 3])
    assert split.test.statistic == pytest.approx(joined.test.statistic)
    assert split.departure == joined.departure


@pytest.mark.parametrize(
    ("passed", "eggs", "scores"),
    [
        ([1, 3, 4], [5, 5, 5], [0, 1, 2]),
        ([5, 4, 1], [5, 6, 4], [0, 1.5, 4]),
        ([4, 4, 5, 5], [4, 5, 6, 5], [1, 2, 3, 7]),
        ([2, 1], [3, 4], [-1, 2]),
    ],
)
def test_exact_trend_equals_listing_every_outcome(passed, eggs, scores) -> None:
    found = trend(passed, eggs, scores)
    total = upper = mid = 0.0
    seen = sum(y * s for y, s in zip(passed, scores, strict=True))
    sign = 1 if found.exact.side == "rising" else -1
    for ways in itertools.product(*(range(n + 1) for n in eggs)):
        if sum(ways) != sum(passed):
            continue
        weight = math.prod(math.comb(n, x) for n, x in zip(eggs, ways, strict=True))
        gap = sign * (sum(x * s for x, s in zip(ways, scores, strict=True)) - seen)
        total += weight
        upper += weight * (gap > -1e-9)
        mid += weight * ((gap > 1e-9) + 0.5 * (abs(gap) <= 1e-9))
    assert found.exact.p_value == pytest.approx(upper / total)
    assert found.exact.mid_p == pytest.approx(mid / total)


def test_exact_trend_of_two_groups_is_fishers_one_sided_test() -> None:
    found = trend([3, 9], [12, 14], [0, 1])
    assert found.exact.side == "rising"
    assert found.exact.p_value == pytest.approx(stats.fisher_exact([[9, 5], [3, 9]], "greater").pvalue)


def test_exact_trend_says_why_it_is_left_out() -> None:
    many = trend([40_000, 41_000], [90_000, 90_000], [0, 500])
    assert many.exact.p_value is None
    assert "too many eggs" in many.exact.why
    odd = trend([4, 6, 8], [10, 10, 10], [0, 1, math.pi])
    assert odd.exact.p_value is None
    assert "no common step" in odd.exact.why
