"""The clustering of eggs: against dense matrices, against its own simulation, and at its edges."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import numpy as np
import pytest

from analytics.measures.clustering import (
    FEWEST_DOF,
    TYPICAL_BATCH,
    TYPICAL_TRAY,
    degrees_of_freedom,
    design_effect,
    estimate_clustering,
)
from analytics.measures.counts import Clustering, ClusterSums, LadderCounts, Stages

Shape = tuple[np.ndarray, np.ndarray, np.ndarray]


def _many_trays(seed: int, pens: int, batches: int) -> Shape:
    rng = np.random.default_rng(seed)
    batch, pen = np.nonzero(rng.random((batches, pens)) < 0.8)
    twice = rng.random(len(batch)) < 0.5
    batch, pen = np.concatenate([batch, batch[twice]]), np.concatenate([pen, pen[twice]])
    return batch, pen, rng.integers(6, 41, len(batch)).astype(float)


def _expected(shape: Shape, rho_tray: float, rho_batch: float) -> tuple[float, float]:
    """Expected dispersion and cross, by the whole covariance matrix of the residuals."""
    batch, pen, eggs = shape
    same_batch = batch[:, None] == batch
    covariance = rho_batch * np.outer(eggs, eggs) * same_batch
    np.fill_diagonal(covariance, eggs * (1 + (eggs - 1) * rho_tray))
    same_pen = pen[:, None] == pen
    residual = np.eye(len(eggs)) - same_pen * (eggs / (same_pen @ eggs))[:, None]
    covariance = residual @ covariance @ residual.T
    squares = np.diag(covariance)
    return (squares / eggs).sum(), (covariance * same_batch).sum() - squares.sum()


def _sums(farms: ModuleType, shape: Shape, rho_tray: float, rho_batch: float) -> ClusterSums:
    batch, pen, eggs = shape
    half = np.round(eggs / 2) + (np.arange(len(eggs)) % 3 - 1)
    sums: ClusterSums = farms.cluster_sums(batch, pen, half, eggs)
    dispersion, cross = _expected(shape, rho_tray, rho_batch)
    return replace(sums, dispersion=dispersion, cross=cross)


@pytest.mark.parametrize(("pens", "batches"), [(1, 9), (3, 2), (5, 40), (12, 12)])
def test_the_moment_equations_are_exact(farms: ModuleType, pens: int, batches: int) -> None:
    # drawn towards the typical values: where they are the truth the draw does nothing
    sums = _sums(farms, _many_trays(1, pens, batches), TYPICAL_TRAY, TYPICAL_BATCH)
    found = estimate_clustering(sums)
    assert (found.rho_tray, found.rho_batch) == pytest.approx((TYPICAL_TRAY, TYPICAL_BATCH), abs=1e-10)


@pytest.mark.parametrize(("tray", "batch"), [(0.0, 0.0), (0.02, 0.01), (0.1, 0.0), (0.1, 0.1), (0.3, 0.2)])
def test_a_large_store_tells_the_clustering(farms: ModuleType, tray: float, batch: float) -> None:
    found = estimate_clustering(_sums(farms, _many_trays(2, 6, 80), tray, batch))
    assert found.rho_tray == pytest.approx(tray, abs=0.04 * abs(tray - TYPICAL_TRAY) + 1e-9)
    assert found.rho_batch == pytest.approx(batch, abs=0.04 * abs(batch - TYPICAL_BATCH) + 1e-9)
    assert not found.assumed


def test_estimates_are_unbiased_even_from_six_batches(farms: ModuleType) -> None:
    layout = farms.Layout(1, 6, 6, likeness=0.2, of_batch=0.5, rates=(0.6, 0.9))
    rng = np.random.default_rng(3)
    added = []
    for _ in range(600):
        trays = farms.make_farm(layout, rng).trays
        counted, eggs, _ = farms.tray_counts(trays, "fertility")
        sums = farms.cluster_sums(trays.batch, trays.pen, counted, eggs)
        added.append([sums.dispersion - (sums.trays - sums.pens), sums.tray_weight, sums.shared_pens])
    excess, weight, shared = np.mean(added, axis=0)
    # the equation of the trays, with the batches' true part put in; three standard errors of 600 farms
    assert (excess + 0.1 * shared) / weight == pytest.approx(0.2, abs=0.012)


def test_nothing_recorded_is_assumed_and_said() -> None:
    for nothing in (None, ClusterSums(), ClusterSums(trays=3, pens=3, batches=1)):
        found = estimate_clustering(nothing)
        assert (found.rho_tray, found.rho_batch) == (TYPICAL_TRAY, TYPICAL_BATCH)
        assert found.assumed
        assert found.spread_tray > 0
        assert found.spread_batch > 0


def test_the_pull_by_hand() -> None:
    """Chosen by simulation: .05 weighs as 10 trays, .03 as 2 batches; a batch tells .7 of an even one."""
    nothing = estimate_clustering(None)
    assert (nothing.rho_tray, nothing.rho_batch) == (0.05, 0.03)
    assert nothing.spread_tray == pytest.approx(0.1 * math.sqrt(2 / 10))
    assert nothing.spread_batch == pytest.approx(0.04 * math.sqrt(2 / 2))
    # 40 spare trays and 10 spare batches of the usual noise, in which .2 and .15 are found
    found = estimate_clustering(
        ClusterSums(
            trays=41,
            pens=1,
            batches=11,
            dispersion=40 + 800 * 0.2,
            tray_weight=800,
            cross=84_000 * 0.15,
            cross_weight=84_000,
        )
    )
    assert found.rho_tray == pytest.approx((40 * 0.2 + 10 * 0.05) / 50)
    assert found.rho_batch == pytest.approx((10 * 0.15 + 2 * 0.03) / 12)
    assert found.spread_tray == pytest.approx((0.17 + 0.05) * math.sqrt(2 / 50))
    assert found.spread_batch == pytest.approx((0.13 + 0.01) * math.sqrt(2 / (0.7 * 10 + 2)))
    assert not found.assumed


def test_trays_and_batches_of_more_noise_weigh_less() -> None:
    """Noise of .10 a tray for .05, .03 a batch for .01: (.10 / .15)^2 = (.04 / .06)^2 = 4/9 of them."""
    found = estimate_clustering(
        ClusterSums(
            trays=41,
            pens=1,
            batches=11,
            dispersion=40 + 400 * 0.2,
            tray_weight=400,
            cross=440 / 0.03 * 0.15,
            cross_weight=440 / 0.03,
        )
    )
    assert found.rho_tray == pytest.approx((40 * 4 / 9 * 0.2 + 10 * 0.05) / (40 * 4 / 9 + 10))
    assert found.rho_batch == pytest.approx((10 * 4 / 9 * 0.15 + 2 * 0.03) / (10 * 4 / 9 + 2))


def test_one_batch_tells_of_trays_only_and_no_correlation_is_above_1() -> None:
    one = ClusterSums(
        trays=41, pens=1, batches=1, dispersion=40 + 800 * 0.2, tray_weight=800,
        shared_pens=100, cross=500, cross_weight=1000,
    )  # fmt: skip
    found = estimate_clustering(one)
    assert found.rho_tray == pytest.approx((40 * 0.2 + 10 * 0.05) / 50)
    assert found.rho_batch == TYPICAL_BATCH
    assert estimate_clustering(replace(one, dispersion=40 + 800 * 1.5)).rho_tray == 1


def test_ten_trays_and_two_batches_of_the_usual_noise_are_enough() -> None:
    enough = ClusterSums(
        trays=11, pens=1, batches=3, dispersion=10, tray_weight=200, cross=0, cross_weight=21_000
    )
    assert not estimate_clustering(enough).assumed
    assert estimate_clustering(replace(enough, batches=2)).assumed
    assert estimate_clustering(replace(enough, pens=2)).assumed


def test_one_tray_a_batch_cannot_tell_batch_from_tray(farms: ModuleType) -> None:
    batch, pen = np.arange(30), np.zeros(30, int)
    eggs = np.full(30, 20.0)
    hatched = np.where(np.arange(30) % 2, 10.0, 20.0)
    found = estimate_clustering(farms.cluster_sums(batch, pen, hatched, eggs))
    assert found.rho_tray > 0.2
    assert found.rho_batch == TYPICAL_BATCH
    assert found.assumed


def test_correlations_stay_in_their_order(farms: ModuleType) -> None:
    batch, pen = np.repeat(np.arange(10), 2), np.zeros(20, int)
    apart = np.tile([5.0, 15.0], 10)  # the two trays of every batch differ, the batches do not
    found = estimate_clustering(farms.cluster_sums(batch, pen, apart, np.full(20, 20.0)))
    assert 0 <= found.rho_batch <= found.rho_tray <= 1
    alike = np.repeat(np.where(np.arange(10) % 2, 4.0, 16.0), 2)
    found = estimate_clustering(farms.cluster_sums(batch, pen, alike, np.full(20, 20.0)))
    assert 0 < found.rho_batch <= found.rho_tray


def test_design_effect_by_hand(one_tray: Callable[..., LadderCounts]) -> None:
    # two batches of two trays of 10 eggs: an egg has 9 others in its tray and 10 more in its batch
    counts = replace(one_tray(40, Stages()), tray_squares=400, batch_squares=800)
    known = Clustering(0.1, 0.02, 0.0, 0.0, False)
    assert design_effect(counts, 40, known) == pytest.approx(1 + 9 * 0.1 + 10 * 0.02)
    # of 20 fertile eggs among them: 4 others in the tray, 5 in the batch
    assert design_effect(counts, 20, known) == pytest.approx(1 + 4 * 0.1 + 5 * 0.02)
    assert design_effect(counts, 2, known) == pytest.approx(1 + 0.5 * 0.02)
    assert degrees_of_freedom(counts, 40, known) == math.inf


def test_degrees_of_freedom_by_hand(one_tray: Callable[..., LadderCounts]) -> None:
    counts = replace(one_tray(40, Stages()), tray_squares=400, batch_squares=800)
    known = Clustering(0.1, 0.02, 0.01, 0.02, False)
    effect = 1 + 9 * 0.1 + 10 * 0.02
    assert degrees_of_freedom(counts, 40, known) == pytest.approx(
        2 * effect**2 / ((9 * 0.01) ** 2 + (10 * 0.02) ** 2)
    )
    assert degrees_of_freedom(counts, 40, replace(known, spread_tray=9.0)) == FEWEST_DOF


def test_counts_without_eggs_have_no_effect() -> None:
    known = Clustering(0.1, 0.02, 0.01, 0.02, False)
    assert design_effect(LadderCounts(), 0, known) == 1
