"""Whose eggs a place is held against: every comparison counted by hand on ten trays."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analytics.incubation.signs_farm import Farm, facts_of, is_apart, rests_on_one_batch, usual_of
from analytics.incubation.signs_records import Facts, Placed, Share

# batch, machine, day of setting, pen, days stored, share of the feed, eggs that show it, eggs
TRAYS = (
    ("N1", "North", 0, "Rowan", 2, 0.0, 6, 20), ("N1", "North", 0, "Alder", 9, 0.0, 1, 10),
    ("S1", "South", 3, "Rowan", 8, 0.0, 2, 20), ("S1", "South", 3, "Alder", 3, 0.0, 0, 10),
    ("N2", "North", 30, "Rowan", 4, 1.0, 8, 20), ("N2", "North", 30, "Birch", 4, 0.0, 0, 30),
    ("S2", "South", 60, "Birch", 5, 0.0, 1, 30), ("S2", "South", 60, "Alder", 4, 0.0, 2, 10),
    ("S3", "South", 90, "Alder", 1, 0.0, 0, 10), ("N3", "North", 120, "Alder", 7, 0.0, 0, 10),
)  # fmt: skip


@pytest.fixture
def farm() -> Farm:
    batch, machine, day, pen, stored, fed, seen, eggs = (
        np.array(column) for column in zip(*TRAYS, strict=True)
    )
    blank = np.full(len(batch), np.nan)
    return Farm(
        pen=pen, batch=batch, setter=machine, hatcher=machine, set_day=day.astype(float),
        numbers={"storage_days": stored.astype(float), "storage_c": blank, "hen_weeks": blank, "egg_g": blank,
                 "water_loss": blank},
        signs={"rotten": (seen.astype(float), eggs.astype(float))},
        feeds={"oyster shell": fed}, notes={"setter_rh": {"N1": 50.0, "S1": 60.0}}, shells={}, ranges={},
        alike={},
    )  # fmt: skip


def counts(share: Share | None) -> tuple[float, float] | None:
    return (share.seen, share.eggs) if share else None


def asked(farm: Farm, placed: Placed, level: str) -> Facts:
    found = facts_of(farm, "rotten", placed, level, 1)
    assert found is not None
    return found


def test_a_machine(farm: Farm) -> None:
    found = asked(farm, Placed.INCUBATOR, "North")
    there = found.comparisons
    assert counts(found.own) == (15, 90)
    assert counts(there.usual) == (5, 80)
    assert there.worst == "Rowan"  # 14 of 40 where 15 of 90 is the mean
    assert counts(there.rest) == (1, 50)
    assert counts(there.elsewhere) == (5, 80)  # all its pens were in South too
    assert counts(there.other_machines) == (2, 30)  # S1, three days after N1; S2 and S3 are weeks off
    assert found.conditions["setter_rh"].others == 60.0
    assert is_apart(farm, "rotten", Placed.INCUBATOR, farm.setter == "North")


def test_a_pen(farm: Farm) -> None:
    found = asked(farm, Placed.PEN, "Rowan")
    there = found.comparisons
    assert counts(found.own) == (16, 60)
    assert counts(there.usual) == (1, 50)  # Alder in N1 and S1, Birch in N2
    assert there.worst == "North"
    assert counts(there.rest) == (2, 20)
    assert (there.elsewhere, there.other_machines) == (None, None)
    assert there.fed is not None
    assert (there.feed, [counts(one) for one in there.fed]) == ("oyster shell", [(8, 20), (8, 40)])
    assert there.stored is not None
    assert [counts(one) for one in there.stored] == [(2, 20), (14, 40)]  # middle of 2, 4 and 8 days: 4
    storage = found.conditions["storage_days"]
    # beside the others of N1, S1 and N2: 2, 8, 4 against 9, 3, 4
    assert (storage.own, storage.others, storage.batches) == (pytest.approx(14 / 3), pytest.approx(16 / 3), 3)


def test_a_batch(farm: Farm) -> None:
    found = asked(farm, Placed.BATCH, "N2")
    assert counts(found.own) == (8, 50)
    assert counts(found.comparisons.usual) == (12, 120)
    assert counts(found.comparisons.elsewhere) == (9, 70)  # Rowan and Birch in N1, S1 and S2
    assert found.comparisons.other_machines is None  # nothing was set within a week of it
    assert is_apart(farm, "rotten", Placed.BATCH, farm.batch == "N2")


def test_trays_without_a_record_are_held_against_nobody(farm: Farm) -> None:
    seen, eggs = farm.signs["rotten"]
    blank = np.where(farm.batch == "N1", np.nan, 1.0)
    part = replace(farm, signs={"rotten": (seen * blank, eggs * blank)})
    assert counts(usual_of(part, "rotten", Placed.PEN, "Rowan")) == (0, 40)  # without Alder in N1
    none = replace(farm, signs={"rotten": (seen * np.nan, eggs * np.nan)})
    assert facts_of(none, "rotten", Placed.PEN, "Rowan", 1) is None


def test_a_sign_of_one_batch_is_not_the_machines(farm: Farm) -> None:
    eggs = np.full(10, 100.0)
    one = np.where(farm.batch == "N1", 60.0, 1.0)
    many = np.where(farm.setter == "North", 60.0, 1.0)
    for seen, expected in ((one, True), (many, False)):
        part = replace(farm, signs={"rotten": (seen, eggs)})
        assert rests_on_one_batch(part, "rotten", Placed.INCUBATOR, "North") is expected
    alone = replace(farm, signs={"rotten": (np.where(farm.batch == "N1", 60.0, np.nan), eggs)})
    assert rests_on_one_batch(alone, "rotten", Placed.INCUBATOR, "North")


def test_a_machine_whose_pens_were_nowhere_else_is_not_told_from_them(farm: Farm) -> None:
    apart = replace(farm, pen=np.where(farm.setter == "North", "Maple", farm.pen))
    assert not is_apart(apart, "rotten", Placed.INCUBATOR, apart.setter == "North")
    assert not is_apart(apart, "rotten", Placed.PEN, apart.pen == "Maple")
    assert is_apart(apart, "rotten", Placed.BATCH, apart.batch == "N1")
