"""Chi-square, exact tests and power: definitions put back in, slow twins."""

from __future__ import annotations

import itertools
import math
import re
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

import analytics.comparisons
from analytics.comparisons.chi_square import adjusted_residuals, chi_square
from analytics.comparisons.exact import fisher, fisher_2x2
from analytics.comparisons.power import (
    eggs_for_chi_square,
    eggs_for_two_rates,
    power_of_chi_square,
    power_of_two_rates,
    power_of_two_rates_h,
)

PENS = [[34, 6], [28, 12], [39, 1], [30, 9]]


def test_expected_counts_and_statistic_are_their_definitions() -> None:
    table = np.array(PENS, dtype=float)
    expected = table.sum(1, keepdims=True) * table.sum(0) / table.sum()
    found = chi_square(PENS)
    assert np.allclose(found.expected, expected)
    assert found.statistic == pytest.approx(((table - expected) ** 2 / expected).sum())
    assert found.likelihood_ratio == pytest.approx(2 * (table * np.log(table / expected)).sum())
    assert found.cohens_w == pytest.approx(math.sqrt(found.statistic / table.sum()))
    assert found.cramers_v == pytest.approx(found.cohens_w)  # two columns: the smaller side less one is 1
    assert found.p_value == pytest.approx(stats.chi2.sf(found.statistic, 3))


def test_adjusted_residual_of_two_by_two_squares_to_chi_square() -> None:
    found = chi_square([[30, 10], [20, 25]])
    assert np.allclose(np.square(found.residuals), found.statistic)


def test_adjusted_residuals_have_unit_variance_without_a_difference() -> None:
    random = np.random.default_rng(5)
    tables = [random.multinomial(400, [0.24, 0.06, 0.32, 0.08, 0.24, 0.06]).reshape(3, 2) for _ in range(400)]
    expected = [t.sum(1, keepdims=True) * t.sum(0) / t.sum() for t in tables]
    residuals = np.array([adjusted_residuals(t, e) for t, e in zip(tables, expected, strict=True)])
    assert np.allclose(residuals.std(axis=0), 1, atol=0.12)  # 400 tables: 3.4 standard errors


def test_adjusted_residuals_as_printed_by_agresti() -> None:
    # Agresti 2007, Table 2.6 (standardised residuals 4.50, 0.70, -5.32), from memory
    assert np.round(chi_square([[762, 327, 468], [484, 239, 477]]).residuals[0], 2).tolist() == [
        4.5,
        0.7,
        -5.32,
    ]


def test_power_uses_cohens_w_and_not_cramers_v() -> None:
    table = [[68, 20, 15, 5], [119, 84, 54, 29], [26, 17, 14, 14], [7, 94, 10, 16]]
    found = chi_square(table)
    cut = stats.chi2.ppf(0.95, 9)
    assert found.power == pytest.approx(stats.ncx2.sf(cut, 9, found.statistic))
    assert found.cohens_w == pytest.approx(found.cramers_v * math.sqrt(3))


def test_small_expected_counts_are_flagged() -> None:
    found = chi_square([[3, 1], [1, 3]])
    assert found.small_expected == 4
    assert "exact test" in found.why


def test_empty_rows_and_columns_are_left_out_and_said() -> None:
    found = chi_square([[30, 10, 0], [0, 0, 0], [20, 20, 0]])
    alone = chi_square([[30, 10], [20, 20]])
    assert found.statistic == alone.statistic
    assert found.dof == 1
    assert found.expected[1] == (0, 0, 0)
    assert "left out" in found.why


@pytest.mark.parametrize(
    "table",
    [
        [[3, 1], [1, 3]],
        [[5, 0], [1, 4]],
        [[4, 1, 0], [0, 3, 2]],
        [[3, 2], [0, 4], [5, 0]],
        [[2, 1, 0], [0, 2, 1], [1, 0, 3]],
        [[6, 1], [5, 2], [7, 0], [3, 3]],
    ],
)
def test_exact_test_equals_listing_every_table(table: list[list[int]]) -> None:
    assert fisher(table).p_value == pytest.approx(_by_listing(np.array(table)), rel=1e-9)


def _by_listing(table: np.ndarray) -> float:
    """All tables of the right size, those with the margins kept: slow and plain."""
    rows, columns = table.sum(1), table.sum(0)
    log_margin = sum(math.lgamma(m + 1) for m in (*rows, *columns)) - math.lgamma(table.sum() + 1)

    def chance(t: np.ndarray) -> float:
        return math.exp(log_margin - sum(math.lgamma(x + 1) for x in t.ravel()))

    seen = chance(table)
    free = [
        range(min(rows[i], columns[j]) + 1) for i in range(len(rows) - 1) for j in range(len(columns) - 1)
    ]
    total = 0.0
    for cells in itertools.product(*free):
        inner = np.array(cells).reshape(len(rows) - 1, len(columns) - 1)
        wide = np.column_stack((inner, rows[:-1] - inner.sum(1)))
        whole = np.vstack((wide, columns - wide.sum(0)))
        if whole.min() >= 0 and chance(whole) <= seen * (1 + 1e-7):
            total += chance(whole)
    return total


def test_exact_test_agrees_with_scipy_on_two_by_two() -> None:
    random = np.random.default_rng(3)
    for _ in range(30):
        table = random.integers(0, 60, (2, 2)) + 1
        assert fisher(table).p_value == pytest.approx(stats.fisher_exact(table).pvalue, rel=1e-7)
        assert fisher_2x2(table).p_value == pytest.approx(stats.fisher_exact(table).pvalue)


def test_exact_test_does_not_change_with_the_order_of_pens() -> None:
    table = np.array(PENS)
    for order in itertools.permutations(range(4)):
        assert fisher(table[list(order)]).p_value == pytest.approx(fisher(table).p_value, rel=1e-9)
    assert fisher(table.T).p_value == pytest.approx(fisher(table).p_value, rel=1e-9)


def test_exact_test_says_when_it_is_too_large() -> None:
    found = fisher([[300, 40]] * 14)
    assert found.p_value is None
    assert "too large" in found.why


def test_exact_test_of_many_eggs_does_not_overflow() -> None:
    assert 0 < fisher([[90, 10], [90, 10], [1000, 3000]]).p_value < 1e-70


def test_power_of_two_rates_is_that_of_simulated_tests() -> None:
    random = np.random.default_rng(8)
    first, second = random.binomial(120, 0.9, 20000) / 120, random.binomial(120, 0.78, 20000) / 120
    middle = (first + second) / 2
    z = (first - second) / np.sqrt(2 * middle * (1 - middle) / 120)
    assert power_of_two_rates(0.9, 0.78, 120) == pytest.approx((np.abs(z) > 1.959964).mean(), abs=0.02)


def test_sample_size_and_power_invert_each_other() -> None:
    assert power_of_two_rates(0.9, 0.8, eggs_for_two_rates(0.9, 0.8, 0.85).eggs) == pytest.approx(0.85)
    assert power_of_chi_square(0.2, eggs_for_chi_square(0.2, 3, 0.9).eggs, 3) == pytest.approx(0.9, abs=1e-6)


def test_two_sided_power_at_no_effect_is_the_level() -> None:
    assert power_of_two_rates_h(0.0, 50, 70, 0.05, 2) == pytest.approx(0.05)


def test_no_difference_needs_no_number_of_eggs() -> None:
    assert eggs_for_two_rates(0.8, 0.8).eggs is None
    assert eggs_for_chi_square(0.0, 2).eggs is None


def test_pingouin_is_called_in_one_place_only() -> None:
    folder = Path(analytics.comparisons.__file__).parent
    callers = {p.name for p in folder.glob("*.py") if re.search(r"import pingouin\b", p.read_text())}
    assert callers == {"pingouin_tables.py"}
