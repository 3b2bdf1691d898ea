"""Trays exchanged within batches: exact lists, drawn p-values, slow twins."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from analytics.comparisons.permutation import permute_within
from analytics.comparisons.stratified import within_batches

SMALL = (
    [9, 4, 7, 8, 10, 3, 6],
    [10, 8, 10, 12, 11, 9, 7],
    ["a", "b", "a", "b", "a", "b", "c"],
    [1, 1, 1, 1, 2, 2, 2],
)


def _statistic(passed, eggs, pen, batch) -> float:
    """The quadratic form with its covariance taken over every order of every batch, slow and plain."""
    passed, eggs, pen, batch = (np.array(row) for row in (passed, eggs, pen, batch))
    pens = np.unique(pen)

    def sums(labels) -> np.ndarray:
        excess = np.zeros(len(passed))
        for b in np.unique(batch):
            of = batch == b
            excess[of] = passed[of] - eggs[of] * passed[of].sum() / eggs[of].sum()
        return np.array([excess[labels == p].sum() for p in pens])

    dealt = np.array([sums(labels) for labels in _every_order(pen, batch)])
    assert np.allclose(dealt.mean(0), 0)
    weight = np.linalg.pinv(dealt.T @ dealt / len(dealt), rcond=1e-9)
    return float(sums(pen) @ weight @ sums(pen)), np.einsum("ij,jk,ik->i", dealt, weight, dealt)


def _every_order(pen, batch):
    groups = [np.flatnonzero(batch == b) for b in np.unique(batch)]
    for orders in itertools.product(*(itertools.permutations(group) for group in groups)):
        labels = pen.copy()
        for group, order in zip(groups, orders, strict=True):
            labels[list(group)] = pen[list(order)]
        yield labels


def test_exact_p_equals_listing_every_order() -> None:
    found = permute_within(*SMALL, np.random.default_rng(0))
    statistic, dealt = _statistic(*SMALL)
    assert found.exact
    assert found.error == 0
    assert found.deals == 6 * 6  # 4!/(2! 2!) and 3!
    assert found.statistic == pytest.approx(statistic)
    assert found.p_value == pytest.approx((dealt >= statistic - 1e-9).mean())


def test_drawn_p_agrees_with_the_list(monkeypatch) -> None:
    exact = permute_within(*SMALL, np.random.default_rng(0))
    monkeypatch.setattr("analytics.comparisons.permutation.EXACT_LIMIT", 0)
    drawn = permute_within(*SMALL, np.random.default_rng(0), draws=20_000)
    assert not drawn.exact
    assert drawn.statistic == exact.statistic
    assert drawn.p_value == pytest.approx(exact.p_value, abs=4 * drawn.error)


def test_drawn_p_is_b_plus_one_over_m_plus_one() -> None:
    random = np.random.default_rng(3)
    pen, batch = np.tile(np.repeat(np.arange(3), 2), 12), np.repeat(np.arange(12), 6)
    eggs = np.full(72, 30)
    passed = random.binomial(eggs, np.array([0.95, 0.6, 0.3])[pen])
    found = permute_within(passed, eggs, pen, batch, np.random.default_rng(1), draws=499)
    assert found.p_value == pytest.approx(1 / 500)
    assert found.deals == 499
    assert found.error == pytest.approx(np.sqrt(1 / 500 * (1 - 1 / 500) / 499))


def test_the_same_seed_gives_the_same_answer() -> None:
    random = np.random.default_rng(7)
    pen, batch = np.tile(np.arange(4), 10), np.repeat(np.arange(10), 4)
    passed = random.binomial(20, 0.8, 40)
    first, second = (
        permute_within(passed, [20] * 40, pen, batch, np.random.default_rng(42)) for _ in range(2)
    )
    assert first == second


def test_one_egg_trays_give_the_stratified_test() -> None:
    """With one egg a tray, exchanging trays is exchanging eggs: the statistic is the stratified one."""
    random = np.random.default_rng(9)
    pen, batch = random.integers(0, 3, 120), random.integers(0, 4, 120)
    passed = random.binomial(1, 0.7, 120)
    found = permute_within(passed, np.ones(120), pen, batch, random)
    assert found.statistic == pytest.approx(within_batches(passed, np.ones(120), pen, batch).statistic)


def test_level_holds_however_alike_tray_mates_are() -> None:
    random = np.random.default_rng(12)
    pen, batch = np.tile(np.repeat(np.arange(3), 2), 8), np.repeat(np.arange(8), 6)
    eggs = np.full(48, 25)
    alarms = 0
    for _ in range(400):
        passed = random.binomial(eggs, random.beta(8, 2, 48))  # correlation 1 / 11
        alarms += permute_within(passed, eggs, pen, batch, random, draws=199).p_value <= 0.05
    assert 0.02 <= alarms / 400 <= 0.085  # 5 % and a little over three standard errors


def test_a_pen_alone_in_its_batch_changes_nothing() -> None:
    passed, eggs, pen, batch = (list(row) for row in SMALL)
    more = permute_within([*passed, 2], [*eggs, 9], [*pen, "a"], [*batch, 3], np.random.default_rng(0))
    assert more.p_value == permute_within(*SMALL, np.random.default_rng(0)).p_value
