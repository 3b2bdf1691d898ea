"""The mating plan against every possible plan, and the rotation by hand."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from analytics.breeders.matings import mating_plan
from analytics.errors import WrongUsage


@pytest.mark.parametrize("seed", range(5))
def test_no_plan_has_less(seed: int) -> None:
    random = np.random.default_rng(seed)
    table = random.choice([0, 0.0625, 0.125, 0.25], size=(3, 6))
    plan = mating_plan(table, ["a", "b", "c"], list("uvwxyz"), most_females=2)
    ways = [way for way in product(range(3), repeat=6) if max(np.bincount(way)) <= 2]
    least = min(table[list(way), range(6)].mean() for way in ways)
    assert plan.mean == pytest.approx(least, abs=1e-15)
    males = [mating.male for mating in plan.matings]
    assert max(males.count(male) for male in "abc") <= 2
    assert [mating.female for mating in plan.matings] == list("uvwxyz")
    assert plan.mean == pytest.approx(np.mean([mating.inbreeding for mating in plan.matings]))


def test_rotation_moves_males_on_by_one_line() -> None:
    """Three lines of brothers and sisters: each line's hens get the cock of the line before, by hand."""
    own = np.array([[0.25, 0.25, 0, 0, 0, 0], [0, 0, 0.25, 0.25, 0, 0], [0, 0, 0, 0, 0.25, 0.25]])
    own[0, 2] = 0.125  # Ash's cock is half a brother of one of Elm's hens
    hens = ["ash1", "ash2", "elm1", "elm2", "oak1", "oak2"]
    lines = [hen[:3] for hen in hens]
    plan = mating_plan(own, ["ash", "elm", "oak"], hens, 2, ["ash", "elm", "oak"], lines)
    turned = {mating.female: mating.male for mating in plan.rotation}
    assert turned == {
        "ash1": "oak",
        "ash2": "oak",
        "elm1": "ash",
        "elm2": "ash",
        "oak1": "elm",
        "oak2": "elm",
    }
    assert plan.rotation_mean == pytest.approx(0.125 / 6)
    assert plan.rotation_highest == 0.125
    assert (plan.mean, plan.highest, plan.idle) == (0, 0, ())
    crowded = mating_plan(own[[0, 1]], ["ash", "elm"], hens, 3, ["ash", "elm"], lines)
    spilled = {mating.female: mating.male for mating in crowded.rotation}
    assert [spilled[hen] for hen in hens] == ["elm", "elm", "ash", "ash", "elm", "ash"]


def test_what_is_not_known_is_said() -> None:
    plan = mating_plan([[0.25, 0], [0, 0.25], [0.5, 0.5]], ["a", "b", "c"], ["x", "y"], 1)
    assert (plan.mean, plan.idle, plan.rotation, plan.rotation_mean) == (0, ("c",), (), None)
    assert plan.why == "The lines of the birds are not known, so there is no rotation to compare with."
    with pytest.raises(WrongUsage, match="3 females for 1 male"):
        mating_plan([[0, 0, 0]], ["a"], ["x", "y", "z"], 2)
    with pytest.raises(WrongUsage, match="No males, or no females"):
        mating_plan(np.zeros((0, 1)), [], ["x"], 2)
