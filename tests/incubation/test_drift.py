"""Changes of level: a published one, ones by hand, and none where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.incubation.drift import LEAST, levels


def test_the_nile_fell_after_1898() -> None:
    """Flow of the Nile at Aswan 1871-1970: one change, after 1898 (Cobb 1978, Biometrika 65:243, MEMORY).

    Means of 1,098 and 850 on either side are widely printed (MEMORY); the flows come with statsmodels (SEEN).
    """
    from statsmodels.datasets import nile

    flows = nile.load_pandas().data["volume"].to_list()
    found = levels(flows)
    assert found.starts == (0, 28)
    (shift,) = found.shifts
    assert (shift.first, shift.last) == (0, 27)
    assert found.usual == pytest.approx(850, abs=0.5)
    assert found.usual + shift.size == pytest.approx(1098, abs=0.5)
    assert found.p_value <= 0.01


def test_a_stretch_by_hand() -> None:
    """Ten of mean 0, four of mean 10, six of mean 0; within each, 1 and -1 by turns."""
    series = [1, -1] * 5 + [11, 9] * 2 + [1, -1] * 3
    found = levels(series)
    assert [(one.first, one.last, one.size) for one in found.shifts] == [(10, 13, 10.0)]
    assert found.usual == 0.0


def test_neighbours_on_one_side_are_one_stretch() -> None:
    series = [1.0, -1.0] * 8 + [7.0, 9.0] * 2 + [11.0, 13.0] * 2 + [1.0, -1.0] * 6
    (shift,) = levels(series).shifts
    assert (shift.first, shift.last, shift.size) == (16, 23, 10.0)


def test_the_usual_level_is_the_one_it_should_be_at() -> None:
    """A thermostat that went off before the middle of the records and stayed off."""
    series = [1.0, -1.0] * 6 + [11.0, 9.0] * 8
    ((early,), (late,)) = (levels(series).shifts, levels(series, towards=1.0).shifts)
    assert (early.first, early.last, early.size) == (0, 11, -10.0)
    assert (late.first, late.last, late.size) == (12, 27, 10.0)
    (still_early,) = levels(series, towards=5.0).shifts
    assert still_early == early


def test_a_single_stray_value_is_no_stretch() -> None:
    chance = np.random.default_rng(3)
    series = chance.normal(0, 1, 30)
    series[12] = 9.0
    assert all(one.last > one.first for one in levels(series.tolist()).shifts)


@pytest.mark.parametrize("series", [[], [5.0], [3.0] * 40, [1.0, 9.0] * (LEAST // 2 - 1)])
def test_too_few_or_all_alike_are_one_level(series: list[float]) -> None:
    found = levels(series)
    assert (found.starts, found.shifts, found.p_value) == ((0,), (), 1.0)


def test_chance_alone_is_seldom_cut() -> None:
    """4 % by design; 400 series of 24: 8 % would be four standard errors off."""
    chance = np.random.default_rng(11)
    cut = [bool(levels(chance.normal(400, 3, 24).tolist()).shifts) for _ in range(400)]
    assert np.mean(cut) <= 0.08
