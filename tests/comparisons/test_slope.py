"""The clustered slope: published regressions, library twins, what it holds equal, and its hard cases."""

from __future__ import annotations

import math
import warnings
from dataclasses import astuple
from typing import Any

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import interpolate, stats

from analytics.comparisons.between_pens import BetweenPens
from analytics.comparisons.slope import clustered_slope
from analytics.comparisons.splines import bends, knots_for
from analytics.comparisons.trend import trend

RANDOM = 20260411


def _farm(
    random: np.random.Generator, pens: int = 5, batches: int = 14, noise: float = 0.5
) -> dict[str, Any]:
    """Trays of some pens in each batch, x by tray; logit noise of batch and tray."""
    there = random.random((batches, pens)) < 0.6
    there[:, :2] = True
    batch, pen = np.nonzero(there)
    eta = 1.8 + random.normal(0, noise, batches)[batch] + random.normal(0, noise, len(pen))
    eggs = random.integers(8, 40, len(pen))
    passed = random.binomial(eggs, 1 / (1 + np.exp(-eta)))
    x = random.integers(0, 11, len(pen)).astype(float)
    return {"passed": passed, "eggs": eggs, "x": x, "pen": pen, "batch": batch, "others": (batch % 2,)}


def test_one_pen_one_batch_is_the_textbook_regression() -> None:
    """Anscombe 1973, The American Statistician 27:17-21, first set: slope 0.500, its standard error 0.118,
    t 4.24 on 9 degrees of freedom (MEMORY); y as tenths of thousandths of 20 000 eggs."""
    x = [10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5]
    y = [8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68]
    found = clustered_slope(np.round(1000 * np.array(y)), [20_000] * 11, x, ["a"] * 11, ["b"] * 11).within
    assert 20 * found.estimate == pytest.approx(0.500, abs=5e-4)
    assert 20 * found.error == pytest.approx(0.118, abs=5e-4)
    assert found.estimate / found.error == pytest.approx(4.24, abs=5e-3)
    assert found.dof == pytest.approx(9, rel=1e-6)
    twin = stats.linregress(x, np.array(y) / 20)
    assert found.p_value == pytest.approx(twin.pvalue, rel=1e-5)


def test_x_spread_alike_in_every_batch_is_least_squares_within_pens_and_batches() -> None:
    """Every pen once in every batch and the same five x in each (a Latin square): batches are blocks."""
    random = np.random.default_rng(RANDOM)
    pen, batch = np.tile(np.arange(5), 10), np.repeat(np.arange(10), 5)
    x = ((pen + batch) % 5).astype(float)
    passed = random.binomial(30, 0.8 - 0.03 * x + random.normal(0, 0.06, 10)[batch])
    found = clustered_slope(passed, [30] * 50, x, pen, batch)
    columns = np.column_stack((x, pen[:, None] == np.arange(5), batch[:, None] == np.arange(1, 10)))
    twin = sm.OLS(passed / 30, columns.astype(float)).fit()
    assert found.batch_variance > 0
    for ours in (found.within, found.same_batch):
        assert ours.estimate == pytest.approx(twin.params[0], rel=1e-6)
        assert ours.error == pytest.approx(twin.bse[0], rel=1e-5)
        assert ours.p_value == pytest.approx(twin.pvalues[0], rel=1e-4)
        assert (ours.low, ours.high) == pytest.approx(tuple(twin.conf_int()[0]), rel=1e-4)
    assert found.within.dof == pytest.approx(twin.df_resid, rel=1e-5)


def test_slope_and_variance_agree_with_statsmodels_mixed_model() -> None:
    farm = _farm(np.random.default_rng(RANDOM + 1))
    n = len(farm["x"])
    random = np.random.default_rng(RANDOM)
    passed = random.binomial(25, random.uniform(0.5, 0.95, 14)[farm["batch"]])
    found = clustered_slope(passed, [25] * n, farm["x"], farm["pen"], farm["batch"])
    design = np.column_stack((farm["x"], farm["pen"][:, None] == np.arange(5))).astype(float)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        twin = sm.MixedLM(passed / 25, design, farm["batch"]).fit(reml=True)
    assert found.within.estimate == pytest.approx(float(twin.fe_params[0]), rel=1e-3)
    assert found.batch_variance == pytest.approx(float(twin.cov_re[0, 0]), rel=1e-3)
    # Kenward and Roger's error allows for what is not known of the variances: a little wider, never less
    assert 1.0 <= found.within.error / float(twin.bse_fe[0]) < 1.05


def test_slope_between_units_is_the_published_meta_regression() -> None:
    """BCG vaccine and latitude, 13 trials (Colditz 1994, JAMA 271:698-702): mixed-effects regression by REML
    with Knapp and Hartung's error, as printed by metafor: slope -0.0291 (MEMORY), F 12.5905 on 1 and 11,
    p 0.0046 (SEEN in its README)."""
    rows = np.array(
        [
            [4, 119, 11, 128, 44], [6, 300, 29, 274, 55], [3, 228, 11, 209, 42], [62, 13536, 248, 12619, 52],
            [33, 5036, 47, 5761, 13], [180, 1361, 372, 1079, 44], [8, 2537, 10, 619, 19],
            [505, 87886, 499, 87892, 13], [29, 7470, 45, 7232, 27], [17, 1699, 65, 1600, 42],
            [186, 50448, 141, 27197, 18], [5, 2493, 3, 2338, 33], [27, 16886, 29, 17825, 33],
        ],
        dtype=float,
    )  # fmt: skip
    sick, well, control_sick, control_well, latitude = rows.T
    treated, controls = sick + well, control_sick + control_well
    effect = np.log((sick / treated) / (control_sick / controls))
    variance = 1 / sick - 1 / treated + 1 / control_sick - 1 / controls
    found = BetweenPens(latitude, effect, np.diag(variance), [tuple(range(13))]).slope()
    assert found.estimate == pytest.approx(-0.0291, abs=5e-5)
    assert (found.estimate / found.error) ** 2 == pytest.approx(12.5905, abs=5e-4)
    assert found.dof == 11
    assert found.p_value == pytest.approx(0.0046, abs=5e-5)


def test_spline_is_the_natural_cubic_of_scipy() -> None:
    x = np.linspace(0, 12, 200)
    knots = knots_for(x)
    assert len(knots) == 5
    values = np.array([0.2, 0.9, 0.4, 0.5, 0.1])
    twin = interpolate.CubicSpline(knots, values, bc_type="natural")
    columns = np.column_stack((np.ones(200), x, bends(x, knots)))
    inside = (x >= knots[0]) & (x <= knots[-1])
    fitted, left, *_ = np.linalg.lstsq(columns[inside], twin(x[inside]), rcond=None)
    assert float(left[0]) < 1e-18
    straight = (columns @ fitted)[x > knots[-1]]
    assert np.abs(np.diff(straight, 2)).max() < 1e-10


@pytest.mark.parametrize(("values", "count"), [([1, 2], 0), ([1, 2, 3], 3), (range(6), 4), (range(40), 5)])
def test_few_values_have_few_knots(values: Any, count: int) -> None:
    assert len(knots_for(np.repeat(np.array(values, dtype=float), 5))) == count


def _six_pens(random: np.random.Generator, slope: float, stored_long: float, others: float, eggs: int) -> Any:
    """Two of six pens are stored long; pens' rates and what a day of storage does are given."""
    pen, batch = np.tile(np.arange(6), 20), np.repeat(np.arange(20), 6)
    x = np.where(pen < 2, 8, 3) + random.integers(-2, 3, 120)
    passed = random.binomial(eggs, np.where(pen < 2, stored_long, others) + slope * (x - 5))
    return clustered_slope(passed, [eggs] * 120, x, pen, batch), trend(passed, [eggs] * 120, x)


def test_poor_pens_that_are_stored_long_do_not_pass_for_storage() -> None:
    """x does nothing; the two poor pens are those stored long: pooled eggs call it, within pens nothing."""
    random = np.random.default_rng(RANDOM)
    drawn = [_six_pens(random, 0.0, 0.6, 0.9, 30) for _ in range(60)]
    assert all(pooled.test.p_value < 1e-6 for _, pooled in drawn)
    slopes = [found.within for found, _ in drawn]
    assert sum(slope.p_value < 0.05 for slope in slopes) <= 10  # 60 at 5 %: more than 10 once in 3,000
    error = float(np.std([slope.estimate for slope in slopes])) / math.sqrt(60)
    assert abs(np.mean([slope.estimate for slope in slopes])) < 3.3 * error
    assert np.mean([found.between.estimate for found, _ in drawn]) < -0.03


def test_storage_harm_is_found_where_the_long_stored_pens_are_the_better_ones() -> None:
    random = np.random.default_rng(RANDOM)
    drawn = [_six_pens(random, -0.02, 0.92, 0.6, 60) for _ in range(40)]
    assert all(pooled.slope > 0 for _, pooled in drawn)
    slopes = [found.within for found, _ in drawn]
    assert sum(slope.high < 0 for slope in slopes) >= 36
    assert sum(slope.low <= -0.02 <= slope.high for slope in slopes) >= 33
    assert all(found.between.estimate > 0 for found, _ in drawn)


def test_a_bad_season_with_long_storage_is_told_among_trays_of_one_batch() -> None:
    """Bad batches are those stored long; within a batch x does nothing."""
    random = np.random.default_rng(RANDOM)
    pen, batch = np.tile(np.arange(6), 30), np.repeat(np.arange(30), 6)
    x = np.where(batch < 15, 3, 8) + random.integers(-2, 3, 180)
    passed = random.binomial(40, np.where(batch < 15, 0.9, 0.7))
    found = clustered_slope(passed, [40] * 180, x, pen, batch)
    assert found.within.estimate < found.same_batch.low < 0 < found.same_batch.high


def test_a_bend_is_seen_and_the_curve_stays_in_the_data() -> None:
    random = np.random.default_rng(RANDOM)
    pen, batch = np.tile(np.arange(5), 40), np.repeat(np.arange(40), 5)
    x = random.uniform(0, 10, 200)
    truth = 0.55 + 0.35 * np.exp(-(((x - 5) / 3) ** 2))
    found = clustered_slope(random.binomial(60, truth), [60] * 200, x, pen, batch)
    assert found.bend.p_value < 1e-6
    at = np.array([point.x for point in found.curve])
    assert (at.min(), at.max()) == pytest.approx((x.min(), x.max()))
    fitted = np.interp([1.0, 5.0, 9.0], at, [point.rate for point in found.curve])
    assert fitted == pytest.approx(0.55 + 0.35 * np.exp(-(((np.array([1, 5, 9]) - 5) / 3) ** 2)), abs=0.04)
    assert all(0 <= point.low <= point.rate <= point.high <= 1 for point in found.curve)


def test_x_by_batch_is_carried_by_the_batches() -> None:
    """x is one number a batch, batches differ: as many independent figures as batches, not as eggs."""
    random = np.random.default_rng(RANDOM)
    pen, batch = np.tile(np.arange(4), 12), np.repeat(np.arange(12), 4)
    passed = random.binomial(40, np.clip(0.8 + random.normal(0, 0.1, 12), 0, 1)[batch])
    found = clustered_slope(passed, [40] * 48, batch.astype(float), pen, batch)
    means = (passed / 40).reshape(12, 4).mean(axis=1)
    twin = stats.linregress(np.arange(12), means)
    assert found.within.estimate == pytest.approx(twin.slope, rel=1e-6)
    assert found.within.error == pytest.approx(twin.stderr, rel=1e-5)
    assert found.within.dof == pytest.approx(10, rel=1e-4)
    assert found.same_batch.why == "It never varies within a batch, pens apart."


def test_units_order_names_and_sides_do_not_matter() -> None:
    random = np.random.default_rng(RANDOM + 2)
    farm = _farm(random)
    straight = clustered_slope(**farm).within
    order = random.permutation(len(farm["x"]))
    mixed = {
        "passed": (farm["eggs"] - farm["passed"])[order],
        "eggs": farm["eggs"][order],
        "x": 7 * farm["x"][order] + 100,
        "pen": np.array(["e", "b", "a", "d", "c"])[farm["pen"]][order],
        "batch": -farm["batch"][order],
        "others": (farm["others"][0][order],),
    }
    turned = clustered_slope(**mixed).within
    assert -7 * turned.estimate == pytest.approx(straight.estimate, rel=1e-5)
    assert turned.p_value == pytest.approx(straight.p_value, rel=1e-4)
    assert clustered_slope(**farm, near=0.04).within.p_value == pytest.approx(straight.p_value, rel=1e-2)


def test_blank_x_and_empty_trays_are_left_out() -> None:
    farm = _farm(np.random.default_rng(RANDOM))
    more = {
        "passed": np.append(farm["passed"], [3, 0]),
        "eggs": np.append(farm["eggs"], [5, 0]),
        "x": np.append(farm["x"], [np.nan, 4.0]),
        "pen": np.append(farm["pen"], [0, 1]),
        "batch": np.append(farm["batch"], [0, 1]),
        "others": (np.append(farm["others"][0], [0, 1]),),
    }
    assert clustered_slope(**more) == clustered_slope(**farm)


NOTHING: dict[str, tuple[dict[str, Any], str]] = {
    "no trays": ({"passed": [], "eggs": [], "x": [], "pen": [], "batch": []}, "No tray has both"),
    "x never written": (
        {"passed": [1, 2], "eggs": [3, 3], "x": [math.nan] * 2, "pen": "ab", "batch": "cc"},
        "No tray has both",
    ),
    "one x": ({"passed": [1, 2, 2], "eggs": [3] * 3, "x": [4] * 3, "pen": "aab", "batch": "ccc"}, "the same"),
    "no failures": (
        {"passed": [3, 3, 3], "eggs": [3] * 3, "x": [1, 2, 3], "pen": "aaa", "batch": "ccc"},
        "same outcome",
    ),
    "all infertile": (
        {"passed": [0, 0, 0], "eggs": [3] * 3, "x": [1, 2, 3], "pen": "aaa", "batch": "ccc"},
        "same outcome",
    ),
    "two trays": (
        {"passed": [1, 3], "eggs": [3] * 2, "x": [1, 2], "pen": "aa", "batch": "cd"},
        "too few trays",
    ),
    "no spread": (
        {"passed": [2] * 6, "eggs": [4] * 6, "x": [1, 2, 3] * 2, "pen": "aaabbb", "batch": "cdecde"},
        "do not differ",
    ),
    "x is the pen": (
        {
            "passed": [8, 7, 9, 6, 8, 5],
            "eggs": [10] * 6,
            "x": [1, 1, 1, 2, 2, 2],
            "pen": "aaabbb",
            "batch": "cdecde",
        },
        "never varies within a pen",
    ),
    "x is the machine": (
        {
            "passed": [8, 7, 9, 6, 8, 5, 7, 9],
            "eggs": [10] * 8,
            "x": [1, 1, 2, 2] * 2,
            "pen": "aaaabbbb",
            "batch": "cdefcdef",
            "others": (list("mmnnmmnn"),),
        },
        "told apart from the machines",
    ),
}


@pytest.mark.parametrize("case", NOTHING)
def test_no_slope_has_a_sentence(case: str) -> None:
    given, why = NOTHING[case]
    found = clustered_slope(**{name: list(row) if name != "others" else row for name, row in given.items()})
    assert found.within.estimate is None
    assert why in found.within.why
    assert found.curve == ()
    assert found.bend.p_value is None


def _numbers(record: Any) -> list[float]:
    if isinstance(record, (tuple, list)):
        return [number for part in record for number in _numbers(part)]
    return [record] if isinstance(record, float) else []


@pytest.mark.parametrize("seed", range(12))
def test_thin_records_give_numbers_or_sentences_never_nan(seed: int) -> None:
    random = np.random.default_rng(RANDOM + seed)
    n = int(random.integers(3, 12))
    eggs = random.integers(1, 4, n)
    found = clustered_slope(
        random.binomial(eggs, random.uniform(0.02, 0.98)),
        eggs,
        random.integers(0, 4, n),
        random.integers(0, 3, n),
        random.integers(0, 4, n),
        (random.integers(0, 2, n),),
    )
    values = [value for value in _numbers(astuple(found)) if value != math.inf]
    assert all(math.isfinite(value) for value in values)
    assert all((slope.estimate is None) == bool(slope.why) for slope in (found.within, found.between))


def test_separation_still_has_a_slope() -> None:
    """All hatch up to 3 days, none after: no odds ratio exists, but points a day do."""
    x = np.tile([1.0, 2.0, 3.0, 6.0, 7.0, 8.0], 6)
    passed = np.where(x < 4, 10, 0)
    found = clustered_slope(passed, [10] * 36, x, np.repeat([0, 1], 18), np.repeat(np.arange(6), 6))
    assert found.within.high < 0
    assert found.within.odds is None


def test_more_passed_than_eggs_is_refused() -> None:
    with pytest.raises(ValueError, match="0 to the eggs"):
        clustered_slope([4], [3], [1], ["a"], ["b"])
    with pytest.raises(ValueError, match="equal length"):
        clustered_slope([1, 2], [3], [1], ["a"], ["b"])


def test_odds_ratio_is_the_published_logistic_regression() -> None:
    """Snoring and heart disease (Norton and Dunn 1985, BMJ 291:630-632; Agresti 2002, Categorical Data
    Analysis, 2nd ed., section 4.2: logit model -3.87 + 0.40 x with scores 0, 2, 4, 5; MEMORY). Four groups
    that share nothing are weighed by their eggs, as logistic regression weighs them."""
    sick, people, scores = [24, 35, 21, 30], [1379, 638, 213, 254], [0, 2, 4, 5]
    found = clustered_slope(sick, people, scores, ["a"] * 4, ["b"] * 4).within
    assert math.log(found.odds.ratio) == pytest.approx(0.40, abs=5e-3)
    design = sm.add_constant(np.array(scores, dtype=float))
    table = np.column_stack((sick, np.array(people) - sick))
    twin = sm.GLM(table, design, family=sm.families.Binomial()).fit()
    assert math.log(found.odds.ratio) == pytest.approx(twin.params[1], rel=1e-6)
    assert found.odds.low < found.odds.ratio < found.odds.high


def test_odds_ratio_put_back_in() -> None:
    """Rates without chance whose log odds fall by 0.12 a unit in every pen: exactly that comes out."""
    pen, x = np.repeat(np.arange(3), 8), np.tile(np.arange(8.0), 3)
    rates = 1 / (1 + np.exp(-(np.array([2.0, 1.0, 0.3])[pen] - 0.12 * x)))
    found = clustered_slope(rates * 50, [50] * 24, x, pen, np.tile(np.arange(8), 3) // 2)
    assert found.within.odds.ratio == pytest.approx(math.exp(-0.12), rel=1e-6)
    assert found.within.odds.per(0.5).ratio == pytest.approx(math.exp(-0.06), rel=1e-6)


def test_odds_ratio_turns_over_with_x_and_with_the_side_that_is_counted() -> None:
    farm = _farm(np.random.default_rng(RANDOM))
    found = clustered_slope(**farm).within.odds
    lost = clustered_slope(**(farm | {"passed": farm["eggs"] - farm["passed"]})).within.odds
    back = clustered_slope(**(farm | {"x": -farm["x"]})).within.odds
    for other in (lost, back):
        assert other.ratio == pytest.approx(1 / found.ratio, rel=1e-6)
        assert other.low == pytest.approx(1 / found.high, rel=1e-5)
        assert other.high == pytest.approx(1 / found.low, rel=1e-5)


def test_a_pen_without_a_loss_has_nothing_to_say_of_odds() -> None:
    farm = _farm(np.random.default_rng(RANDOM + 3))
    farm["passed"] = np.where(farm["pen"] == 2, farm["eggs"], farm["passed"])
    with_it = clustered_slope(**farm)
    own = farm["pen"] != 2
    names = ("passed", "eggs", "x", "pen", "batch")
    without = {name: farm[name][own] for name in names} | {"others": (farm["others"][0][own],)}
    assert with_it.within.odds.ratio == pytest.approx(clustered_slope(**without).within.odds.ratio, rel=0.05)
    assert with_it.within.odds.low < with_it.within.odds.ratio < with_it.within.odds.high


def test_batches_more_alike_than_chance_have_a_variance_below_zero() -> None:
    """Every batch has the same 33 of 40 eggs, spread over its trays by chance."""
    random = np.random.default_rng(RANDOM)
    pen, batch = np.tile(np.arange(4), 12), np.repeat(np.arange(12), 4)
    passed = np.concatenate([random.multinomial(33, [0.25] * 4).clip(0, 10) for _ in range(12)])
    found = clustered_slope(passed, [10] * 48, batch.astype(float), pen, batch)
    assert found.batch_variance < 0
    assert found.within.error > 0
