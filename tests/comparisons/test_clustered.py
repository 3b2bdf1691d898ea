"""The clustered F test: textbook analyses it must equal, a dense slow twin, and its level."""

from __future__ import annotations

import warnings
from itertools import combinations

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
    assert found.test.dof2 / found.test.dof == pytest.approx(21 / 3, rel=1e-6)
    assert found.test.dof == pytest.approx(3, rel=0.2)  # stretched by the tails, which are nearly normal


def test_one_batch_gives_the_one_way_f() -> None:
    passed, pen = [28, 25, 30, 21, 19, 24, 27, 29, 22], [0, 0, 0, 1, 1, 1, 2, 2, 2]
    found = clustered_test(passed, [30] * 9, pen, [1] * 9)
    rates = [np.array(passed)[np.array(pen) == p] / 30 for p in range(3)]
    assert found.test.statistic == pytest.approx(stats.f_oneway(*rates).statistic)
    y = np.concatenate(rates)
    above, below = _dof_by_all_deals(y - y.mean(), np.array(pen))
    assert (found.test.dof, found.test.dof2) == pytest.approx((above, below))
    assert found.test.p_value == pytest.approx(stats.f.sf(found.test.statistic, above, below))


def _dof_by_all_deals(e: np.ndarray, pen: np.ndarray) -> tuple[float, float]:
    """Mean and variance of SSB / SST over all ways to deal trays to pens, matched to a beta (Pitman 1937)."""
    first = [set(place) for place in combinations(range(9), 3)]
    shares = []
    for one in first:
        rest = sorted(set(range(9)) - one)
        for two in combinations(rest, 3):
            three = set(rest) - set(two)
            sums = [e[list(group)].sum() for group in (one, two, three)]
            shares.append(sum(total**2 / 3 for total in sums) / (e @ e))
    mean, variance = np.mean(shares), np.var(shares)
    both = mean * (1 - mean) / variance - 1
    return 2 * mean * both, 2 * (1 - mean) * both


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
    assert found.test.dof2 / found.test.dof == pytest.approx(dof2 / 4, rel=1e-6)
    factor = _factor(passed / eggs, eggs, pen, batch, machine, found)
    assert found.test.dof == pytest.approx(4 * factor, rel=1e-6)


def _factor(y, eggs, pen, batch, machine, found) -> float:
    """Box and Watson's factor with every matrix written out; kurtosis in Fisher's k statistics."""
    n = len(eggs)
    before = np.column_stack((np.ones(n), machine)).astype(float)
    x = np.column_stack((before, pen[:, None] == np.arange(1, 5)))
    parts = [
        np.diag((1 + (eggs - 1) * found.tray_rho) / eggs),
        (batch[:, None] == batch[None, :]).astype(float),
    ]
    scale = _scale(y, x, parts, found.batch_variance)
    # the root that is symmetric once the trays' own spread is taken out
    own = np.sqrt(1 / (scale * np.diag(parts[0])))
    root = linalg.inv(linalg.sqrtm(np.eye(n) + found.batch_variance * np.outer(own, own) * parts[1]).real)
    white = root * own[None, :]
    free = np.eye(n) - _onto(white @ before)
    share = _onto(white @ x) - _onto(white @ before)
    e = free @ white @ y
    left, q = n - 2, 4
    s2, s4 = (e**2).sum(), (e**4).sum()
    m = left + 1
    kurtosis = (left * (left + 2) * s4 / s2**2 - 3 * (np.diag(free) ** 2).sum()) * m / ((m - 2) * (m - 3))
    uneven = ((np.diag(share) - q / left * np.diag(free)) ** 2).sum()
    usual = 2 * q * (left - q) / (left**2 * (left + 2))
    variance = usual * (1 + kurtosis * ((m + 1) * uneven / (2 * q * (left - q)) - 1 / m))
    mean = q / left
    return float(2 * (mean * (1 - mean) / variance - 1) / left)


def _onto(columns: np.ndarray) -> np.ndarray:
    return columns @ linalg.pinv(columns)


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
