"""Precision and power of two pens' trays: published values, a slow twin, and what must hold anyhow."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.comparisons.power import power_of_two_rates
from analytics.measures.counts import Clustering
from analytics.planning.sample_size import Layout
from analytics.planning.two_pens import TwoPens, power, power_of_difference, precision

RATES = (0.8, 0.7)


def alike(tray: float, batch: float) -> Clustering:
    """Known correlations."""
    return Clustering(tray, batch, 0.0, 0.0, False)


def test_power_of_whole_clusters() -> None:
    """Standardised difference .6, 10 clusters of 20 in all, icc .1: .59017 by noncentral t.

    Raudenbush 1997, Psychological Methods 2:173-185; figure of R's WebPower, wp.crt2arm, from MEMORY.
    """
    error = (4 * (0.1 + 0.9 / 20) / 10) ** 0.5
    assert power_of_difference(0.6, error, 8) == pytest.approx(0.5901684, abs=5e-7)


@pytest.mark.parametrize(("size", "effect"), [(10, 1.153), (20, 1.323), (40, 1.663), (80, 2.343)])
def test_published_design_effects(size: int, effect: float) -> None:
    """Clusters apart, icc .017: Killip, Mahfoud and Pearce 2004, Annals of Family Medicine 2:204 (SEEN)."""
    trays = Layout(size, shared=False).laid_out(2)
    assert precision(trays, RATES, alike(0.017, 0.017)).design_effect == pytest.approx(effect, abs=5e-4)


def test_without_likeness_it_comes_to_the_textbook_power() -> None:
    """Independent eggs, many trays of one: R's power.prop.test, n 50 a group, .50 v .75, power .740 (SEEN).

    Its test pools the two variances and ours does not, which moves it by 2 points here.
    """
    trays = Layout(1, shared=False).laid_out(50)
    ours = power(trays, (0.5, 0.75), alike(0, 0))
    assert power_of_two_rates(0.5, 0.75, 50) == pytest.approx(0.740, abs=5e-4)
    assert ours == pytest.approx(0.740, abs=0.025)


@pytest.mark.parametrize("seed", range(4))
def test_same_error_as_the_whole_covariance_matrix(seed: int) -> None:
    random = np.random.default_rng(seed)
    eggs, pen, batch = random.integers(3, 60, 30), random.integers(0, 2, 30), random.integers(0, 9, 30)
    spread = np.sqrt([0.16, 0.21])[pen]
    whole = 0.03 * np.outer(spread, spread) * (batch[:, None] == batch)
    whole[np.diag_indices(30)] = spread**2 * (1 + (eggs - 1) * 0.08) / eggs
    columns = np.eye(2)[pen]
    known = np.linalg.inv(columns.T @ np.linalg.solve(whole, columns))
    error = float(np.sqrt(known[0, 0] + known[1, 1] - 2 * known[0, 1]))
    found = precision(TwoPens.of(eggs, pen, batch), RATES, alike(0.08, 0.03))
    assert found.error == pytest.approx(error, rel=1e-10)


def test_degrees_of_freedom_of_even_layouts() -> None:
    """Paired batches: batches - 1; batches apart: 2 batches - 2 (t tests of pairs and of two samples)."""
    shared, apart = (Layout(24, shared=way).laid_out(9) for way in (True, False))
    assert precision(shared, RATES, alike(0.08, 0.03)).dof == pytest.approx(8, rel=0.01)
    assert precision(apart, RATES, alike(0.08, 0.03)).dof == pytest.approx(16)


def test_sharing_batches_helps_the_more_batches_differ() -> None:
    shared, apart = (Layout(24, shared=way).laid_out(12) for way in (True, False))
    gains = [
        power(shared, RATES, alike(0.1, rho)) - power(apart, RATES, alike(0.1, rho))
        for rho in (0.0, 0.05, 0.09)
    ]
    assert gains == sorted(gains)
    assert gains[0] < 0.02 < 0.1 < gains[-1]


def test_trays_that_cannot_tell_have_no_power() -> None:
    for trays in (
        Layout(24, shared=False).laid_out(1),
        Layout(24).laid_out(1),
        TwoPens.of([9, 9], [0, 0], [0, 1]),
    ):
        assert power(trays, RATES, alike(0.05, 0.03)) == 0
