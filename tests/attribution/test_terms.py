"""What a step is explained by, on layouts small enough to see by eye."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analytics.attribution.terms import Terms, Trays, check_trays, terms_of
from analytics.errors import WrongUsage


def farm(months: int, batches: int, pens: int, machines: int, trays: int = 1) -> Trays:
    """Every pen in every batch with some trays; so many batches a month, machines in turn."""
    batch, pen, _ = (part.ravel() for part in np.mgrid[: months * batches, :pens, :trays])
    count = len(batch)
    machine = np.char.add("M", (batch % machines).astype(str))
    return Trays(
        steps=("fertile", "early", "mid", "late", "shell"),
        eggs=np.full(count, 20.0),
        passed=np.tile([18.0, 17, 17, 16, 15], (count, 1)),
        pen=np.char.add("P", pen.astype(str)),
        setter=machine,
        hatcher=machine,
        batch=np.char.add("B", np.char.zfill(batch.astype(str), 2)),
        month=np.char.add("2026-", np.char.zfill((1 + batch // batches).astype(str), 2)),
        storage_days=(np.arange(count) * 7 % 5).astype(float),
        hen_weeks=np.full(count, np.nan),
        diets={},
        parents={},
    )


def groups_of(terms: Terms) -> dict[str, str]:
    return {each.factor.name: each.group for each in terms.groupings}


def test_a_farm_with_everything() -> None:
    found = terms_of(farm(4, 4, 3, 2), "early")
    assert groups_of(found) == {
        "pen": "flock",
        "pen:month": "flock",
        "incubator": "incubator",
        "incubator:month": "incubator",
        "batch": "incubator",
        "month": "season",
    }
    assert not found.apart
    assert found.left_out == {"hen_age": "it does not vary"}


def test_one_batch_a_month_is_no_month() -> None:
    found = terms_of(farm(6, 1, 3, 2), "early")
    assert groups_of(found) == {"pen": "flock", "incubator": "incubator", "batch": "incubator"}
    assert "part of the batch" in found.left_out["month"]


def test_with_one_machine_the_month_is_shared_with_it() -> None:
    found = terms_of(farm(4, 2, 3, 1), "early")
    month = next(each for each in found.groupings if each.factor.name == "month")
    assert (month.group, month.beside) == ("shared", ("incubator",))
    assert "incubator" in found.left_out


def test_with_one_pen_the_batch_is_shared_with_it() -> None:
    found = terms_of(farm(2, 4, 1, 2, trays=2), "early")
    batch = next(each for each in found.groupings if each.factor.name == "batch")
    assert (batch.group, batch.beside) == ("shared", ("pen",))


def test_one_tray_in_each_batch_leaves_the_batch_to_chance() -> None:
    assert "batch" in terms_of(farm(2, 4, 1, 2), "early").left_out


def test_the_machine_of_late_and_shell_is_the_hatcher() -> None:
    trays = farm(4, 2, 3, 2)
    trays = replace(trays, hatcher=np.char.add("H", (np.arange(len(trays.eggs)) % 2).astype(str)))
    names = {step: set(groups_of(terms_of(trays, step))) for step in trays.steps}
    assert all("incubator" in names[step] for step in ("fertile", "early", "mid"))
    assert all("hatcher" in names[step] and "incubator" not in names[step] for step in ("late", "shell"))
    same = terms_of(farm(4, 2, 3, 2), "late")
    assert "incubator" in groups_of(same)


def test_hens_of_one_age_share_it_with_the_month() -> None:
    trays = farm(6, 2, 3, 2)
    month = np.unique(trays.month, return_inverse=True)[1]
    found = terms_of(replace(trays, hen_weeks=20 + 4.3 * month), "fertile")
    age = next(each for each in found.covariates if each.name == "hen_age")
    assert (age.group, age.beside) == ("shared", ("month",))
    # also where the month itself is no term
    single = farm(6, 1, 3, 2)
    month = np.unique(single.month, return_inverse=True)[1]
    found = terms_of(replace(single, hen_weeks=20 + 4.3 * month), "fertile")
    assert next(each for each in found.covariates if each.name == "hen_age").beside == ("month",)


def test_storage_has_its_typical_value_and_gaps_count_as_the_median() -> None:
    trays = farm(2, 2, 3, 2)
    storage = np.arange(len(trays.eggs), dtype=float)
    storage[0] = np.nan
    dose = terms_of(replace(trays, storage_days=storage), "early").covariates[0].dose
    assert dose[3] == 0  # a quarter of the eggs have 1 to 3 days
    assert dose[0] == 3  # not recorded: the middle of 1..11
    given = terms_of(replace(trays, storage_days=storage), "early", {"storage_days": 2.0}).covariates[0].dose
    assert (given[2], given[5]) == (0, 3)


def test_a_diet_is_the_flock_s() -> None:
    trays = farm(4, 2, 3, 2)
    fed = (np.arange(len(trays.eggs)) % 4 == 0).astype(float)
    found = terms_of(replace(trays, diets={"calcium": fed}), "late")
    assert ("flock", "diet calcium") in [(each.group, each.name) for each in found.covariates]


def test_a_sire_not_known_belongs_to_no_level() -> None:
    trays = farm(4, 2, 4, 2)
    sire = np.where(trays.pen == "P0", "", np.where(trays.pen == "P1", "a", "b"))
    found = terms_of(replace(trays, parents={"sire": sire}), "fertile")
    factor = next(each.factor for each in found.groupings if each.factor.name == "sire")
    assert factor.levels == ("a", "b")
    assert set(factor.codes[trays.pen == "P0"]) == {-1}


def test_counts_that_are_no_ladder_are_refused() -> None:
    trays = farm(1, 2, 2, 2)
    for passed in (trays.passed[:, ::-1], trays.passed[:, :2], np.where(trays.passed > 0, np.nan, 0)):
        with pytest.raises(WrongUsage):
            check_trays(replace(trays, passed=passed))
