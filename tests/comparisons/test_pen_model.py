"""One model, every contrast: textbook analyses, the dense twin, library fits, and what cannot be compared."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from analytics.comparisons.deal_model import DealModel
from analytics.comparisons.hierarchical import shrunk_by_worth
from analytics.comparisons.line_model import LineModel
from analytics.comparisons.pen_model import pen_model
from analytics.comparisons.standing_out import eggs_to_decide, pairs, smallest_seen, stand_out

RANDOM = 20260401


def _farm(random: np.random.Generator, pens: int = 5, batches: int = 16, poor: float = 0.0):
    there = random.random((batches, pens)) < 0.6
    there[:, :2] = True
    batch, pen = np.nonzero(there)
    eta = 2 + random.normal(0, 0.4, batches)[batch] + random.normal(0, 0.4, len(pen)) - poor * (pen == 0)
    eggs = random.integers(8, 40, len(pen))
    return random.binomial(eggs, 1 / (1 + np.exp(-eta))), eggs, pen, batch


@pytest.mark.parametrize("seed", range(3))
def test_contrasts_equal_dense_matrices(seed: int) -> None:
    """Estimate, error and degrees of freedom with every matrix written out, at the variances found."""
    passed, eggs, pen, batch = _farm(np.random.default_rng(RANDOM + seed))
    found = pen_model(passed, eggs, pen, batch, [batch % 2])
    x = np.column_stack((np.ones(len(eggs)), batch % 2, pen[:, None] == np.arange(1, 5))).astype(float)
    pick = np.array([0, 0, 0, -1, 0, 1.0])  # the fifth pen less the third
    wanted = _dense(passed / eggs, eggs, x, batch, found, pick)
    contrast = found.difference(4, 2)
    told = (contrast.estimate, contrast.error, contrast.dof / contrast.stretch)
    assert told == pytest.approx(wanted, rel=1e-5)


def _dense(y, eggs, x, batch, found, pick) -> tuple[float, float, float]:
    parts = [np.diag((1 + (eggs - 1) * found.tray_rho) / eggs), (batch[:, None] == batch).astype(float)]
    inverse = np.linalg.inv(found.egg_variance * parts[0] + found.batch_variance * parts[1])
    phi = np.linalg.inv(x.T @ inverse @ x)
    p = [-x.T @ inverse @ g @ inverse @ x for g in parts]
    projector = inverse - inverse @ x @ phi @ x.T @ inverse
    information = [[np.trace(projector @ g @ projector @ h) / 2 for h in parts] for g in parts]
    w = np.linalg.inv(np.array(information))
    total = sum(
        w[i, j] * (x.T @ inverse @ parts[i] @ inverse @ parts[j] @ inverse @ x - p[i] @ phi @ p[j])
        for i in range(2)
        for j in range(2)
    )
    adjusted = phi + 2 * phi @ total @ phi
    gradient = np.array([pick @ phi @ one @ phi @ pick for one in p])
    dof = 2 * (pick @ phi @ pick) ** 2 / (gradient @ w @ gradient)
    return float(pick @ phi @ x.T @ inverse @ y), float(np.sqrt(pick @ adjusted @ pick)), float(dof)


def test_complete_blocks_give_the_textbook_contrast() -> None:
    """Every pen once in every batch: differences of means, error sqrt(2 MS / batches), t on 21 (Fisher)."""
    random = np.random.default_rng(RANDOM)
    rate = np.clip(0.8 + random.normal(0, 0.15, 8)[:, None] + random.normal(0, 0.05, (8, 4)), 0, 1)
    passed = random.binomial(30, rate)
    found = pen_model(passed.ravel(), np.full(32, 30), np.tile(np.arange(4), 8), np.repeat(np.arange(8), 4))
    y = passed / 30
    left = ((y - y.mean(0) - y.mean(1, keepdims=True) + y.mean()) ** 2).sum() / 21
    contrast = found.difference(0, 3)
    assert contrast.estimate == pytest.approx(y[:, 0].mean() - y[:, 3].mean())
    assert contrast.error == pytest.approx(np.sqrt(2 * left / 8), rel=1e-5)
    stretch = contrast.stretch
    assert stretch == pytest.approx(1, rel=0.2)
    assert contrast.dof == pytest.approx(21 * stretch, rel=1e-4)
    squared = (contrast.estimate / contrast.error) ** 2
    assert contrast.p_value == pytest.approx(stats.f.sf(squared, stretch, 21 * stretch), rel=1e-4)
    half = np.sqrt(stats.f.ppf(0.95, stretch, 21 * stretch)) * contrast.error
    assert contrast.limits() == pytest.approx((contrast.estimate - half, contrast.estimate + half), rel=1e-4)
    against = found.against(1, [0, 2, 3])
    assert against.estimate == pytest.approx(y[:, 1].mean() - y[:, [0, 2, 3]].mean())
    assert against.error == pytest.approx(np.sqrt(left / 8 * (1 + 1 / 3)), rel=1e-5)


def test_a_covariate_is_taken_out_as_generalised_least_squares_does() -> None:
    random = np.random.default_rng(RANDOM + 7)
    passed, eggs, pen, batch = _farm(random)
    storage = random.integers(0, 12, len(eggs)).astype(float)
    found = pen_model(passed, eggs, pen, batch, [batch % 2], [storage])
    design = np.column_stack((np.ones(len(eggs)), batch % 2, storage, pen[:, None] == np.arange(1, 5)))
    own = found.egg_variance * (1 + (eggs - 1) * found.tray_rho) / eggs
    whole = np.diag(own) + found.batch_variance * (batch[:, None] == batch[None, :])
    twin = sm.GLS(passed / eggs, design.astype(float), sigma=whole).fit()
    for pen_place in range(1, 5):
        assert found.difference(pen_place, 0).estimate == pytest.approx(twin.params[2 + pen_place], abs=1e-8)


def test_batch_variance_agrees_with_statsmodels_mixed_model() -> None:
    random = np.random.default_rng(RANDOM + 1)
    _, _, pen, batch = _farm(random)
    passed = random.binomial(25, random.uniform(0.5, 0.95, 16)[batch])
    found = pen_model(passed, np.full(len(pen), 25), pen, batch)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        design = (pen[:, None] == np.arange(5)).astype(float)
        twin = sm.MixedLM(passed / 25, design, batch).fit(reml=True)
    assert found.batch_variance == pytest.approx(float(twin.cov_re[0, 0]), rel=1e-3)


def test_eggs_need_not_be_whole_and_order_does_not_matter() -> None:
    random = np.random.default_rng(RANDOM)
    passed, eggs, pen, batch = _farm(random)
    straight = pen_model(passed * 0.9, eggs * 1.1, pen, batch)
    order = random.permutation(len(eggs))
    mixed = pen_model(
        passed[order] * 0.9, eggs[order] * 1.1, np.array(list("edcba"))[pen[order]], -batch[order]
    )
    assert mixed.test.statistic == pytest.approx(straight.test.statistic, rel=1e-6)
    assert mixed.difference(4, 3).estimate == pytest.approx(straight.difference(0, 1).estimate, rel=1e-6)
    with pytest.raises(ValueError, match="from 0 to the eggs"):
        pen_model([3], [2], ["a"], ["b"])


def test_pens_apart_are_not_compared() -> None:
    """Two pens in each of two machines: differences within a machine only."""
    random = np.random.default_rng(RANDOM)
    batch = np.repeat(np.arange(12), 2)
    machine = (batch >= 6).astype(int)
    pen = 2 * machine + np.tile([0, 1], 12)
    passed = random.binomial(20, 0.8, 24)
    found = pen_model(passed, np.full(24, 20), pen, batch, [machine])
    assert found.groups == ((0, 1), (2, 3))
    assert round(found.test.dof) == 2
    apart = {(one.first, one.second): one.p_value for one in pairs([found])}
    assert [place for place, p in apart.items() if p is None] == [(0, 2), (0, 3), (1, 2), (1, 3)]
    alone = pen_model(passed, np.full(24, 20), machine, batch, [machine])
    assert alone.test.p_value is None
    assert "cannot be told apart" in alone.test.why


def test_a_poor_pen_is_named_and_sound_ones_are_not_above_it() -> None:
    passed, eggs, pen, batch = _farm(np.random.default_rng(RANDOM), batches=40, poor=2.0)
    model = pen_model(passed, eggs, pen, batch)
    (named,) = stand_out([model])
    assert (named.pen, named.others) == (0, (1, 2, 3, 4))
    assert named.contrasts[0].estimate < -0.2
    # the same pens with the poor one's shadow on the others' mean: a sound pen lies above it at 5 %
    assert min(model.against(p, [q for q in range(5) if q != p]).p_value for p in (1, 2, 3, 4)) < 0.05


def test_what_is_said_holds_at_both_ends() -> None:
    random = np.random.default_rng(RANDOM)
    passed, eggs, pen, batch = _farm(random, batches=40, poor=2.0)
    poor, sound = pen_model(passed, eggs, pen, batch), pen_model(*_farm(random, batches=40))
    assert stand_out([poor, poor])[0].p_value == stand_out([poor])[0].p_value
    assert stand_out([poor, sound]) == ()
    assert stand_out([sound, poor]) == ()


def test_naming_keeps_its_level() -> None:
    random = np.random.default_rng(RANDOM)
    named = []
    for _ in range(150):
        passed, eggs, pen, batch = _farm(random)
        named.append(bool(stand_out([pen_model(passed, eggs, pen, batch)])))
    assert np.mean(named) <= 0.05 + 3.3 * np.sqrt(0.05 * 0.95 / 150)


def test_smallest_difference_and_eggs_to_decide() -> None:
    """Equal pens, complete blocks: both are formulas of the one standard error (normal quantiles by hand)."""
    random = np.random.default_rng(RANDOM)
    passed = random.binomial(30, np.clip(random.normal(0.8, 0.05, (200, 2)), 0, 1))
    model = pen_model(passed.ravel(), np.full(400, 30), np.tile([0, 1], 200), np.repeat(np.arange(200), 2))
    contrast = model.difference(0, 1)
    seen = smallest_seen([model])
    assert seen == pytest.approx((2.2414 + 0.8416) * contrast.error, rel=0.01)  # two candidates: 1.25 %
    more = eggs_to_decide(contrast, model.tray_variance(30), 30)
    whole = 200 + more / 30
    again = contrast.error * np.sqrt(200 / whole)
    assert abs(contrast.estimate) / again == pytest.approx(1.96 + 0.8416, rel=0.02)


def test_lines_are_tested_over_their_pens() -> None:
    """Equal pens, complete blocks: F of lines against pens within lines, the nested analysis of variance."""
    random = np.random.default_rng(RANDOM)
    level = np.array([0.9, 0.6, 0.85, 0.5, 0.8, 0.55])
    batch, pen = np.repeat(np.arange(10), 6), np.tile(np.arange(6), 10)
    passed = random.binomial(40, level[pen])
    model = pen_model(passed, np.full(60, 40), pen, batch)
    found = LineModel(model, ["x", "x", "y", "y", "z", "z"])
    means = np.array([(passed / 40)[pen == p].mean() for p in range(6)]).reshape(3, 2)
    among = 2 * ((means.mean(1) - means.mean()) ** 2).sum() / 2
    within = ((means - means.mean(1, keepdims=True)) ** 2).sum() / 3
    assert found.test.statistic == pytest.approx(among / within, rel=1e-6)
    assert (found.test.dof, found.test.dof2) == (2, 3)
    assert found.test.p_value > 0.5 > 0.001 > model.test.p_value
    assert found.difference(0, 1).error == pytest.approx(np.sqrt(within), rel=1e-6)


def test_lines_of_one_pen_are_that_pen() -> None:
    passed, eggs, pen, batch = _farm(np.random.default_rng(RANDOM))
    found = LineModel(pen_model(passed, eggs, pen, batch), list("abcde"))
    assert found.test.p_value is None
    assert "only one pen" in found.test.why


def test_separated_pens_are_judged_by_the_deals() -> None:
    """All of one pen hatch, none of the other, in 6 batches: 2 of the 2^6 deals are as extreme."""
    pen, batch = np.tile(["a", "b"], 6), np.repeat(np.arange(6), 2)
    passed = np.where(pen == "a", 20.0, 0.0)
    eggs = np.full(12, 20.0)
    assert "do not differ at all" in pen_model(passed, eggs, pen, batch).test.why
    found = DealModel(passed, eggs, pen, batch)
    assert found.test.p_value == pytest.approx(2 / 64)
    assert found.difference(0, 1).estimate == 1.0
    assert found.groups == ((0, 1),)
    apart = DealModel(passed, eggs, pen, pen)
    assert apart.groups == ((0,), (1,))


def test_common_distribution_is_that_of_the_published_tumours(columns) -> None:
    """71 groups of rats: E(alpha) = 2.4, E(beta) = 14.3 (Gelman et al. 2013, BDA3, section 5.3; MEMORY)."""
    data = columns("bda_rat_tumor")
    eggs = np.array(data["n"], dtype=float)
    found = shrunk_by_worth(np.array(data["y"]) / eggs, eggs)
    assert found.alpha == pytest.approx(2.4, abs=0.15)
    assert found.beta == pytest.approx(14.3, abs=0.9)


def test_few_eggs_look_like_few_eggs() -> None:
    found = shrunk_by_worth([0.9, 0.88, 0.91, 0.5], [200, 200, 200, 4])
    many, few = found.intervals[0], found.intervals[3]
    assert few.high - few.low > 3 * (many.high - many.low)
    assert 0.5 < found.rates[3] < 0.9
    assert abs(found.rates[0] - 0.9) < 0.01
    assert shrunk_by_worth([0.9], [20]).rates == ()
    even = shrunk_by_worth([0.0, 0.0], [10, 10])
    assert 0 < even.rates[0] < 0.2
    assert even.intervals[0].low >= 0


def test_shrunk_intervals_are_the_quantiles_of_draws() -> None:
    """The mixture's ends against drawing from it, the common distribution held fixed by many equal pens."""
    random = np.random.default_rng(RANDOM)
    rates = random.beta(18, 2, 60)
    found = shrunk_by_worth(random.binomial(40, rates) / 40, np.full(60, 40.0))
    hits = [one.low <= true <= one.high for one, true in zip(found.intervals, rates, strict=True)]
    assert np.mean(hits) > 0.95 - 3.3 * np.sqrt(0.05 * 0.95 / 60)
    draws = random.beta(found.alpha + 36, found.beta + 4, 20_000)
    near = shrunk_by_worth(np.append(random.binomial(40, rates) / 40, 0.9), np.full(61, 40.0)).intervals[-1]
    assert (near.low, near.high) == pytest.approx(np.quantile(draws, [0.025, 0.975]), abs=0.02)
