"""The crossed model by its definition: scores, slopes by differences, equal ways to say a thing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.special import expit
from scipy.stats import binom, norm

from analytics.attribution import layout as layouts
from analytics.attribution.crossed import Factor, Model, fit, fit_on, lay_out
from analytics.attribution.descent import slope_covariance
from analytics.attribution.laplace import lift, minus_log_likelihood
from analytics.attribution.layout import Floats
from analytics.attribution.peak import Problem, binomial_constant, climb
from analytics.attribution.quadrature import quadrature

BARE: dict[str, Any] = {"sd_prior": None, "slope_prior": None}


def problem_of(trays: Any, *, noise: bool, integrate: bool, precision: float = 0.0) -> Problem:
    layout = lay_out(trays.slopes, trays.factors)
    offset = np.linspace(-0.3, 0.3, len(trays.eggs))
    constant = binomial_constant(trays.passed, trays.eggs)
    return Problem(
        layout, trays.passed, trays.eggs, offset, np.full(2, precision), noise, integrate, constant
    )


def at(problem: Problem, place: Floats) -> Any:
    count = len(problem.layout.names) + problem.tray_noise
    row = np.zeros(problem.layout.unknowns)
    row[: problem.skip] = place[count:]
    return climb(problem, np.exp(place[:count]), row, np.zeros(len(problem.eggs)))


def differences(value: Callable[[Floats], float], place: Floats) -> Floats:
    steps = np.eye(len(place)) * 1e-4
    return np.array([(value(place + step) - value(place - step)) / 2e-4 for step in steps])


@pytest.mark.parametrize("noise", [False, True])
@pytest.mark.parametrize("integrate", [False, True])
@pytest.mark.parametrize("precision", [0.0, 0.7])
def test_slope_is_that_of_the_value(
    farm: Callable[..., Any], noise: bool, integrate: bool, precision: float
) -> None:
    problem = problem_of(farm(11, 80, (4, 3, 15)), noise=noise, integrate=integrate, precision=precision)
    place = np.array([-0.7, -1.5, 0.2, *([-1.0] if noise else []), *([] if integrate else [0.4, -0.2])])
    slope = lift(problem, at(problem, place)).slope[: len(place)]
    wanted = differences(lambda x: minus_log_likelihood(problem, at(problem, x)), place)
    assert_allclose(slope, wanted, rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("points", [1, 2, 5, 12])
def test_slope_of_the_quadrature_is_that_of_its_value(farm: Callable[..., Any], points: int) -> None:
    problem = problem_of(farm(12, 60, (9,)), noise=False, integrate=False, precision=0.3)
    place = np.array([-0.1, 0.4, -0.2])
    slope = quadrature(problem, at(problem, place), points)[1]
    wanted = differences(lambda x: quadrature(problem, at(problem, x), points)[0], place)
    assert_allclose(slope, wanted, rtol=1e-6, atol=1e-6)


def test_quadrature_is_the_integral_by_its_definition() -> None:
    passed, eggs, codes = np.array([3.0, 7, 9, 2]), np.array([10.0, 9, 12, 2]), np.array([0, 0, 1, 1])
    ones = np.ones((4, 1))
    layout = lay_out(ones, [Factor("pen", codes, ("a", "b"))])
    problem = Problem(
        layout, passed, eggs, np.zeros(4), np.zeros(1), False, False, binomial_constant(passed, eggs)
    )
    sd, b = 0.8, 0.4

    def of_level(level: int) -> float:
        mine = codes == level

        def density(u: float) -> float:
            return float(binom.pmf(passed[mine], eggs[mine], expit(b + u)).prod() * norm.pdf(u, scale=sd))

        return float(quad(density, -12, 12, epsabs=0, epsrel=1e-11, limit=200)[0])

    row = np.array([b, 0.0, 0.0])
    peak = climb(problem, np.array([sd]), row, np.zeros(4))
    wanted = -np.log(of_level(0)) - np.log(of_level(1))
    assert quadrature(problem, peak, 31)[0] == pytest.approx(wanted, abs=1e-9)
    assert quadrature(problem, peak, 1)[0] == pytest.approx(minus_log_likelihood(problem, peak), abs=1e-12)


@pytest.mark.parametrize("method", ["reml", "ml"])
def test_scores_vanish_at_the_fit(farm: Callable[..., Any], method: str) -> None:
    trays = farm(13, 90, (5, 3, 16))
    found = fit(*trays, method=method)
    left = trays.passed - trays.eggs * expit(found.modes.eta)
    for factor, effects, sd in zip(trays.factors, found.modes.effects, found.scales.sd, strict=False):
        pulled = np.bincount(factor.codes, left, minlength=len(factor.levels))
        assert_allclose(pulled, effects / sd**2, atol=1e-6)
    assert_allclose(left, found.modes.noise / found.scales.of("tray") ** 2, atol=1e-6)
    assert_allclose(
        found.modes.eta,
        trays.slopes @ found.modes.b
        + sum(e[f.codes] for e, f in zip(found.modes.effects, trays.factors, strict=True))
        + found.modes.noise,
        atol=1e-9,
    )
    if method == "reml":
        prior = np.array([0.01, (trays.slopes[:, 1].std() / 2.5) ** 2]) * found.modes.b
        assert_allclose(trays.slopes.T @ left, prior, atol=1e-6)


def test_variances_are_those_of_the_whole_matrix(farm: Callable[..., Any]) -> None:
    trays = farm(14, 60, (4, 3, 11))
    found = fit(*trays)
    p = expit(found.modes.eta)
    weight = trays.eggs * p * (1 - p)
    blocks = [np.eye(len(f.levels))[f.codes] for f in trays.factors]
    design = np.hstack([trays.slopes, *blocks, np.eye(60)])
    prior = np.concatenate([
        found.problem.precision,
        *[np.full(b.shape[1], sd**-2) for b, sd in zip([*blocks, np.eye(60)], found.scales.sd, strict=True)],
    ])  # fmt: skip
    whole = np.linalg.inv(design.T @ (weight[:, None] * design) + np.diag(prior))
    assert_allclose(found.covariance, whole[:2, :2], rtol=1e-8)
    assert_allclose(np.concatenate(found.modes.effect_variances), np.diagonal(whole)[2:20], rtol=1e-8)
    wanted = np.einsum("ij,jk,ik->i", design, whole, design)
    assert_allclose(found.modes.eta_variance, wanted, rtol=1e-8)


@pytest.mark.parametrize("method", ["reml", "ml"])
def test_sparse_and_dense_tables_give_the_same(
    farm: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, method: str
) -> None:
    trays = farm(15, 120, (5, 7, 30))
    dense = fit(*trays, method=method)
    monkeypatch.setattr(layouts, "DENSE_CELLS", 0)
    sparse = fit(*trays, method=method)
    assert dense.problem.layout.cells is None
    assert sparse.problem.layout.cells is not None
    assert_allclose(sparse.scales.sd, dense.scales.sd, rtol=1e-7)
    assert_allclose(sparse.covariance_total, dense.covariance_total, rtol=1e-6)
    assert_allclose(sparse.modes.eta_variance, dense.modes.eta_variance, rtol=1e-7)
    assert sparse.log_likelihood == pytest.approx(dense.log_likelihood, abs=1e-8)


def test_the_order_of_factors_and_trays_does_not_matter(farm: Callable[..., Any]) -> None:
    trays = farm(16, 80, (4, 6, 13))
    found = fit(*trays)
    turn = np.random.default_rng(1).permutation(80)
    factors = [Factor(f.name, f.codes[turn], f.levels) for f in reversed(trays.factors)]
    other = fit(trays.passed[turn], trays.eggs[turn], trays.slopes[turn], factors)
    assert_allclose(other.scales.sd[[2, 1, 0, 3]], found.scales.sd, rtol=1e-6)
    assert_allclose(other.effects("f1"), found.effects("f1"), atol=1e-7)
    assert other.log_likelihood == pytest.approx(found.log_likelihood, abs=1e-8)


def test_tray_noise_is_a_factor_with_one_level_a_tray(plates: Any) -> None:
    by_factor = fit(*plates, **BARE, method="ml", tray_noise=False)
    by_noise = fit(plates.passed, plates.eggs, plates.slopes, (), **BARE, method="ml")
    assert by_noise.log_likelihood == pytest.approx(by_factor.log_likelihood, abs=1e-9)
    assert_allclose(by_noise.modes.b, by_factor.modes.b, atol=1e-7)
    assert_allclose(by_noise.modes.noise, by_factor.effects("plate"), atol=1e-7)
    assert_allclose(by_noise.covariance_total, by_factor.covariance_total, rtol=1e-5)


def test_an_offset_moves_the_intercept_and_nothing_else(crossed_trays: Any) -> None:
    found = fit(*crossed_trays, **BARE)
    moved = fit(*crossed_trays, **BARE, offset=np.full(len(crossed_trays.eggs), 0.5))
    assert_allclose(moved.modes.b, found.modes.b - [0.5, 0], atol=1e-6)
    assert_allclose(moved.scales.sd, found.scales.sd, atol=1e-6)


def test_given_sds_are_kept(crossed_trays: Any) -> None:
    found = fit(*crossed_trays, fixed_sd={"pen": 0.0, "tray": 0.25})
    assert found.scales.of("pen") == 0.0
    assert found.scales.of("tray") == 0.25
    assert found.scales.free == (False, True, True, False)
    assert not found.effects("pen").any()
    without = fit(*crossed_trays[:3], crossed_trays.factors[1:], fixed_sd={"tray": 0.25})
    assert found.log_likelihood == pytest.approx(without.log_likelihood, abs=1e-8)
    assert_allclose(found.covariance_total, without.covariance_total, rtol=1e-5)


def test_total_covariance_follows_the_slopes_as_the_sds_move(crossed_trays: Any) -> None:
    found = fit(*crossed_trays)
    names, logs = found.scales.names, np.log(found.scales.sd)

    def slopes_at(place: Floats) -> Floats:
        return fit(*crossed_trays, fixed_sd=dict(zip(names, np.exp(place), strict=True))).modes.b

    steps = np.eye(4) * 1e-4
    drift = np.array([(slopes_at(logs + step) - slopes_at(logs - step)) / 2e-4 for step in steps]).T
    wanted = found.covariance + drift @ found.scales.log_covariance @ drift.T
    assert_allclose(found.covariance_total, wanted, rtol=1e-5)
    assert_allclose(slope_covariance(found.problem, found.peak), found.covariance, rtol=1e-12)


def test_a_layout_can_be_used_again(farm: Callable[..., Any]) -> None:
    trays = farm(17, 60, (4, 8))
    layout = lay_out(trays.slopes, trays.factors)
    other = trays.eggs - trays.passed
    again = fit_on(layout, other, trays.eggs, Model(uncertainty=False))
    straight = fit(other, trays.eggs, trays.slopes, trays.factors, uncertainty=False)
    assert again.log_likelihood == straight.log_likelihood
    assert_allclose(again.covariance_total, again.covariance)


def test_hatched_and_lost_are_mirror_images(crossed_trays: Any) -> None:
    found = fit(*crossed_trays)
    lost = fit(crossed_trays.eggs - crossed_trays.passed, *crossed_trays[1:])
    assert_allclose(lost.modes.b, -found.modes.b, atol=1e-7)
    assert_allclose(lost.scales.sd, found.scales.sd, atol=1e-7)


def test_problem_is_frozen(crossed_trays: Any) -> None:
    found = fit(*crossed_trays, uncertainty=False)
    assert replace(found.problem, integrate=False).skip == 2
    assert found.problem.skip == 0
