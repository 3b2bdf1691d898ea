"""Where a series breaks, against the annual flow of the Nile at Aswan."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from analytics.changes.opening import opening

NILE = Path(__file__).parents[1] / "reference" / "nile.csv"


def test_the_nile_falls_after_1898() -> None:
    """The last year before the fall is 1898: Cobb 1978, Biometrika 65:243-251 (MEMORY).

    The means 1097.7500 and 849.9722 on both sides, with the break at place 28, are what R's package
    changepoint prints for the same hundred years (SEEN in public notes). Pettitt's K of 1617, whose p is
    3.59e-07, was worked out beside this program (no publication).
    """
    with NILE.open(encoding="utf-8") as file:
        rows = [(int(row["year"]), float(row["volume"])) for row in csv.DictReader(file)]
    found = opening([volume for _, volume in rows])
    assert found is not None
    assert rows[found.place - 1][0] == 1898
    assert rows[found.pettitt_place - 1][0] == 1898
    assert found.mean_before == pytest.approx(1097.75, abs=5e-5)
    assert found.mean_after == pytest.approx(849.9722, abs=5e-5)
    assert found.p_value == pytest.approx(2 * np.exp(-6 * 1617**2 / (100**3 + 100**2)), rel=1e-9)


def test_weights_count_like_repeated_values() -> None:
    values, times = [0.9, 0.7, 0.88, 0.5, 0.6, 0.4], [1, 5, 2, 3, 1, 4]
    weighted, repeated = opening(values, times), opening(np.repeat(values, times))
    assert weighted is not None
    assert repeated is not None
    assert sum(times[: weighted.place]) == repeated.place
    assert weighted.mean_before == pytest.approx(repeated.mean_before)
    assert weighted.mean_after == pytest.approx(repeated.mean_after)


def test_the_break_leaves_the_least_squares() -> None:
    values = np.random.default_rng(4).normal(size=25)
    left = [
        sum(float(((part - part.mean()) ** 2).sum()) for part in (values[:at], values[at:]))
        for at in range(1, len(values))
    ]
    found = opening(values)
    assert found is not None
    assert found.place == 1 + int(np.argmin(left))


def test_three_values_have_no_break() -> None:
    assert opening([1.0, 2.0, 3.0]) is None
