"""The mixed model of trays' rates, a variance of batches below zero: dense likelihood, dense errors."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from analytics.comparisons.mixed_rates import KenwardRoger, TrayRates

RANDOM = 20260413


def _evened_out() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Batches whose trays make up for one another: rate, eggs, columns, batch; trays of 10 to 30 eggs."""
    random = np.random.default_rng(RANDOM)
    batch = np.repeat(np.arange(10), 3)
    eggs = random.integers(10, 31, 30).astype(float)
    rate = 0.8 + np.tile([0.1, 0.0, -0.1], 10) * np.where(random.random(30) < 0.8, 1.0, -0.5)
    rate += random.normal(0, 0.02, 30)
    return rate, eggs, np.column_stack((np.ones(30), np.repeat(np.arange(10.0), 3))), batch


def _covariance(eggs: np.ndarray, batch: np.ndarray, ratio: float) -> np.ndarray:
    return np.diag(1 / eggs) + ratio * (batch[:, None] == batch)


def _minus_log(ratio: float) -> float:
    """Minus the restricted log-likelihood with every matrix written out, the scale profiled out."""
    rate, eggs, x, batch = _evened_out()
    v = _covariance(eggs, batch, ratio)
    inside = x.T @ np.linalg.solve(v, x)
    left = rate - x @ np.linalg.solve(inside, x.T @ np.linalg.solve(v, rate))
    squares = left @ np.linalg.solve(v, left)
    logs = np.linalg.slogdet(v)[1] + np.linalg.slogdet(inside)[1]
    return float(logs + (len(rate) - x.shape[1]) * np.log(squares)) / 2


def test_below_zero_is_the_top_of_the_dense_likelihood() -> None:
    rate, eggs, x, batch = _evened_out()
    lowest = -1 / max(eggs[batch == one].sum() for one in range(10))
    twin = minimize_scalar(
        _minus_log, bounds=(0.99 * lowest, 0.02), method="bounded", options={"xatol": 1e-9}
    )
    found = TrayRates(rate, eggs, x, batch, below_zero=True).fitted(0.0)
    assert lowest < found.ratio < 0
    assert found.ratio == pytest.approx(twin.x, rel=1e-3)
    assert TrayRates(rate, eggs, x, batch).fitted(0.0).ratio == 0.0


def test_errors_below_zero_are_those_of_dense_matrices() -> None:
    rate, eggs, x, batch = _evened_out()
    trays = TrayRates(rate, eggs, x, batch, below_zero=True)
    fit = trays.fitted(0.0)
    v = fit.scale * _covariance(eggs, batch, fit.ratio)
    assert np.linalg.eigvalsh(v).min() > 0
    dense = np.linalg.inv(x.T @ np.linalg.solve(v, x))
    known = KenwardRoger(trays, fit)
    assert known.covariance == pytest.approx(dense, rel=1e-8)
    assert known.solve(x) == pytest.approx(np.linalg.solve(v, x), rel=1e-7)


def test_what_is_above_zero_is_found_alike_either_way() -> None:
    random = np.random.default_rng(RANDOM)
    _, eggs, x, batch = _evened_out()
    rate = random.binomial(eggs.astype(int), np.repeat(random.uniform(0.4, 0.95, 10), 3)) / eggs
    free, held = (TrayRates(rate, eggs, x, batch, below_zero=way).fitted(0.02) for way in (True, False))
    assert free.ratio > 0
    assert free.ratio == pytest.approx(held.ratio, rel=1e-5)
