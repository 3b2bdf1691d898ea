"""Which breeders to keep: the costs by hand, the advice at its borders, own rates from the ledger."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution.ledger import Account
from analytics.breeders.ranking import CostRule, OwnRates, eggs_to_know, own_rates, rank
from analytics.errors import DataTooThin, WrongUsage

PENS = ("Alder", "Birch", "Cedar")


def _rates(spread: float = 0.02, middles: tuple[float, ...] = (0.5, 0.7, 0.72)) -> OwnRates:
    random = np.random.default_rng(20261125)
    rates = np.array(middles) + spread * random.standard_normal((2000, len(middles)))
    eggs = np.full(len(middles), 200.0)
    return OwnRates(PENS[: len(middles)], eggs, eggs * middles, rates, rates.mean(axis=1), {"fertile": eggs})


def test_what_replacing_brings_in_by_hand() -> None:
    # 200 eggs: one gives .50 chicks at 2 less an egg at .3 = .7, the other .70 chicks = 1.1; 80 more, less 30
    rule = CostRule(chick_value=2.0, egg_cost=0.3, replacement_cost=30.0)
    assert_allclose(rule.gain(np.array([0.5]), np.array([0.7]), 200.0), [50.0])
    # eggs that cost more than they bring are sold, not set: only the better one's 1.1 an egg counts
    assert_allclose(rule.gain(np.array([0.1]), np.array([0.7]), 200.0), [190.0])
    assert_allclose(CostRule(2.0, 0.3, 30.0, 100.0).gain(np.array([0.5]), np.array([0.7]), 200.0), [10.0])


def test_the_worst_is_first_and_alone_is_replaced() -> None:
    first, *others = rank(_rates(), CostRule())
    assert (first.name, first.advice) == ("Alder", "replace")
    assert {row.advice for row in others} == {"keep"}
    # held against the middle of .70 and .72: 21 chicks of 100 eggs fewer
    assert_allclose(first.chicks_lost_per_100, 21.0, atol=0.3)
    assert first.probability_below_target == 1


def test_between_sure_and_unsure_a_known_one_is_watched_and_an_unknown_one_has_too_few_eggs() -> None:
    # 200 eggs at 7.5 chicks of 100 fewer bring 15, the cost of replacing: a chance of about one half
    watched = next(row for row in rank(_rates(0.02, (0.625, 0.69, 0.71)), CostRule()) if row.name == "Alder")
    assert 0.2 < watched.probability_pays < 0.8
    assert watched.advice == "watch"
    thin = next(row for row in rank(_rates(0.3, (0.625, 0.69, 0.71)), CostRule()) if row.name == "Alder")
    assert thin.advice == "too_few_eggs"


def test_at_least_one_stays() -> None:
    rows = rank(_rates(), CostRule(), target=0.99)
    assert sorted(row.advice for row in rows) == ["replace", "replace", "watch"]
    assert next(row.name for row in rows if row.advice == "watch") == "Cedar"


def test_eggs_to_know_follow_from_the_reliability_of_n_eggs() -> None:
    # n / (n + k): 50 eggs at a reliability of .2 mean k = 200, so 150 more make it one half (by hand)
    row = rank(_rates(), CostRule())[0]
    few = type(row)(*[getattr(row, name) for name in row.__slots__[:-2]], reliability=0.2, advice=row.advice)
    assert_allclose(eggs_to_know(few) + few.eggs, few.eggs * 4)


def _account() -> Account:
    """Two draws and steps; typical rates .9 x .8; Alder loses 10 and 20 chicks in two months."""
    months = ("Alder / 2026-01", "Alder / 2026-02", "Birch / 2026-01", "Birch / 2026-02")
    fertile = np.array([[4.0, 6.0, 0.0, 0.0], [8.0, 12.0, 0.0, 0.0]])
    own = {"fertile": np.array([[3.0, 0.0], [5.0, 0.0]]), "late": np.array([[2.0, -2.0], [4.0, -4.0]])}
    return Account(
        groups={},
        items={("flock", "pen"): (("Alder", "Birch"), own)},
        months={("flock", "pen:month"): (months, {"fertile": fertile})},
        slopes={},
        expected=np.array([[0.1, 0.2], [0.1, 0.2]]),
    )


def test_own_rates_are_typical_less_what_the_pen_lost_with_its_months() -> None:
    own = own_rates(_account(), {"Alder": 100.0, "Birch": 50.0}, {"Alder": 60.0, "Birch": 36.0})
    # typical .72; Alder loses 4 + 6 + 2 and 8 + 12 + 4 of 100 eggs, Birch -2 and -4 of 50
    assert_allclose(own.rates, [[0.60, 0.76], [0.48, 0.80]])
    assert_allclose(own.lost_of("Alder")["fertile"], 15.0)
    assert_allclose(own.lost_of("Birch")["late"], -6.0)


def test_what_cannot_be_ranked_is_said() -> None:
    with pytest.raises(DataTooThin, match="Fewer than two sires"):
        own_rates(_account(), {"Alder": 100.0}, {}, "sire")
    for wrong in (CostRule(egg_cost=-1.0), CostRule(chick_value=0.0), CostRule(eggs_ahead=0.0)):
        with pytest.raises(WrongUsage, match="costs"):
            rank(_rates(), wrong)
