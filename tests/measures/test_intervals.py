"""Intervals of one share: printed limits, their definitions, and a second library."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from scipy.stats import binom
from statsmodels.stats.proportion import proportion_confint

from analytics.measures.intervals import clopper_pearson, normal_quantile, score_limits, t_quantile, wilson

TABLE = Path(__file__).parents[1] / "reference" / "single_proportions.csv"
METHODS = {"wilson": wilson, "clopper_pearson": clopper_pearson}
CASES = [(0, 1), (1, 1), (0, 20), (1, 29), (15, 148), (50, 100), (299, 300), (7, 7)]


def _printed() -> list[dict[str, str]]:
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


@pytest.mark.parametrize(
    "row", _printed(), ids=lambda r: f"{r['method']} {r['count']}/{r['eggs']} {r['seen']}"
)
def test_printed_limits(row: dict[str, str]) -> None:
    found = METHODS[row["method"]](int(row["count"]), int(row["eggs"]))
    half_a_digit = 0.501 * float(row["unit"])
    assert found.low == pytest.approx(float(row["lower"]), abs=half_a_digit)
    assert found.high == pytest.approx(float(row["upper"]), abs=half_a_digit)


@pytest.mark.parametrize("level", [0.8, 0.95, 0.999])
@pytest.mark.parametrize(("count", "eggs"), [*CASES, (2.5, 7.25)])
def test_wilson_limits_solve_their_quadratic(count: float, eggs: float, level: float) -> None:
    found, share = wilson(count, eggs, level), count / eggs
    for limit in (found.low, found.high):
        distance = (share - limit) ** 2
        assert distance == pytest.approx(normal_quantile(level) ** 2 * limit * (1 - limit) / eggs, abs=1e-12)
    assert found.low <= share <= found.high
    assert found.low < found.high


@pytest.mark.parametrize("level", [0.8, 0.95, 0.999])
@pytest.mark.parametrize(("count", "eggs"), CASES)
def test_exact_limits_leave_half_of_the_rest_in_each_tail(count: int, eggs: int, level: float) -> None:
    found, tail = clopper_pearson(count, eggs, level), (1 - level) / 2
    if count == 0:
        assert found.low == 0
    else:
        assert binom.sf(count - 1, eggs, found.low) == pytest.approx(tail, rel=1e-9)
    if count == eggs:
        assert found.high == 1
    else:
        assert binom.cdf(count, eggs, found.high) == pytest.approx(tail, rel=1e-9)


@pytest.mark.parametrize(("count", "eggs"), CASES)
@pytest.mark.parametrize(("ours", "theirs"), [("wilson", "wilson"), ("clopper_pearson", "beta")])
def test_a_second_library_agrees(ours: str, theirs: str, count: int, eggs: int) -> None:
    found = METHODS[ours](count, eggs, 0.9)
    low, high = proportion_confint(count, eggs, alpha=0.1, method=theirs)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-12)
    assert found.level == 0.9


def test_the_method_is_named() -> None:
    assert wilson(3, 7).method == "Wilson, eggs independent"
    assert clopper_pearson(3, 7).method == "Clopper and Pearson, eggs independent"


@pytest.mark.parametrize("eggs", [14, 76, 399])
def test_rounding_takes_no_limit_out_of_0_and_1(eggs: int) -> None:
    """Not clamped, the upper limit of 14 of 14 is 1 + 2e-16."""
    assert wilson(eggs, eggs).high <= 1
    assert wilson(0, eggs).low >= 0


def test_quantiles() -> None:
    assert normal_quantile(0.95) == pytest.approx(1.959964, abs=5e-7)  # from memory, any table
    assert t_quantile(0.95, 4) == pytest.approx(2.776, abs=5e-4)  # from memory, Fisher and Yates' table
    assert t_quantile(0.95, math.inf) == normal_quantile(0.95)


@pytest.mark.parametrize(
    ("count", "eggs", "level"), [(0, 0, 0.95), (-1, 5, 0.95), (6, 5, 0.95), (1, 5, 1.0), (1, 5, 0.0)]
)
def test_impossible_counts_are_refused(count: int, eggs: int, level: float) -> None:
    for method in METHODS.values():
        with pytest.raises(ValueError, match="no share"):
            method(count, eggs, level)


def test_a_larger_quantile_is_a_wider_interval() -> None:
    low, high = score_limits(0.9, 30.0, 2.0)
    wider_low, wider_high = score_limits(0.9, 30.0, 3.0)
    assert wider_low < low < 0.9 < high < wider_high
