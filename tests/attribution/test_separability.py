"""What cannot be told apart, on designs small enough to see by eye."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.attribution.crossed import Factor, fit
from analytics.attribution.draws import draws
from analytics.attribution.separability import (
    Confounding,
    Island,
    contractions,
    explained_by_levels,
    separability,
)
from analytics.errors import WrongUsage

PAIR = [("pen", "machine")]


def factor(name: str, members: Sequence[str]) -> Factor:
    levels = tuple(sorted({member for member in members if member}))
    return Factor(name, np.array([levels.index(m) if m else -1 for m in members]), levels)


def test_pens_that_shared_a_machine_are_one_island() -> None:
    trays = [factor("pen", "ABAB"), factor("machine", "1122")]
    found = separability(trays, {}, np.ones(4), PAIR)
    assert found.meetings[0].islands == (Island(("A", "B"), ("1", "2")),)
    assert found.meetings[0].aliased_contrasts == 0
    assert not found.meetings[0].nothing_apart
    assert found.one_level == ()


def test_a_chain_of_meetings_is_one_island() -> None:
    found = separability([factor("pen", "ABBC"), factor("machine", "1122")], {}, np.ones(4), PAIR)
    assert len(found.meetings[0].islands) == 1


def test_home_machines_alias_only_the_contrast_between_machines() -> None:
    trays = [factor("pen", "AABBCCDE"), factor("machine", "11112222")]
    found = separability(trays, {}, np.ones(8), PAIR).meetings[0]
    assert found.islands == (Island(("A", "B"), ("1",)), Island(("C", "D", "E"), ("2",)))
    assert found.aliased_contrasts == 1
    assert not found.nothing_apart
    assert found.first_island.tolist() == [0, 0, 1, 1, 1]
    assert found.second_island.tolist() == [0, 1]


def test_one_pen_a_machine_leaves_nothing_apart() -> None:
    found = separability([factor("pen", "AABC"), factor("machine", "1123")], {}, np.ones(4), PAIR)
    assert found.meetings[0].aliased_contrasts == 2
    assert found.meetings[0].nothing_apart


def test_aliased_contrasts_are_the_rank_that_is_missing() -> None:
    rng = np.random.default_rng(5)
    for _ in range(30):
        pen, machine = rng.integers(0, 6, 9), rng.integers(0, 5, 9)
        trays = [factor("pen", [f"p{at}" for at in pen]), factor("machine", [f"m{at}" for at in machine])]
        found = separability(trays, {}, np.ones(9), PAIR).meetings[0]
        tables = [np.eye(len(f.levels))[f.codes] for f in trays]
        rank = np.linalg.matrix_rank(np.hstack(tables))
        assert found.aliased_contrasts == tables[0].shape[1] + tables[1].shape[1] - rank - 1


def test_trays_without_eggs_link_nothing() -> None:
    trays = [factor("pen", ["A", "B", "A", "C"]), factor("machine", ["1", "2", "2", "3"])]
    found = separability(trays, {}, [5, 5, 0, 0], PAIR).meetings[0]
    assert found.islands == (Island(("A",), ("1",)), Island(("B",), ("2",)))
    assert found.first_island.tolist() == [0, 1, -1]
    assert found.second_island.tolist() == [0, 1, -1]


def test_trays_outside_a_factor_link_nothing() -> None:
    trays = [factor("sire", ["A", "", "B", ""]), factor("machine", "1122")]
    found = separability(trays, {}, np.ones(4), [("sire", "machine")]).meetings[0]
    assert found.aliased_contrasts == 1


def test_factors_of_one_level_are_named() -> None:
    trays = [factor("pen", "AABB"), factor("machine", "1112"), factor("batch", "xxxx")]
    assert separability(trays, {}, [1, 1, 1, 0], []).one_level == ("machine", "batch")


def test_one_hen_age_a_batch_is_confounded_with_the_batch() -> None:
    batch, pen = factor("batch", "wwxxyyzz"), factor("pen", "ABABABAB")
    age = np.array([30.0, 30, 34, 34, 38, 38, 42, 42])
    storage = np.array([1.0, 5, 2, 4, 5, 1, 3, 3])
    season = -2 * age + 1
    same = np.full(8, 7.0)
    columns = {"hen age": age, "storage": storage, "season": season, "diet": same}
    found = separability([batch, pen], columns, np.ones(8), [])
    assert found.constant == ("diet",)
    assert {(c.covariate, c.other) for c in found.confounded} == {
        ("hen age", "batch"),
        ("season", "batch"),
        ("hen age", "season"),
    }
    assert_allclose([c.explained for c in found.confounded], 1)


def test_the_share_explained_by_levels_is_that_of_an_analysis_of_variance() -> None:
    column, codes = np.array([1.0, 2, 3, 6, 7, 8, 99]), np.array([0, 0, 0, 2, 2, 2, -1])
    # By hand: mean 4.5, total 41.5; levels 2 and 7, between 6 x 2.5^2 = 37.5.
    assert explained_by_levels(column, codes) == pytest.approx(37.5 / 41.5)
    assert explained_by_levels(np.ones(7), codes) == 0
    assert Confounding("a", "b", 0.96).explained == 0.96


def test_a_pair_that_is_not_there_is_refused() -> None:
    with pytest.raises(WrongUsage, match="The factor machine"):
        separability([factor("pen", "AB")], {}, [1, 1], PAIR)


def test_many_levels_narrow_an_sd_and_one_level_does_not() -> None:
    rng = np.random.default_rng(8)
    pen, machine = np.arange(240) % 60, np.zeros(240, int)
    eggs = np.full(240, 40)
    eta = 1 + 0.6 * rng.normal(size=60)[pen]
    passed = rng.binomial(eggs, 1 / (1 + np.exp(-eta)))
    factors = [Factor("pen", pen, tuple(map(str, range(60)))), Factor("machine", machine, ("1",))]
    found = fit(passed, eggs, np.ones((240, 1)), factors)
    pens, machines, tray = contractions(draws(found, 4000, 256), 1.0)
    assert (pens.name, machines.name, tray.name) == ("pen", "machine", "tray")
    assert pens.share > 0.95
    assert tray.share > 0.95
    assert abs(machines.share) < 0.15


def test_contraction_is_measured_against_the_scale_of_the_prior() -> None:
    one_tray = fit([8], [20], np.ones((1, 1)), [Factor("pen", np.array([0]), ("A",))], sd_prior=0.5)
    assert all(abs(c.share) < 0.15 for c in contractions(draws(one_tray, 8000, 512), 0.5))
