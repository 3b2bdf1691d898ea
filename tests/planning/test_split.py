"""The split against every possible one, and what must hold of any."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
import pytest

from analytics.errors import WrongUsage
from analytics.planning.split import Room, Waiting, split_plan

EACH = 2


def _ways(eggs: int, machines: int) -> Iterator[tuple[int, ...]]:
    for way in product(range(eggs + 1), repeat=machines - 1):
        if sum(way) <= eggs:
            yield (*way, eggs - sum(way))


def _joined(
    way: Sequence[Sequence[int]], waiting: Sequence[Waiting], rooms: Sequence[Room]
) -> set[int] | None:
    """Islands reached from the one with most eggs; None where a foreign lot is too small to count."""
    links = []
    for eggs, one in zip(way, waiting, strict=True):
        home = next(at for at, room in enumerate(rooms) if room.machine == one.home)
        for at, room in enumerate(rooms):
            if at != home and eggs[at] and room.island != one.island:
                if eggs[at] < EACH or eggs[home] < EACH:
                    return None
                links.append((one.island, room.island))
    eggs_of = {room.island: 0 for room in rooms}
    for one in waiting:
        eggs_of[one.island] = eggs_of.get(one.island, 0) + one.eggs
    reached = {min(eggs_of, key=lambda island: (-eggs_of[island], island))}
    for _ in eggs_of:
        reached |= {there for link in links for here, there in (link, link[::-1]) if here in reached}
    return reached


def _best(waiting: Sequence[Waiting], rooms: Sequence[Room]) -> tuple[int, int]:
    """Most islands joined, and with how few eggs moved."""
    found = []
    for way in product(*(list(_ways(one.eggs, len(rooms))) for one in waiting)):
        loads = np.sum(way, axis=0)
        if any(room.room is not None and load > room.room for load, room in zip(loads, rooms, strict=True)):
            continue
        reached = _joined(way, waiting, rooms)
        if reached is not None:
            moved = sum(
                number
                for eggs, one in zip(way, waiting, strict=True)
                for number, room in zip(eggs, rooms, strict=True)
                if room.machine != one.home
            )
            found.append((-len(reached), moved))
    return min(found)


PENS = [Waiting("A", 5, 0, "N"), Waiting("B", 4, 1, "S"), Waiting("C", 3, 2, "W")]


@pytest.mark.parametrize("room", [(9, 9, 9), (5, 4, 3), (5, 4, 5), (6, 6, 3), (3, 9, 9), (5, 5, 5)])
def test_no_split_joins_more_with_fewer_eggs(room: tuple[int, int, int]) -> None:
    rooms = [Room(name, free, at) for at, (name, free) in enumerate(zip("NSW", room, strict=True))]
    plan = split_plan(PENS, rooms, EACH, seed=1)
    assert (-(3 - len(plan.left_apart)), plan.moved) == _best(PENS, rooms)
    assert bool(plan.why) == bool(plan.left_apart)
    for one, free in zip("NSW", room, strict=True):
        assert sum(lot.eggs for lot in plan.lots if lot.machine == one) <= free
    for pen in PENS:
        assert sum(lot.eggs for lot in plan.lots if lot.pen == pen.pen) == pen.eggs


def test_eggs_are_drawn_by_lot_and_the_seed_repeats_it() -> None:
    rooms = [Room("N", None, 0), Room("S", None, 1)]
    pens = [Waiting("A", 40, 0, "N"), Waiting("B", 10, 1, "S")]
    plans = [split_plan(pens, rooms, 12, seed) for seed in range(200)]
    assert plans[3] == split_plan(pens, rooms, 12, 3)
    for plan in plans:
        own = [lot for lot in plan.lots if lot.pen == "A"]
        assert sorted(number for lot in own for number in lot.numbers) == list(range(1, 41))
        assert [len(lot.numbers) for lot in own] == [lot.eggs for lot in own]
        assert all(lot.numbers == () for lot in plan.lots if lot.pen == "B")
    moved = np.concatenate([lot.numbers for plan in plans for lot in plan.lots if lot.moved])
    often = np.bincount(moved, minlength=41)[1:] / 200  # each egg goes in 12 of 40 plans
    assert np.abs(often - 0.3).max() < 4 * (0.3 * 0.7 / 200) ** 0.5
    first = [next(lot.pen for lot in plan.lots if lot.machine == "S") for plan in plans]
    assert 0.35 < first.count("A") / 200 < 0.65


def test_thirty_pens_are_planned_at_once() -> None:
    pens = [Waiting(f"P{at}", 20 + at, at % 5, f"M{at % 5}") for at in range(30)]
    plan = split_plan(pens, [Room(f"M{at}", 220, at) for at in range(5)], 12, 1)
    assert (plan.moved, plan.left_apart) == (48, ())


def test_what_cannot_be_is_said() -> None:
    rooms = [Room("N", 20, 0), Room("S", 20, 1)]
    small = split_plan([Waiting("A", 20, 0, "N"), Waiting("B", 20, 1, "S")], rooms, 12, 1)
    assert (small.moved, small.left_apart) == (0, (1,))
    assert small.why == "No pen has 24 eggs, 12 for each of two machines."
    with pytest.raises(WrongUsage, match="The machines have room for 40"):
        split_plan([Waiting("A", 41, 0, "N")], rooms, 12, 1)
    with pytest.raises(WrongUsage, match="No eggs, or no machine"):
        split_plan([], rooms, 12, 1)
