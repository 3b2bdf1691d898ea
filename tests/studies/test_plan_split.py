"""The split from a store: who met whom, whose eggs, which room, and birds of one kind only."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.studies.plan_records import SplitAsked
from analytics.studies.plan_split import plan_split

FIRST = datetime.fromisoformat("2026-01-05")
ALL = Selection()


def _store(store_of: Callable[..., Path], met: dict[str, str], **more: Any) -> Path:
    """Pen -> its machine, ten weekly sets of 24 eggs a pen; storage 3 and 6 days by turns."""
    machines = sorted(set(met.values()))
    batches, trays = [], []
    for week in range(10):
        day = FIRST + timedelta(days=7 * week)
        for machine in machines:
            name = f"{machine}{week}"
            batches.append(
                {"batch": name, "incubator": machine, "set_on": day, "pulled_on": day + timedelta(days=18)}
            )
            trays += [
                {"batch": name, "tray": pen, "pen": pen, "eggs_set": 24,
                 "hatched": 15 + (week + len(pen)) % 5,
                 "storage_days": more.get("storage", 3 + 3 * (week % 2))}
                for pen, where in met.items() if where == machine
            ]  # fmt: skip
    kinds = more.get("kinds", {})
    return store_of(
        pens=[{"pen": pen, "species": kinds.get(pen, "coturnix_quail")} for pen in met],
        incubators=[{"incubator": name, "capacity_eggs": 100} for name in machines],
        batches=batches,
        trays=trays,
    )


def test_two_home_machines_are_joined_by_one_pen(store_of: Callable[..., Path]) -> None:
    store = _store(store_of, {"Ash": "North", "Elm": "North", "Oak": "South"})
    found = plan_split(store, SplitAsked(seed=4), ALL)
    assert [(camp.pens, camp.machines) for camp in found.camps] == [
        (("Ash", "Elm"), ("North",)), (("Oak",), ("South",)),
    ]  # fmt: skip
    assert (found.plan.moved, found.plan.left_apart, found.each) == (12, (), 12)
    (moved,) = (lot for lot in found.plan.lots if lot.moved)
    assert found.sentence.endswith(
        f"Put 12 eggs of {moved.pen} into {moved.machine}: then they are told apart."
    )
    assert found.within
    assert 0.1 < found.within < 0.6
    more = plan_split(store, SplitAsked(seed=4, sets=8), ALL)
    assert more.within == pytest.approx(found.within / 2)  # four times the sets
    assert "Seed 4: the same seed gives the same plan." in found.notes


def test_given_eggs_and_room_count(store_of: Callable[..., Path]) -> None:
    store = _store(store_of, {"Ash": "North", "Elm": "North", "Oak": "South"})
    asked = SplitAsked(seed=4, eggs={"ash": 0, "OAK": 60}, room={"south": 40})
    found = plan_split(store, asked, ALL)
    assert {lot.pen: lot.eggs for lot in found.plan.lots if lot.moved} == {"Oak": 20}  # 60 less 40 places
    assert "Ash" not in {lot.pen for lot in found.plan.lots}
    for given, words in (
        (SplitAsked(1, {"Yew": 9}), "No pen Yew"),
        (SplitAsked(1, {}, {"West": 9}), "No machine West"),
        (SplitAsked(1, {"Oak": 500}), "room for 200"),
    ):
        with pytest.raises(WrongUsage, match=words):
            plan_split(store, given, ALL)


def test_who_met_needs_no_moving(store_of: Callable[..., Path]) -> None:
    store = _store(store_of, {"Ash": "North", "Elm": "North"})
    found = plan_split(store, SplitAsked(seed=1), ALL)
    assert found.plan.moved == 0
    assert found.sentence.startswith("North is the only machine for these birds")


def test_birds_of_another_kind_stay_out_with_their_machine(store_of: Callable[..., Path]) -> None:
    store = _store(
        store_of, {"Ash": "North", "Elm": "South", "Coop": "East"}, kinds={"Coop": "chicken"}, storage=4
    )
    found = plan_split(store, SplitAsked(seed=1), ALL)
    assert found.species == "coturnix_quail"
    assert {name for camp in found.camps for name in (*camp.pens, *camp.machines)} == {
        "Ash",
        "Elm",
        "North",
        "South",
    }
    assert "Storage goes with the pens" in found.sentence  # always four days
    hens = plan_split(store, SplitAsked(seed=1), Selection(species=("chicken",)))
    assert [camp.machines for camp in hens.camps] == [("East",), ("North",), ("South",)]


def test_an_empty_store_has_nothing_to_split(store_of: Callable[..., Path]) -> None:
    with pytest.raises(DataTooThin, match="No pen has eggs to set"):
        plan_split(store_of(), SplitAsked(seed=1), ALL)
