"""The bordered Cholesky against plain dense linear algebra, and fits with and without it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution import layout as layouts
from analytics.attribution.bordered import factor_bordered
from analytics.attribution.crossed import Factor, fit
from analytics.attribution.draws import draws
from analytics.attribution.layout import Floats, Ints

BLOCKS = (np.array([0, 3]), np.array([1, 2, 5]), np.array([4]))


def bordered_matrix(front: int) -> Floats:
    rng = np.random.default_rng(front)
    size = front + 6
    kept = np.zeros((size, size), dtype=bool)
    kept[:front], kept[:, :front] = True, True
    for rows in BLOCKS:
        kept[np.ix_(front + rows, front + rows)] = True
    half = np.where(kept, rng.normal(size=(size, size)), 0)
    return np.where(kept, half + half.T, 0) + 12 * np.eye(size)


@pytest.mark.parametrize(("front", "blocks"), [(0, BLOCKS), (3, BLOCKS), (3, ())])
def test_agrees_with_dense_algebra(front: int, blocks: tuple[Ints, ...]) -> None:
    matrix = bordered_matrix(front)
    found = factor_bordered(np.triu(matrix), blocks)
    assert found is not None
    whole = np.linalg.inv(matrix)
    right = np.random.default_rng(1).normal(size=(len(matrix), 2))
    assert found.log_determinant() == pytest.approx(np.linalg.slogdet(matrix)[1], abs=1e-12)
    assert_allclose(found.solve(right), whole @ right, atol=1e-12)
    assert_allclose(found.solve(right[:, 0]), whole @ right[:, 0], atol=1e-12)
    assert_allclose(found.inverse()[matrix != 0], whole[matrix != 0], atol=1e-12)
    turned = found.spread(np.eye(len(matrix)))
    assert_allclose(turned @ turned.T, whole, atol=1e-12)


def test_a_matrix_that_is_not_positive_definite_has_no_factor() -> None:
    matrix = bordered_matrix(3)
    assert factor_bordered(matrix - 14 * np.eye(9), BLOCKS) is None
    matrix[0, 0] = -1
    assert factor_bordered(matrix, BLOCKS) is None


def monthly_farm() -> Any:
    rng = np.random.default_rng(9)
    trays, months = 240, 8
    batch = np.sort(rng.integers(0, 40, trays))
    pen, machine, month = rng.integers(0, 5, trays), rng.integers(0, 3, 40)[batch], batch * months // 40
    groups = {"batch": batch, "pen": pen, "machine": machine, "pen:month": pen * months + month}
    groups["machine:month"] = machine * months + month
    eta = 1 + sum(0.4 * rng.normal(size=code.max() + 1)[code] for code in groups.values())
    eggs = rng.integers(10, 40, trays)
    factors = [Factor(n, c, tuple(map(str, range(int(c.max()) + 1)))) for n, c in groups.items()]
    slopes = np.column_stack([np.ones(trays), rng.normal(size=trays)])
    return rng.binomial(eggs, 1 / (1 + np.exp(-eta))), eggs, slopes, factors


@pytest.mark.parametrize("method", ["reml", "ml"])
@pytest.mark.parametrize("cells", [0, layouts.DENSE_CELLS])
def test_months_set_apart_give_the_same_fit(monkeypatch: pytest.MonkeyPatch, method: str, cells: int) -> None:
    trays = monthly_farm()
    plain = fit(*trays, method=method)
    monkeypatch.setattr(layouts, "WORTH_SPLITTING", 0)
    monkeypatch.setattr(layouts, "CALL", 0)
    monkeypatch.setattr(layouts, "DENSE_CELLS", cells)
    apart = fit(*trays, method=method)
    assert plain.problem.layout.blocks == ()
    assert len(apart.problem.layout.blocks) >= 8
    assert apart.log_likelihood == pytest.approx(plain.log_likelihood, abs=1e-8)
    assert_allclose(apart.scales.sd, plain.scales.sd, rtol=1e-6)
    assert_allclose(apart.covariance_total, plain.covariance_total, rtol=1e-6)
    for mine, theirs in zip(apart.modes.effect_variances, plain.modes.effect_variances, strict=True):
        assert_allclose(mine, theirs, rtol=1e-6)
    if method == "reml":
        one, other = draws(apart, 4000, 16), draws(plain, 4000, 16)
        assert_allclose(one.b.mean(axis=0), other.b.mean(axis=0), atol=0.03)
        assert_allclose(one.of("pen").std(axis=0), other.of("pen").std(axis=0), rtol=0.1)
