"""Draws from the crossed model against posteriors from a grid, from print and from a plain sampler."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import expit, gammaln

from analytics.attribution import draws as draws_module
from analytics.attribution.crossed import Factor, fit
from analytics.attribution.draws import Draws, draws, mean_shift
from analytics.attribution.layout import Floats
from analytics.errors import WrongUsage

PASSED = np.array([12.0, 17, 9, 19, 14, 18])
EGGS = np.full(6, 20.0)
PENS = np.array([0, 1, 2, 3, 4, 5])


class Grid(NamedTuple):
    """Posterior means and sds: intercept, sd, first pen's effect."""

    mean: Floats
    sd: Floats


def posterior_on_a_grid(passed: Floats, eggs: Floats) -> Grid:
    """No approximation but the grid: one tray a pen, intercept N(0, 10), sd half-normal(1)."""
    b = np.linspace(-2, 6, 121)[:, None, None]
    log_s = np.linspace(-7, 1.5, 86)[None, :, None]
    z = np.linspace(-6, 6, 97)[None, None, :]
    s = np.exp(log_s)
    log_post = -0.5 * (b / 10) ** 2 - 0.5 * s**2 + log_s
    log_post = log_post[..., 0]
    first = None
    for y, n in zip(passed, eggs, strict=True):
        eta = b + s * z
        constant = gammaln(n + 1) - gammaln(y + 1) - gammaln(n - y + 1)
        terms = np.exp(constant + y * eta - n * np.logaddexp(0, eta) - 0.5 * z**2)
        inner = terms.sum(axis=2)
        if first is None:
            u = s * z
            first = (terms * u).sum(axis=2) / inner, (terms * u**2).sum(axis=2) / inner
        log_post = log_post + np.log(inner)
    weight = np.exp(log_post - log_post.max())
    weight /= weight.sum()
    b = b[..., 0]
    s = s[..., 0]
    pairs = [(b, b**2), (s, s**2), first]
    moments = [((weight * one).sum(), (weight * two).sum()) for one, two in pairs]
    mean = np.array([m for m, _ in moments])
    return Grid(mean, np.sqrt(np.array([m2 for _, m2 in moments]) - mean**2))


def moments(drawn: Draws) -> Grid:
    table = np.column_stack([drawn.b[:, 0], drawn.sds[:, 0], drawn.of("pen")[:, 0]])
    return Grid(table.mean(axis=0), table.std(axis=0))


@pytest.mark.parametrize("passed", [PASSED, np.array([19.0, 20, 18, 20, 17, 20]), np.full(6, 16.0)])
def test_draws_have_the_moments_of_the_posterior(passed: Floats) -> None:
    grid = posterior_on_a_grid(passed, EGGS)
    found = fit(passed, EGGS, np.ones((6, 1)), [Factor("pen", PENS, tuple("abcdef"))], tray_noise=False)
    drawn = draws(found, 4000, 128, seed=4)
    seen = moments(drawn)
    assert (np.abs(seen.mean - grid.mean) < 0.06 * grid.sd).all()
    assert_allclose(seen.sd, grid.sd, rtol=0.06)
    assert drawn.good_points > 60


def test_few_draws_taken_often_have_them_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(draws_module, "CHAIN_CELLS", 0)
    grid = posterior_on_a_grid(PASSED, EGGS)
    found = fit(PASSED, EGGS, np.ones((6, 1)), [Factor("pen", PENS, tuple("abcdef"))], tray_noise=False)
    drawn = draws(found, 4010, 64, seed=4)
    seen = moments(drawn)
    assert drawn.b.shape == (4010, 1)
    assert len(np.unique(drawn.b)) > 3000
    assert (np.abs(seen.mean - grid.mean) < 0.12 * grid.sd).all()
    assert_allclose(seen.sd, grid.sd, rtol=0.12)


def test_draws_of_too_many_trays_stay_where_they_start(monkeypatch: pytest.MonkeyPatch) -> None:
    found = fit(PASSED, EGGS, np.ones((6, 1)), [Factor("pen", PENS, tuple("abcdef"))], tray_noise=False)
    moved, start = draws(found, 50, 32, seed=4), draws(found, 50, 32, seed=4, sweeps=0)
    monkeypatch.setattr(draws_module, "MOST_TRAYS", 5)
    assert (draws(found, 50, 32, seed=4).b == start.b).all()
    assert (moved.b != start.b).all()


def test_orobanche_plates_have_the_posterior_that_is_printed(plates: Any) -> None:
    found = fit(*plates, slope_prior=None, tray_noise=False)
    drawn = draws(found, 12000, 128, seed=3)
    sd = drawn.sds[:, 0]
    # BUGS Examples volume 1, "Seeds" (Spiegelhalter et al. 1996), precision gamma(.001, .001): a run of it,
    # SEEN as others print it (another prints -.5546 .08497 1.356 -.8229 and .2731).
    weight = np.exp(sd**2 / 2 - 1.002 * np.log(sd) - 0.001 / sd**2)
    mean, spread = weighted(np.column_stack((drawn.b, sd)), weight)
    assert_allclose(mean, [-0.557, 0.086, 1.348, -0.824, 0.286], atol=0.02)
    assert_allclose(spread, [0.197, 0.317, 0.276, 0.445, 0.146], rtol=0.06)
    # INLA with an exponential prior of the sd, rate -log(.01), in the script of crowder.seeds of R package
    # agridat (2019), SEEN; there O73 is the base: -.46 .53 for the bean and cucumber, -.09 and .82 for O75.
    mean, spread = weighted(drawn.b @ O73_FIRST.T, np.exp(sd**2 / 2 + np.log(0.01) * sd))
    assert_allclose(mean, [-0.46, -0.09, 0.53, 0.82], atol=0.02)
    assert_allclose(spread, [0.24, 0.30, 0.32, 0.42], rtol=0.06)


O73_FIRST = np.array([[1.0, 1, 0, 0], [0, -1, 0, 0], [0, 0, 1, 1], [0, 0, 0, -1]])


def weighted(table: Floats, weight: Floats) -> tuple[Floats, Floats]:
    mean = weight @ table / weight.sum()
    return mean, np.sqrt(weight @ (table - mean) ** 2 / weight.sum())


# 6 batches x 4 pens, few losses, one pen and one batch bad, small trays
CROSSED_PASSED = np.array(
    [12.0, 8, 5, 10, 11, 8, 4, 10, 7, 3, 1, 6, 12, 8, 5, 9, 12, 7, 3, 10, 11, 8, 5, 10],
)
CROSSED_EGGS = np.tile([12.0, 8, 5, 10], 6)
CROSSED_X = np.array([[1.0, -1.0], [1, 1], [1, 0]] * 8)
LEVELS = {"pen": np.tile(np.arange(4), 6), "batch": np.repeat(np.arange(6), 4)}


class Plain:
    """The same posterior by plain Metropolis steps, many chains and long; only the data are shared."""

    def __init__(self, chains: int, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.b = np.tile([2.0, 0.0], (chains, 1))
        self.u = {
            "pen": np.zeros((chains, 4)),
            "batch": np.zeros((chains, 6)),
            "tray": np.zeros((chains, 24)),
        }
        self.sd = {name: np.full(chains, 0.5) for name in self.u}
        self.of = {**LEVELS, "tray": np.arange(24)}
        self.step = {"pen": 1.0, "batch": 1.0, "tray": 1.5}

    def chance(self, b: Floats, u: dict[str, Floats]) -> Floats:
        eta = b @ CROSSED_X.T + sum(u[name][:, self.of[name]] for name in u)
        return CROSSED_PASSED * eta - CROSSED_EGGS * np.logaddexp(0, eta)

    def sweep(self) -> None:
        held = self.chance(self.b, self.u)
        for column, width in ((0, 0.8), (1, 0.5)):
            new = self.b.copy()
            new[:, column] += width * self.rng.standard_normal(len(new))
            there = self.chance(new, self.u)
            # intercept N(0, 10); slope N(0, 2.5) per sd of its column, which is sqrt(2 / 3)
            precision = np.array([0.01, (2 / 3) / 2.5**2])
            gain = (there - held).sum(axis=1) - 0.5 * (new**2 - self.b**2) @ precision
            taken = self.rng.random(len(new)) < np.exp(np.minimum(gain, 0))
            self.b[taken], held[taken] = new[taken], there[taken]
        for name in self.u:
            held = self.effects(name, held)
            self.width(name)

    def effects(self, name: str, held: Floats) -> Floats:
        old = self.u[name]
        new = old + self.step[name] * self.sd[name][:, None] * self.rng.standard_normal(old.shape)
        there = self.chance(self.b, {**self.u, name: new})
        belongs = np.eye(old.shape[1])[self.of[name]]
        gain = (there - held) @ belongs - 0.5 * (new**2 - old**2) / self.sd[name][:, None] ** 2
        taken = self.rng.random(old.shape) < np.exp(np.minimum(gain, 0))
        self.u[name] = np.where(taken, new, old)
        return np.where(taken[:, self.of[name]], there, held)

    def width(self, name: str) -> None:
        def height(sd: Floats) -> Floats:
            square = (self.u[name] ** 2).sum(axis=1)
            levels = self.u[name].shape[1]
            return -0.5 * square / sd**2 - levels * np.log(sd) - 0.5 * sd**2 + np.log(sd)

        old = self.sd[name]
        new = old * np.exp(0.7 * self.rng.standard_normal(len(old)))
        taken = self.rng.random(len(old)) < np.exp(np.minimum(height(new) - height(old), 0))
        self.sd[name] = np.where(taken, new, old)

    def table(self) -> Floats:
        sds = [self.sd[name] for name in self.u]
        return np.column_stack((self.b, *sds, self.u["pen"], self.u["batch"]))


@pytest.mark.slow
def test_draws_agree_with_a_plain_sampler_run_long() -> None:
    plain, seen = Plain(100, seed=6), []
    for sweep in range(5000):
        plain.sweep()
        if sweep >= 1000 and sweep % 20 == 0:
            seen.append(plain.table())
    twin = np.concatenate(seen)
    factors = [Factor(name, LEVELS[name], tuple("abcdef"[: LEVELS[name].max() + 1])) for name in LEVELS]
    found = fit(CROSSED_PASSED, CROSSED_EGGS, CROSSED_X, factors)
    drawn = draws(found, 4000, 64, seed=2)
    table = np.column_stack((drawn.b, drawn.sds, drawn.of("pen"), drawn.of("batch")))
    sd = twin.std(axis=0)
    assert (np.abs(table.mean(axis=0) - twin.mean(axis=0)) < 0.08 * sd).all()
    assert_allclose(table.std(axis=0), sd, rtol=0.08)
    ends = np.quantile(table, [0.025, 0.975], axis=0) - np.quantile(twin, [0.025, 0.975], axis=0)
    assert (np.abs(ends) < 0.25 * sd).all()


def test_the_shift_brings_the_mode_to_the_mean() -> None:
    passed, eggs = np.array([29.0, 9, 5]), np.array([30.0, 10, 5])
    found = fit(passed, eggs, np.ones((3, 1)), [], tray_noise=False, slope_prior=2.5, uncertainty=False)
    b = np.linspace(-5, 30, 20001)
    log_post = passed.sum() * b - eggs.sum() * np.logaddexp(0, b) - 0.5 * (b / 10) ** 2
    weight = np.exp(log_post - log_post.max())
    mean = float((weight * b).sum() / weight.sum())
    mode = float(found.modes.b[0])
    moved = mode + float(mean_shift(found.problem, found.peak)[0])
    assert mean - mode > 0.1
    assert abs(mean - moved) < 0.5 * abs(mean - mode)


def test_the_shift_is_the_product_of_its_definition(crossed_trays: Any) -> None:
    found = fit(*crossed_trays)
    p = expit(found.modes.eta)
    weight = crossed_trays.eggs * p * (1 - p)
    q = -weight * (1 - 2 * p) * found.modes.eta_variance / 2
    blocks = [np.eye(len(f.levels))[f.codes] for f in crossed_trays.factors]
    blocks = [*blocks, np.eye(len(p))]
    scaled = [sd * block for sd, block in zip(found.scales.sd, blocks, strict=True)]
    design = np.hstack([crossed_trays.slopes, *scaled])
    prior = np.ones(design.shape[1])
    prior[:2] = found.problem.precision
    whole = np.linalg.solve(design.T @ (weight[:, None] * design) + np.diag(prior), design.T @ q)
    shift = mean_shift(found.problem, found.peak)
    order = np.concatenate([np.arange(2)] + [np.arange(s.start, s.stop) for s in found.problem.layout.spans])
    assert_allclose(shift[order], whole[: len(order)], rtol=1e-6, atol=1e-9)


def test_the_shift_is_limited() -> None:
    one = np.ones((2, 1))
    found = fit([1.0, 1], [1.0, 1], one, [], tray_noise=False, uncertainty=False)
    assert abs(float(mean_shift(found.problem, found.peak)[0])) == pytest.approx(0.5)


def test_draws_start_normal_with_the_fitted_covariance(crossed_trays: Any) -> None:
    given = {"pen": 0.3, "machine": 0.6, "batch": 0.4, "tray": 0.3}
    found = fit(*crossed_trays, fixed_sd=given)
    drawn = draws(found, 20000, 64, seed=2, sweeps=0)
    assert drawn.points == 1
    assert_allclose(np.cov(drawn.b.T), found.covariance, rtol=0.05, atol=2e-4)
    for name, variance in zip(("pen", "machine", "batch"), found.modes.effect_variances, strict=True):
        assert_allclose(drawn.of(name).var(axis=0), variance, rtol=0.06)
    eta = drawn.b @ crossed_trays.slopes.T
    for factor in crossed_trays.factors:
        eta += drawn.of(factor.name)[:, factor.codes]
    arrow = found.peak.arrow
    core = found.problem.layout.pairs @ arrow.cells_of_inverse()[0]
    assert_allclose(eta.var(axis=0), core, rtol=0.06)
    assert (drawn.sds == list(given.values())).all()
    assert (draws(found, 50, 64, seed=2).sds == list(given.values())).all()


def test_the_seed_decides(crossed_trays: Any) -> None:
    found = fit(*crossed_trays)
    first, again, other = (draws(found, 50, 32, seed=seed) for seed in (1, 1, 2))
    assert (first.b == again.b).all()
    assert (first.sds == again.sds).all()
    assert (first.b != other.b).any()
    assert first.good_points > 8


def test_draws_need_the_slopes_integrated_out(crossed_trays: Any) -> None:
    found = fit(*crossed_trays, method="ml", uncertainty=False)
    with pytest.raises(WrongUsage, match="Fit by reml"):
        draws(found, 10)
    with pytest.raises(WrongUsage, match="at least 1"):
        draws(fit(*crossed_trays, uncertainty=False), 0)
