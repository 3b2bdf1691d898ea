"""The clustered F test: textbook analyses it must equal, a dense slow twin, and its level."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import linalg, stats

from analytics.comparisons.chi_square import chi_square
from analytics.comparisons.clustered import clustered_test

RANDOM = 20260301


def _farm(random: np.random.Generator, pens: int = 5, batches: int = 14, noise: float = 0.6):
    """Trays of some pens in each batch, no pen differing; logit noise of the batch and of the tray."""
    there = random.random((batches, pens)) < 0.6
    there[:, :2] = True
    batch, pen = np.nonzero(there)
    eta = 2 + random.normal(0, noise, batches)[batch] + random.normal(0, noise, len(pen))
    eggs = random.integers(8, 40, len(pen))
    return random.binomial(eggs, 1 / (1 + np.exp(-eta))), eggs, pen, batch, batch % 2


def test_complete_blocks_give_the_textbook_f() -> None:
    """Every pen once in every batch, equal trays: the two-way analysis of variance (Fisher), exactly."""
    random = np.random.default_rng(RANDOM)
    rate = np.clip(0.8 + random.normal(0, 0.15, 8)[:, None] + random.normal(0, 0.05, (8, 4)), 0, 1)
    passed = random.binomial(30, rate)
    found = clustered_test(
        passed.ravel(), np.full(32, 30), np.tile(np.arange(4), 8), np.repeat(np.arange(8), 4)
    )
    y = passed / 30
    between = 8 * ((y.mean(0) - y.mean()) ** 2).sum() / 3
    left = ((y - y.mean(0) - y.mean(1, keepdims=True) + y.mean()) ** 2).sum() / 21
    assert found.batch_variance > 0
    assert found.test.statistic == pytest.approx(between / left, rel=1e-6)
    assert found.test.dof == 3
    assert found.test.dof2 == pytest.approx(21, rel=1e-6)


def test_one_batch_gives_the_one_way_f() -> None:
    passed, pen = [28, 25, 30, 21, 19, 24, 27, 29, 22], [0, 0, 0, 1, 1, 1, 2, 2, 2]
    found = clustered_test(passed, [30] * 9, pen, [1] * 9)
    twin = stats.f_oneway(*(np.array(passed)[np.array(pen) == p] / 30 for p in range(3)))
    assert found.test.statistic == pytest.approx(twin.statistic)
    assert found.test.p_value == pytest.approx(twin.pvalue)
    assert found.test.dof2 == pytest.approx(6)


def test_variances_agree_with_statsmodels_mixed_model() -> None:
    random = np.random.default_rng(RANDOM + 1)
    _, _, pen, batch, _ = _farm(random)
    eggs = np.full(len(pen), 25)
    passed = random.binomial(25, random.uniform(0.5, 0.95, 14)[batch])
    found = clustered_test(passed, eggs, pen, batch)
    design = (pen[:, None] == np.arange(5)).astype(float)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        twin = sm.MixedLM(passed / 25, design, batch).fit(reml=True)
    assert found.batch_variance == pytest.approx(float(twin.cov_re[0, 0]), rel=1e-3)


@pytest.mark.parametrize("seed", range(4))
def test_f_and_its_degrees_of_freedom_equal_dense_matrices(seed: int) -> None:
    passed, eggs, pen, batch, machine = _farm(np.random.default_rng(RANDOM + seed), noise=1.0)
    found = clustered_test(passed, eggs, pen, batch, machine)
    statistic, dof2 = _dense(passed, eggs, pen, batch, machine, found)
    assert found.test.statistic == pytest.approx(statistic, rel=1e-6)
    assert found.test.dof2 == pytest.approx(dof2, rel=1e-6)


def _dense(passed, eggs, pen, batch, machine, found) -> tuple[float, float]:
    """Kenward and Roger's formulas with every matrix written out, at the variances found."""
    y, n = passed / eggs, len(eggs)
    x = np.column_stack((np.ones(n), machine, pen[:, None] == np.arange(1, 5))).astype(float)
    parts = [
        np.diag((1 + (eggs - 1) * found.tray_rho) / eggs),
        (batch[:, None] == batch[None, :]).astype(float),
    ]
    scale = _scale(y, x, parts, found.batch_variance)
    inverse = linalg.inv(scale * parts[0] + found.batch_variance * parts[1])
    phi = linalg.inv(x.T @ inverse @ x)
    p = [-x.T @ inverse @ g @ inverse @ x for g in parts]
    q = [[x.T @ inverse @ g @ inverse @ h @ inverse @ x for h in parts] for g in parts]
    information = np.array(
        [
            [
                np.trace(inverse @ parts[i] @ inverse @ parts[j]) / 2
                - np.trace(phi @ q[i][j])
                + np.trace(phi @ p[i] @ phi @ p[j]) / 2
                for j in range(2)
            ]
            for i in range(2)
        ]
    )
    w = linalg.inv(information)
    both = [(i, j) for i in range(2) for j in range(2)]
    adjusted = phi + 2 * phi @ sum(w[i, j] * (q[i][j] - p[i] @ phi @ p[j]) for i, j in both) @ phi
    pick = np.eye(x.shape[1])[:, 2:]
    theta = pick @ linalg.inv(pick.T @ phi @ pick) @ pick.T
    a1 = sum(
        w[i, j] * np.trace(theta @ phi @ p[i] @ phi) * np.trace(theta @ phi @ p[j] @ phi) for i, j in both
    )
    a2 = sum(w[i, j] * np.trace(theta @ phi @ p[i] @ phi @ theta @ phi @ p[j] @ phi) for i, j in both)
    k = 4
    b = (a1 + 6 * a2) / (2 * k)
    g = ((k + 1) * a1 - (k + 4) * a2) / ((k + 2) * a2)
    c = np.array([g, k - g, k + 2 - g]) / (3 * k + 2 * (1 - g))
    mean = 1 / (1 - a2 / k)
    variance = 2 / k * (1 + c[0] * b) / ((1 - c[1] * b) ** 2 * (1 - c[2] * b))
    dof2 = 4 + (k + 2) / (k * variance / (2 * mean**2) - 1)
    beta = pick.T @ phi @ x.T @ inverse @ y
    raw = beta @ linalg.solve(pick.T @ adjusted @ pick, beta) / k
    return raw * dof2 / (mean * (dof2 - 2)), dof2


def _scale(y, x, parts, batch_variance: float) -> float:
    """The scale that fits: residual quadratic form over its degrees of freedom, found by halving."""
    low, high = 1e-6, 10.0
    for _ in range(200):
        middle = (low + high) / 2
        inverse = linalg.inv(middle * parts[0] + batch_variance * parts[1])
        beta = linalg.solve(x.T @ inverse @ x, x.T @ inverse @ y)
        left = (y - x @ beta) @ inverse @ (y - x @ beta) - (len(y) - x.shape[1])
        low, high = (middle, high) if left > 0 else (low, middle)
    return middle


def test_order_and_names_do_not_matter() -> None:
    random = np.random.default_rng(RANDOM)
    passed, eggs, pen, batch, machine = _farm(random)
    straight = clustered_test(passed, eggs, pen, batch, machine).test
    order = random.permutation(len(eggs))
    names = np.array(["e", "b", "a", "d", "c"])[pen]
    mixed = clustered_test(passed[order], eggs[order], names[order], -batch[order], machine[order]).test
    assert mixed.statistic == pytest.approx(straight.statistic, rel=1e-6)
    assert mixed.p_value == pytest.approx(straight.p_value, rel=1e-6)


def test_losses_and_hatches_give_the_same_answer() -> None:
    passed, eggs, pen, batch, machine = _farm(np.random.default_rng(RANDOM))
    there = clustered_test(passed, eggs, pen, batch, machine).test
    back = clustered_test(eggs - passed, eggs, pen, batch, machine).test
    assert there.p_value == pytest.approx(back.p_value, rel=1e-6)


def test_level_holds_where_the_pooled_chi_square_cries_wolf() -> None:
    random = np.random.default_rng(RANDOM)
    ours, pooled = [], []
    for _ in range(300):
        passed, eggs, pen, batch, machine = _farm(random)
        ours.append(clustered_test(passed, eggs, pen, batch, machine).test.p_value <= 0.05)
        sums = [np.bincount(pen, weights=w) for w in (passed, eggs - passed)]
        pooled.append(stats.chi2_contingency(np.array(sums), correction=False).pvalue <= 0.05)
    assert 0.012 <= np.mean(ours) <= 0.092  # 5 % and 3.3 standard errors of 300 runs
    assert np.mean(pooled) > 0.2


def test_a_poor_pen_is_found() -> None:
    passed, eggs, pen, batch, machine = _farm(np.random.default_rng(RANDOM), noise=0.3)
    poor = np.where(pen == 0, np.minimum(passed, eggs // 2), passed)
    assert clustered_test(poor, eggs, pen, batch, machine).test.p_value < 0.001
    assert (
        chi_square([[poor[pen == p].sum(), (eggs - poor)[pen == p].sum()] for p in range(5)]).p_value < 0.001
    )


def test_pens_that_are_the_machines_are_not_told_apart() -> None:
    found = clustered_test(
        [8, 7, 9, 6, 8, 5], [10] * 6, list("aaabbb"), [1, 2, 3, 1, 2, 3], [0, 0, 0, 1, 1, 1]
    )
    assert found.test.p_value is None
    assert "cannot be told apart" in found.test.why
