"""The run of months that stands out, on draws small enough to see by eye."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from numpy.testing import assert_allclose
from scipy.stats import norm

from analytics.attribution.runs import cells_by_level, month_of, worst_run


def draws(*means: float, sd: float = 1.0) -> np.ndarray:
    return np.random.default_rng(4).normal(means, sd, (2000, len(means)))


def test_the_months_of_a_level_stand_in_order() -> None:
    cells = ("Flint / 2026-03", "Slate / 2026-01", "Flint / 2025-12")
    assert cells_by_level(cells) == {"Flint": [2, 0], "Slate": [1]}
    assert month_of("A / B / 2026-03") == "2026-03"


def test_the_bad_months_are_found() -> None:
    run = worst_run(draws(0, 0, 4, 5, 4, 0, 0, 0))
    assert run
    assert (run.first, run.last) == (2, 4)
    assert run.p_value < 1e-6


def test_the_slow_way_round_finds_the_same_run_and_p_value() -> None:
    lost = draws(0.3, -0.4, 0.8, 0.2, -1.0)
    heights = {}
    for first, end in combinations(range(6), 2):
        inside = list(range(first, end))
        outside = [month for month in range(5) if month not in inside]
        if outside:
            apart = lost[:, inside].mean(axis=1) - lost[:, outside].mean(axis=1)
            heights[first, end - 1] = apart.mean() / apart.std()
    run = worst_run(lost)
    assert run
    assert heights[run.first, run.last] == max(heights.values())
    assert_allclose(run.p_value, min(1, 2 * norm.sf(max(heights.values())) * len(heights)))


def test_all_months_together_are_no_run() -> None:
    run = worst_run(draws(3, 3, 3.5))
    assert run
    assert (run.first, run.last) != (0, 2)


def test_what_all_months_share_does_not_count() -> None:
    lost = draws(0, 0, 4, 4, 0)
    shared = lost + np.random.default_rng(5).normal(2, 9, (2000, 1))
    one, two = worst_run(lost), worst_run(shared)
    assert one
    assert two
    assert (two.first, two.last) == (one.first, one.last) == (2, 3)
    assert_allclose(two.p_value, one.p_value)


def test_where_no_month_differs_there_is_no_run() -> None:
    assert worst_run(draws(5, 5)) is None
    assert worst_run(np.zeros((100, 4))) is None
