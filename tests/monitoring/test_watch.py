"""The rule on farms without chance: who is named, since when, and when nobody can be."""

from __future__ import annotations

import importlib.util
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from analytics.monitoring.records import Charts, MonthlyCounts
from analytics.monitoring.watch import watch

_SPEC = importlib.util.spec_from_file_location("farms_by_hand", Path(__file__).with_name("farms_by_hand.py"))
assert _SPEC
assert _SPEC.loader
_MADE = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(_MADE)
FLOCK, NORTH, PEN_A = 0, 1, 3
PENS = (0.90, 0.85, 0.92, 0.88)


def _farm(months: int = 16, **more: float) -> MonthlyCounts:
    made: MonthlyCounts = _MADE.even_farm(np.array(PENS)[None, :, None] * np.ones((months, 4, 2)), **more)
    return made


def _with(farm: MonthlyCounts, change: np.ndarray) -> MonthlyCounts:
    """The same with other rates: change is added, shape (months, pens, machines)."""
    return replace(farm, passed=farm.passed + farm.entered * change)


def _called(charts: Charts) -> list[tuple[int, int, int]]:
    """Month, unit and state of whatever was outside."""
    found = np.argwhere(charts.state[0] != 0)
    return [(int(month), int(unit), int(charts.state[0, month, unit])) for month, unit in found]


def test_nothing_where_nothing_changes() -> None:
    charts = watch(_farm())
    assert _called(charts) == []
    assert charts.expected[0, -1, PEN_A:] == pytest.approx(PENS, abs=0.004)  # a little drawn together
    assert charts.watched[0, 4:].all()
    assert not charts.watched[0, :4].any()  # three months of baseline, and the one in between


def test_a_pen_that_falls_is_new_then_known() -> None:
    change = np.zeros((16, 4, 2))
    change[13:, 0] = -0.2
    charts = watch(_with(_farm(), change))
    assert _called(charts) == [(13, PEN_A, -1), (14, PEN_A, -2), (15, PEN_A, -2)]
    assert charts.since[0, 15, PEN_A] == 13
    assert charts.expected[0, 15, PEN_A] == pytest.approx(0.90, abs=0.004)  # its bad months left out
    assert charts.state[0, 15, FLOCK] == 0


def test_a_pen_that_recovers_is_known_no_more() -> None:
    """Back at once; the average still holds the bad month, the month alone says that it is over."""
    change = np.zeros((16, 4, 2))
    change[13, 0] = -0.2
    assert _called(watch(_with(_farm(), change))) == [(13, PEN_A, -1)]


def test_a_machine_is_named_and_not_its_pens() -> None:
    change = np.zeros((16, 4, 2))
    change[15, :, 0] = -0.25
    assert _called(watch(_with(_farm(), change))) == [(15, NORTH, -1)]


def test_all_pens_in_all_machines_are_the_flock() -> None:
    change = np.zeros((16, 4, 2))
    change[15] = -0.15
    assert _called(watch(_with(_farm(), change))) == [(15, FLOCK, -1)]


def test_a_small_fall_shows_in_the_average_only() -> None:
    """The month alone stays inside, with the one before it does not; both belong to the run."""
    change = np.zeros((16, 4, 2))
    change[14:, 0] = -0.055
    charts = watch(_with(_farm(), change))
    assert _called(charts) == [(15, PEN_A, -1)]
    average, month = charts.reach[:, 0, 0, 15, PEN_A]
    assert abs(charts.distance[0, 15, PEN_A]) < month
    assert average <= -charts.smoothed[0, 15, PEN_A]
    assert charts.since[0, 15, PEN_A] == 14


def test_few_eggs_are_not_watched() -> None:
    change = np.zeros((16, 4, 2))
    change[15, 0] = -0.9
    farm = _farm(eggs=20.0)
    charts = watch(_with(farm, change))
    assert not charts.watched[0, :, PEN_A:].any()
    assert all(unit < PEN_A for _, unit, _ in _called(charts))


def test_a_new_pen_is_held_against_the_flock_with_wider_limits() -> None:
    farm = _farm()
    there = np.ones((16, 4, 2))
    there[:15, 0] = 0
    new = replace(
        farm,
        entered=farm.entered * there,
        passed=farm.passed * there,
        tray_squares=farm.tray_squares * there,
        batch_squares=farm.batch_squares * there,
    )
    charts = watch(new)
    assert charts.own_months[0, 15, PEN_A] == 0
    assert charts.expected[0, 15, PEN_A] == pytest.approx(np.mean(PENS[1:]), abs=0.01)
    assert charts.base_worth[0, 15, PEN_A] < charts.base_worth[0, 15, PEN_A + 1] / 5


def test_a_level_of_a_year_is_the_new_usual() -> None:
    change = np.zeros((30, 4, 2))
    change[10:, 0] = -0.2
    charts = watch(_with(_farm(30), change))
    months = [month for month, unit, _ in _called(charts) if unit == PEN_A]
    assert months == list(range(10, 23))
    assert charts.expected[0, 29, PEN_A] == pytest.approx(0.70, abs=0.01)


def test_restless_months_widen_the_limits() -> None:
    """Months that swing by 6 points: the pens' limits lie farther out than for even ones."""
    swing = 0.06 * (-1.0) ** np.arange(16)[:, None, None] * np.array([1, -1, 1, -1])[:, None]
    even, restless = watch(_farm()), watch(_with(_farm(), swing * np.ones((16, 4, 2))))
    assert (restless.worth[0, 15, PEN_A:] < 0.8 * even.worth[0, 15, PEN_A:]).all()


def test_both_ends_must_agree() -> None:
    """A fall that is none if clear eggs were fertile is no signal."""
    change = np.zeros((16, 4, 2))
    change[15, 0] = -0.25
    low = _with(_farm(), change)
    open_ended = replace(
        low,
        entered=np.concatenate([low.entered, low.entered]),
        passed=np.concatenate([low.passed, _farm().passed]),
    )
    assert _called(watch(low)) == [(15, PEN_A, -1)]
    assert _called(watch(open_ended)) == []
