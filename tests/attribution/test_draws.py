"""Draws from the crossed model against the whole posterior computed on a grid."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.special import expit, gammaln

from analytics.attribution.crossed import Factor, fit
from analytics.attribution.draws import draws, mean_shift
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


@pytest.mark.parametrize("passed", [PASSED, np.array([19.0, 20, 18, 20, 17, 20]), np.full(6, 16.0)])
def test_draws_have_the_moments_of_the_posterior(passed: Floats) -> None:
    grid = posterior_on_a_grid(passed, EGGS)
    found = fit(passed, EGGS, np.ones((6, 1)), [Factor("pen", PENS, tuple("abcdef"))], tray_noise=False)
    drawn = draws(found, 4000, 128, seed=4)
    table = np.column_stack([drawn.b[:, 0], drawn.sds[:, 0], drawn.of("pen")[:, 0]])
    assert (np.abs(table.mean(axis=0) - grid.mean) < 0.08 * grid.sd).all()
    assert_allclose(table.std(axis=0), grid.sd, rtol=0.08)
    assert drawn.good_points > 60


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


def test_draws_at_given_sds_are_normal_with_the_fitted_covariance(crossed_trays: Any) -> None:
    given = {"pen": 0.3, "machine": 0.6, "batch": 0.4, "tray": 0.3}
    found = fit(*crossed_trays, fixed_sd=given)
    drawn = draws(found, 20000, 64, seed=2)
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
