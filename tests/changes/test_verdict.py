"""Verdicts: how many steps were tested is allowed for, and a wide interval is no answer."""

from __future__ import annotations

import pytest

from analytics.changes.records import SideRate, Sides, StepEffect
from analytics.changes.verdict import holm, judged
from analytics.comparisons.differences import adjusted

NONE = SideRate(0.0, 0.0, 0)
SIDES = Sides(NONE, NONE, NONE, NONE)


def _effect(difference: float, reach: float, p_value: float) -> StepEffect:
    return StepEffect(
        SIDES, difference, difference - reach, difference + reach, p_value, 20.0, None, ""
    )  # fmt: skip


def test_holm_over_the_steps_that_were_tested() -> None:
    """Holm 1979: the smallest p times the tests, the next times one less, never falling; by hand."""
    untested = StepEffect.missing(SIDES, "No tray.")
    effects = [_effect(0.05, 0.04, 0.01), untested, _effect(-0.05, 0.05, 0.04), _effect(-0.05, 0.05, 0.03)]
    found = judged(effects)
    assert [one.p_adjusted for one in found] == [pytest.approx(0.03), None, *[pytest.approx(0.06)] * 2]
    assert [one.verdict for one in found] == ["better", "cannot_tell", "no_clear_change", "no_clear_change"]
    assert found[1].why == "No tray."


def test_holm_is_that_of_statsmodels() -> None:
    p_values = [0.2, None, 0.001, 0.04, 0.04, 0.9, 0.011, None, 0.7]
    assert holm(p_values) == pytest.approx(adjusted(p_values, "holm"))
    assert holm([]) == ()


def test_a_lower_rate_of_passing_is_worse() -> None:
    assert judged([_effect(-0.1, 0.05, 0.001)])[0].verdict == "worse"


def test_an_interval_that_holds_anything_is_no_answer() -> None:
    wide, narrow, to_one_side = judged(
        [_effect(0.01, 0.14, 0.8), _effect(0.01, 0.06, 0.8), _effect(0.1, 0.15, 0.2)]
    )
    assert (wide.verdict, narrow.verdict, to_one_side.verdict) == (
        "cannot_tell",
        "no_clear_change",
        "no_clear_change",
    )
    assert wide.why
    assert not narrow.why
