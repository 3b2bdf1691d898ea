"""Splits over setters and hatchers at once, against every possible one; and eggs kept for long."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product

import numpy as np
import pytest

from analytics.planning.split import Room, Waiting, Way, split_plan, with_stored

EACH = 2
WAYS: tuple[Way, ...] = tuple(product("NS", "XY"))


def _shares(eggs: int, ways: int) -> Iterator[tuple[int, ...]]:
    for way in product(range(eggs + 1), repeat=ways - 1):
        if sum(way) <= eggs:
            yield (*way, eggs - sum(way))


def _joined(
    eggs: Sequence[Sequence[int]], pens: Sequence[Waiting], rooms: Sequence[Room], side: int
) -> int | None:
    """Islands of setters (side 0) or hatchers reached; None where a lot is too small, a machine too full."""
    links = []
    load = {room.machine: 0 for room in rooms}
    for row, pen in zip(eggs, pens, strict=True):
        mine, home = ((pen.island, pen.home), (pen.hatcher_island, pen.hatcher))[side]
        here = {room.machine: sum(n for n, way in zip(row, WAYS, strict=True) if way[side] == room.machine)
                for room in rooms}  # fmt: skip
        for room in rooms:
            load[room.machine] += here[room.machine]
            if room.machine != home and here[room.machine] and room.island != mine:
                if here[room.machine] < EACH or here[home] < EACH:
                    return None
                links.append((mine, room.island))
    if any(room.room is not None and load[room.machine] > room.room for room in rooms):
        return None
    reached = {0}
    for _ in rooms:
        reached |= {there for link in links for here_, there in (link, link[::-1]) if here_ in reached}
    return len(reached & {room.island for room in rooms})


@pytest.mark.parametrize(
    ("room", "after", "hatcher_islands"),
    [((9, 9), (9, 9), (0, 1)), ((5, 9), (9, 9), (0, 1)), ((9, 9), (5, 4), (0, 1)), ((9, 9), (9, 9), (0, 0))],
)  # fmt: skip
def test_no_split_over_setters_and_hatchers_moves_fewer(
    room: tuple[int, int], after: tuple[int, int], hatcher_islands: tuple[int, int]
) -> None:
    setters = [Room(name, free, at) for at, (name, free) in enumerate(zip("NS", room, strict=True))]
    hatchers = [Room(name, free, at) for name, free, at in zip("XY", after, hatcher_islands, strict=True)]
    pens = [
        Waiting("A", 5, 0, "N", hatcher_islands[0], "X"),
        Waiting("B", 4, 1, "S", hatcher_islands[1], "Y"),
    ]
    plan = split_plan(pens, setters, EACH, 1, hatchers, WAYS)
    best = []
    for rows in product(*(list(_shares(pen.eggs, len(WAYS))) for pen in pens)):
        found = _joined(rows, pens, setters, 0), _joined(rows, pens, hatchers, 1)
        if None in found:
            continue
        moved = sum(
            n for row, pen in zip(rows, pens, strict=True)
            for n, way in zip(row, WAYS, strict=True) if way != pen.way
        )  # fmt: skip
        best.append((-sum(one for one in found if one), moved))
    joined = 2 - len(plan.left_apart) + len(set(hatcher_islands)) - len(plan.hatchers_apart)
    assert (-joined, plan.moved) == min(best)
    for pen in pens:
        assert sum(lot.eggs for lot in plan.lots if lot.pen == pen.pen) == pen.eggs


def test_one_lot_joins_setters_and_hatchers_at_once() -> None:
    setters, hatchers = [Room("N", None, 0), Room("S", None, 1)], [Room("X", None, 0), Room("Y", None, 1)]
    pens = [Waiting("A", 24, 0, "N", 0, "X"), Waiting("B", 24, 1, "S", 1, "Y")]
    plan = split_plan(pens, setters, 12, 1, hatchers)
    assert (plan.moved, plan.all_joined) == (12, True)
    (moved,) = (lot for lot in plan.lots if lot.moved)
    assert (moved.machine, moved.hatcher) == (("S", "Y") if moved.pen == "A" else ("N", "X"))


def test_eggs_kept_for_long_are_the_first_laid_of_those_at_home() -> None:
    pens = [Waiting("A", 20, 0, "N"), Waiting("B", 9, 0, "N")]
    plan = with_stored(split_plan(pens, [Room("N", None, 0)], 6, 3), ("A",), 12)
    lots = {(lot.pen, lot.stored): lot for lot in plan.lots}
    assert set(lots) == {("A", True), ("A", False), ("B", None)}
    assert lots["A", True].numbers == tuple(range(1, 11))  # half, for 12 would be more than half
    assert lots["A", False].numbers == tuple(range(11, 21))
    orders = {tuple(lot.stored for lot in with_stored(split_plan(pens, [Room("N", None, 0)], 6, seed),
                                                      ("A",), 12).lots) for seed in range(60)}  # fmt: skip
    assert len(orders) == 6  # every order of three trays comes up
    assert np.sum([lot.eggs for lot in plan.lots]) == 29
