"""The effect of a change on one step: published means, a slow twin, by hand, and what it refuses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from analytics.changes.effect import joined, step_effect
from analytics.changes.layout import Layout
from analytics.changes.records import difference_in_differences
from analytics.measures.intervals import wilson

PENS, BATCHES, EGGS = 5, 16, 40


def test_fast_food_wages() -> None:
    """Card and Krueger 1994, American Economic Review 84:772-793, table 3 (SEEN in several replications).

    Full-time jobs a restaurant before and after the wage rose: New Jersey 20.44 and 21.03, Pennsylvania,
    where it did not rise, 23.33 and 21.17. The rounded means give 2.75; the paper prints 2.76, from means
    that were not rounded.
    """
    found = difference_in_differences(before=20.44, after=21.03, controls_before=23.33, controls_after=21.17)
    assert found == pytest.approx(2.75, abs=1e-9)
    assert abs(found - 2.76) < 0.5 * 4 * 0.01


def _layout(touched: tuple[int, ...] = (0,)) -> Layout:
    """Every pen has a tray in every batch; two batches a month; the change is halfway."""
    batch, pen = (part.ravel() for part in np.meshgrid(range(BATCHES), range(PENS), indexing="ij"))
    return Layout(
        touched=np.isin(pen, touched),
        after=batch >= BATCHES // 2,
        unit=pen,
        held={"batch": batch},
        alike=100 * pen + batch // 2,
    )


def _passed(layout: Layout, seed: int, drop: float = 0.0, pen_months: float = 0.06) -> np.ndarray:
    random = np.random.default_rng(seed)
    rate = 0.8 + random.normal(0, 0.05, BATCHES)[layout.held["batch"]] + 0.02 * layout.unit
    rate = rate + random.normal(0, pen_months, 1000)[layout.alike]
    rate = rate - drop * (layout.touched & layout.after)
    return random.binomial(EGGS, np.clip(rate, 0.05, 0.97)).astype(float)


@pytest.mark.filterwarnings("ignore:The MLE may be on the boundary")
def test_twin_by_another_program() -> None:
    """The same model fitted by statsmodels (MixedLM, REML), trays of equal size."""
    from scipy.stats import t
    from statsmodels.formula.api import mixedlm

    layout = _layout((0, 3))
    passed, eggs = _passed(layout, 3, drop=0.1), np.full(PENS * BATCHES, float(EGGS))
    found = step_effect(passed, eggs, layout)
    frame = pd.DataFrame({
        "rate": passed / eggs,
        "pen": layout.unit.astype(str),
        "batch": layout.held["batch"].astype(str),
        "months": layout.alike,
        "change": (layout.touched & layout.after).astype(float),
    })  # fmt: skip
    twin = mixedlm("rate ~ C(batch) + C(pen) + change", frame, groups=frame["months"]).fit(reml=True)
    low, difference, high, _ = found.known()
    assert float(twin.cov_re.iloc[0, 0]) > 1e-4, "the pen-months must matter, or this compares little"
    assert difference == pytest.approx(float(twin.params["change"]), abs=2e-4)
    error = float(twin.bse["change"])
    assert (high - low) / 2 == pytest.approx(error * t.ppf(0.975, found.dof), rel=0.08)


def test_balanced_trays_give_the_plain_difference() -> None:
    layout = _layout()
    found = step_effect(_passed(layout, 8), np.full(PENS * BATCHES, EGGS), layout)
    assert found.difference == pytest.approx(found.sides.plain_difference(), abs=1e-9)


def test_odds_by_hand() -> None:
    """Trays exactly at their rates: odds of the pen 4 then 3, of the others 9 then 9; (3/4)/(9/9) = .75."""
    layout = _layout()
    rate = np.where(layout.touched, np.where(layout.after, 0.75, 0.80), 0.90)
    eggs = np.full(PENS * BATCHES, 2000.0)
    passed = rate * eggs + np.resize([7.0, -7.0, 5.0, -5.0, -3.0, 4.0, -1.0], PENS * BATCHES)
    found = step_effect(passed, eggs, layout)
    assert found.odds is not None
    assert found.odds.ratio == pytest.approx(0.75, rel=0.02)
    assert found.odds.low < found.odds.ratio < found.odds.high < 1
    assert found.difference == pytest.approx(-0.05, abs=2e-3)


def test_what_moves_all_pens_alike_is_no_effect() -> None:
    """The whole farm falls by 30 points on the day of the change."""
    layout = _layout()
    rate = np.where(layout.after, 0.6, 0.9)
    passed = rate * EGGS + np.resize([1.0, -1.0, 0.0, 2.0, -2.0, 1.0, 0.0], PENS * BATCHES)
    found = step_effect(passed, np.full(PENS * BATCHES, EGGS), layout)
    low, difference, high, p_value = found.known()
    assert low < 0 < high
    assert abs(difference) < 0.03
    assert p_value > 0.05


def test_plain_rates_and_their_intervals() -> None:
    """Trays that share nothing: Wilson's interval, only with Student's t for the normal."""
    layout = _layout()
    passed = np.resize([32.0, 33.0, 31.0, 32.0, 30.0, 34.0, 32.0], PENS * BATCHES)
    found = step_effect(passed, np.full(PENS * BATCHES, EGGS), layout)
    own = layout.touched & ~layout.after
    side = found.sides.before
    assert (side.eggs, side.passed, side.trays) == (EGGS * own.sum(), passed[own].sum(), own.sum())
    wide = wilson(side.passed, side.eggs)
    assert side.low is not None
    assert side.high is not None
    assert side.low < wide.low
    assert wide.high < side.high
    assert side.high - side.low < 1.2 * (wide.high - wide.low)


def test_without_an_untouched_pen_there_is_no_answer() -> None:
    layout = _layout(tuple(range(PENS)))
    found = step_effect(_passed(layout, 1), np.full(PENS * BATCHES, EGGS), layout)
    assert found.p_value is None
    assert "left as it was" in found.why
    assert found.sides.before.rate is not None


def test_pens_that_never_lie_together_tell_nothing() -> None:
    layout = _layout()
    alone = np.where(layout.touched, 2 * layout.held["batch"], 2 * layout.held["batch"] + 1)
    found = step_effect(
        _passed(layout, 1), np.full(PENS * BATCHES, EGGS), replace(layout, held={"batch": alone})
    )
    assert found.difference is None
    assert "too rarely" in found.why


@pytest.mark.parametrize("outcome", [0.0, EGGS])
def test_one_outcome_tells_nothing(outcome: float) -> None:
    layout = _layout()
    found = step_effect(np.full(PENS * BATCHES, outcome), np.full(PENS * BATCHES, EGGS), layout)
    assert found.difference is None
    assert "same outcome" in found.why


def test_trays_without_eggs_count_for_nothing() -> None:
    layout = _layout()
    passed, eggs = _passed(layout, 5), np.full(PENS * BATCHES, float(EGGS))
    eggs[[3, 40]] = passed[[3, 40]] = 0
    there = eggs > 0
    whole, part = (
        step_effect(passed, eggs, layout),
        step_effect(passed[there], eggs[there], layout.kept(there)),
    )
    assert whole == part


def test_clear_eggs_widen_and_never_sharpen() -> None:
    layout = _layout()
    eggs = np.full(PENS * BATCHES, float(EGGS))
    worse, alike = (step_effect(_passed(layout, 5, drop=drop), eggs, layout) for drop in (0.25, 0.2))
    both = joined([worse, alike])
    assert both.p_value == max(worse.known()[3], alike.known()[3])
    assert (both.low, both.high) == (
        min(worse.known()[0], alike.known()[0]),
        max(worse.known()[2], alike.known()[2]),
    )
    better = step_effect(_passed(layout, 5, drop=-0.1), eggs, layout)
    assert joined([worse, better]).p_value == 1.0
    assert joined([worse]) is worse
