"""Tests of levels out of a fit: against weighted least squares, and where nothing differs."""

from __future__ import annotations

import numpy as np
from numpy.testing import assert_allclose
from scipy.special import expit
from scipy.stats import norm

from analytics.attribution.crossed import Model, fit_on, lay_out
from analytics.attribution.evidence import evidence
from analytics.attribution.records import CrossedFit
from analytics.attribution.separability import meet
from analytics.attribution.terms import Covariate, Grouping, Terms, factor_of

PEN = np.repeat(np.arange(5), 40)
MACHINE = np.tile(np.repeat(np.arange(2), 2), 50)


def terms(pen: np.ndarray, machine: np.ndarray, dose: np.ndarray | None = None) -> Terms:
    factors = [factor_of("pen", pen.astype(str)), factor_of("incubator", machine.astype(str))]
    used = np.ones(len(pen), dtype=bool)
    apart = meet(factors[0], factors[1], used)
    covariates = () if dose is None else (Covariate("handling", "storage", dose),)
    groupings = tuple(
        Grouping(group, each) for group, each in zip(("flock", "incubator"), factors, strict=True)
    )
    return Terms(groupings, covariates, (apart,) if apart.aliased_contrasts else (), {})


def fitted(asked: Terms, eta: np.ndarray, eggs: int = 400, seed: int = 2) -> CrossedFit:
    rng = np.random.default_rng(seed)
    passed = rng.binomial(eggs, expit(eta + rng.normal(0, 0.4, len(eta))))
    columns = np.column_stack([np.ones(len(eta)), *(each.dose for each in asked.covariates)])
    layout = lay_out(columns, [each.factor for each in asked.groupings])
    return fit_on(layout, passed, np.full(len(eta), eggs), Model(slope_prior=1.0))


def test_levels_are_tested_as_weighted_least_squares_would() -> None:
    dose = np.random.default_rng(6).uniform(0, 4, len(PEN))
    asked = terms(PEN, MACHINE, dose)
    fit = fitted(asked, 1.0 + np.array([-0.3, 0, 0.1, 0, 0])[PEN] - 0.1 * dose)
    found = evidence(fit, asked, np.ones(len(PEN), dtype=bool)).p_values
    peak = fit.peak
    # the working response of the mode, with pens fixed and machines random, by textbook formulae
    design = np.column_stack([(PEN[:, None] == np.arange(5)).astype(float), dose])
    other = (MACHINE[:, None] == np.arange(2)) * fit.scales.of("incubator")
    cover = other @ other.T + np.diag(1 / peak.weight + fit.scales.of("tray") ** 2)
    inverse = np.linalg.inv(cover)
    covariance = np.linalg.inv(design.T @ inverse @ design)
    values = covariance @ design.T @ inverse @ (peak.eta + peak.residual / peak.weight)
    for pen in range(5):
        contrast = np.append(np.where(np.arange(5) == pen, 1.0, -0.25), 0.0)
        z = contrast @ values / np.sqrt(contrast @ covariance @ contrast)
        assert_allclose(found["pen", str(pen)], 2 * norm.sf(abs(z)), rtol=0.02)
    assert found["pen", "0"] < 0.001
    assert found["storage", ""] < 1e-4


def test_pens_of_one_machine_are_held_against_each_other_only() -> None:
    pen, machine = PEN, np.where(PEN < 3, 0, 1)
    asked = terms(pen, machine)
    fit = fitted(asked, 1.0 - 1.2 * (machine == 1))
    found = evidence(fit, asked, np.ones(len(pen), dtype=bool)).p_values
    assert {level for factor, level in found if factor == "pen"} == {"0", "1", "2", "3", "4"}
    assert not any(factor == "incubator" for factor, _ in found)
    assert all(p > 0.01 for p in found.values())


def test_p_values_are_even_where_pens_are_alike() -> None:
    asked = terms(PEN, MACHINE)
    used = np.ones(len(PEN), dtype=bool)
    least = [
        evidence(fitted(asked, np.full(len(PEN), 2.0), 30, seed), asked, used).p_values["pen", "0"]
        for seed in range(120)
    ]
    # 12 expected at most .10; the 99.9 % band is 3 to 23
    assert 3 <= sum(p <= 0.10 for p in least) <= 23
