"""The moves of draws: slope and mass by their definitions, energy kept, steps that adapt."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution.crossed import CrossedFit, fit
from analytics.attribution.layout import Floats
from analytics.attribution.moves import WANTED, Cloud, Mover, _Course, _Spot


@pytest.fixture(scope="module")
def found(crossed_trays: Any) -> CrossedFit:
    return fit(*crossed_trays)


def course_of(found: CrossedFit, sds: Floats) -> _Course:
    return _Course(found.problem, found.problem.layout.design.T.tocsr(), found.peak, sds)


def around(found: CrossedFit, count: int, seed: int, far: float = 0.3) -> tuple[Floats, Floats, Floats]:
    """Places near the mode, and sds that are not the fitted ones."""
    rng = np.random.default_rng(seed)
    row = found.peak.row[:, None] + far * rng.normal(size=(len(found.peak.row), count))
    noise = found.peak.noise[:, None] + far * rng.normal(size=(len(found.peak.noise), count))
    return row, noise, found.peak.sds[:, None] * np.exp(far * rng.normal(size=(len(found.peak.sds), count)))


def full_design(found: CrossedFit, sds: Floats) -> Floats:
    """Trays x (row, noise), the scales included."""
    layout = found.problem.layout
    scale = np.ones(layout.unknowns)
    for span, sd in zip(layout.spans, sds, strict=False):
        scale[span] = sd
    return np.hstack((layout.design.toarray() * scale, sds[-1] * np.eye(len(found.peak.noise))))


def test_height_and_slope_are_those_of_the_density(found: CrossedFit) -> None:
    row, noise, sds = around(found, 3, seed=1)
    spot = course_of(found, sds).spot(row, noise)
    problem, whole = found.problem, np.vstack((row, noise))
    ridge = np.concatenate((problem.precision, np.ones(len(whole) - problem.layout.fixed)))
    for at in range(3):
        design = full_design(found, sds[:, at])
        eta = design @ whole[:, at]
        by_hand = problem.passed @ eta - problem.eggs @ np.logaddexp(0, eta) - 0.5 * ridge @ whole[:, at] ** 2
        assert_allclose(spot.height[at], by_hand)
        slope = design.T @ (problem.passed - problem.eggs / (1 + np.exp(-eta))) - ridge * whole[:, at]
        assert_allclose(np.concatenate((spot.row_slope[:, at], spot.noise_slope[:, at])), slope, atol=1e-9)


def test_speeds_have_the_inverse_information_as_covariance(found: CrossedFit) -> None:
    design = full_design(found, found.peak.sds)
    ridge = np.concatenate((found.problem.precision, np.ones(design.shape[1] - found.problem.layout.fixed)))
    mass = design.T @ (found.peak.weight[:, None] * design) + np.diag(ridge)
    size, rows = design.shape[1], found.problem.layout.unknowns
    course, unit = course_of(found, found.peak.sds[:, None]), np.eye(size)
    assert_allclose(np.vstack(course._solve(unit[:rows], unit[rows:])), np.linalg.inv(mass), atol=1e-9)
    root = course._speed(unit[:rows], unit[rows:])
    turned = np.vstack((root.row, root.noise))
    assert_allclose(turned @ turned.T, np.linalg.inv(mass), atol=1e-9)


def test_energy_is_kept_the_better_the_shorter_the_leap(found: CrossedFit) -> None:
    row, noise, sds = around(found, 200, seed=2, far=0.1)
    course = course_of(found, sds)
    errors = []
    for step in (0.2, 0.1):
        gain = course.follow(course.spot(row, noise), step, np.random.default_rng(3))[1]
        errors.append(float(np.sqrt((gain**2).mean())))
    # leapfrog: the error falls with the square of the step
    assert errors[0] < 1.0
    assert 3.4 < errors[0] / errors[1] < 4.6


def test_trajectories_can_be_gone_back(found: CrossedFit) -> None:
    row, noise, sds = around(found, 5, seed=4)
    course = course_of(found, sds)
    start = course.spot(row, noise)
    speed = course._speed(np.ones_like(row), np.ones_like(noise))

    def leap(spot: _Spot, time: float) -> _Spot:
        nonlocal speed
        speed = course._kick(spot, speed, time / 2)[0]
        spot = course.spot(spot.row + time * speed.row, spot.noise + time * speed.noise)
        speed = course._kick(spot, speed, time / 2)[0]
        return spot

    there = leap(leap(start, 0.3), 0.3)
    assert np.abs(there.row - row).max() > 0.1
    back = leap(leap(there, -0.3), -0.3)
    assert_allclose(back.row, row, atol=1e-9)
    assert_allclose(back.noise, noise, atol=1e-9)


def test_leaps_become_as_long_as_they_may(found: CrossedFit) -> None:
    free = np.arange(len(found.peak.sds))
    reach = np.sqrt(np.diagonal(found.scales.log_covariance))
    mover = Mover(found.problem, [found.peak], free, reach, 1.0, np.random.default_rng(5))
    cloud = Cloud(*around(found, 400, seed=6))
    mover.step[:] = 0.02
    for _ in range(15):
        mover.sweep(cloud)
    grown = float(mover.step[0])
    course = course_of(found, cloud.sds)
    gain = course.follow(course.spot(cloud.row, cloud.noise), grown, np.random.default_rng(7))[1]
    assert grown > 0.1
    assert abs(np.exp(np.minimum(gain, 0)).mean() - WANTED) < 0.12
