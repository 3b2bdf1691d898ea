"""Worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods, and Laney's formula put back in."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from analytics.monitoring.ewma import ewma, ewma_spread
from analytics.monitoring.p_chart import laney_chart, moving_range, p_chart

REFERENCE = Path(__file__).parents[1] / "reference"


def _columns(name: str) -> dict[str, np.ndarray]:
    lines = (REFERENCE / name).read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return {column: np.array([float(row[column]) for row in rows]) for column in rows[0]}


WAFERS, RUN = _columns("nist_p_chart.csv"), _columns("nist_ewma.csv")


def test_p_chart() -> None:
    """Section 6.3.3.2: centre .2313 (SEEN, quoted), limits .4102 and .0524 (MEMORY)."""
    chart = p_chart(WAFERS["defective"], WAFERS["n"])
    assert chart.centre == pytest.approx(0.2313, abs=5.1e-5)
    assert chart.high == pytest.approx(np.full(30, 0.4102), abs=5.1e-5)
    assert chart.low == pytest.approx(np.full(30, 0.0524), abs=5.1e-5)
    outside = np.flatnonzero((chart.share > chart.high) | (chart.share < chart.low)) + 1
    assert outside.tolist() == [15, 23]  # the two samples with 22 and 24 of 50, by hand


def test_ewma() -> None:
    """Section 6.3.2.4, weight .3, start 50: every average as printed to two decimals (SEEN, quoted)."""
    assert ewma(RUN["x"], 50, 0.3) == pytest.approx(RUN["printed"], abs=0.00501)


def test_ewma_limits() -> None:
    """The same section, sigma 2.0539: limits 52.5884 and 47.4115 (SEEN); its factor is cut to .4201."""
    half = 3 * 2.0539 * ewma_spread(0.3)
    assert (50 + half, 50 - half) == pytest.approx((52.5884, 47.4115), abs=3e-4)
    assert ewma_spread(0.3, after=1) == pytest.approx(0.3)
    assert ewma_spread(0.3, after=60) == pytest.approx(ewma_spread(0.3))


def test_ewma_wants_a_weight() -> None:
    with pytest.raises(ValueError, match="cannot count 0"):
        ewma([1, 2], 1, 0)


def test_laney_is_its_formula() -> None:
    """No printed example is known to us; by another way, 1.660867 and limits .528472, -.065805 (CALC)."""
    chart = laney_chart(WAFERS["defective"], WAFERS["n"])
    assert chart.widened == pytest.approx(1.660867, abs=1e-6)
    assert chart.high[0] == pytest.approx(0.528472, abs=1e-6)
    assert chart.low[0] == pytest.approx(-0.065805, abs=1e-6)


def test_moving_range_leaves_gaps_out() -> None:
    """By hand: values 1, (none), 4, 2: differences 3 and 2, mean 2.5."""
    spread, pairs = moving_range(np.array([1.0, 99.0, 4.0, 2.0]), np.array([True, False, True, True]))
    assert pairs == 2
    assert spread == pytest.approx(2.5 / 1.128)
