"""Which eggs go into which machine next, so that pens and machines come apart with the fewest eggs moved.

Pens and machines that met, directly or in a chain, stand on one island (`attribution.separability`). Between
islands a difference may be the pens' or the machines'. A pen of one island with some eggs in a machine of
another, and some at home, joins the two.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analytics.errors import WrongUsage

SECONDS = 20.0
"""How long the search may take; what it has by then is taken."""
_PREFERENCE, _CLOSE = 1e-4, 1e-3


@dataclass(frozen=True, slots=True)
class Waiting:
    """Eggs of a pen that wait to be set.

    Attributes:
        pen: label.
        eggs: how many.
        island: island of the pen in the records.
        home: label of the machine its eggs usually go into.
    """

    pen: str
    eggs: int
    island: int
    home: str


@dataclass(frozen=True, slots=True)
class Room:
    """A machine at hand.

    Attributes:
        machine: label.
        room: eggs it can take, or None where not known.
        island: island of the machine in the records.
    """

    machine: str
    room: int | None
    island: int


@dataclass(frozen=True, slots=True)
class Lot:
    """Eggs of a pen that go into a machine.

    Attributes:
        pen: label.
        machine: label.
        eggs: how many.
        moved: whether this is not the pen's usual machine.
        numbers: which of its eggs, numbered from 1 in the order laid, drawn by lot; () for all of them.
    """

    pen: str
    machine: str
    eggs: int
    moved: bool
    numbers: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SplitPlan:
    """Who goes where.

    Attributes:
        lots: by machine, in the order in which their trays are put in, drawn by lot.
        moved: eggs that do not go home.
        left_apart: islands that even so stay apart from that with most eggs.
        seed: of the lots drawn.
        why: what stands in the way; "" where nothing does.
    """

    lots: tuple[Lot, ...]
    moved: int
    left_apart: tuple[int, ...]
    seed: int
    why: str


def split_plan(waiting: Sequence[Waiting], rooms: Sequence[Room], each: int, seed: int) -> SplitPlan:
    """Fewest eggs moved so that all islands are joined; room respected, by integer programming.

    Args:
        waiting: pens with eggs, at least one.
        rooms: machines at hand; every home is among them.
        each: eggs of a pen in a foreign machine at least, and as many left at home.
        seed: of the lots.

    Returns:
        The plan; where not all islands can be joined as many as can be are, and `why` says why not all.

    Raises:
        WrongUsage: no eggs, no machine, or less room than eggs.
    """
    _refuse(waiting, rooms, each)
    eggs, apart = _Problem(tuple(waiting), tuple(rooms), each).solved()
    drawn = _drawn(_lots(waiting, rooms, eggs), np.random.default_rng(seed))
    moved = sum(lot.eggs for lot in drawn if lot.moved)
    return SplitPlan(drawn, moved, apart, seed, _why_not(waiting, each) if apart else "")


def _refuse(waiting: Sequence[Waiting], rooms: Sequence[Room], each: int) -> None:
    if not waiting or not rooms:
        raise WrongUsage("No eggs, or no machine", "A plan needs both", "Give some of each")
    if each < 1 or any(one.eggs < 1 for one in waiting):
        raise WrongUsage("No eggs of a pen", "A lot has at least one egg", "Leave the pen out")
    eggs, room = sum(one.eggs for one in waiting), [one.room for one in rooms]
    known = sum(one for one in room if one is not None)
    if None not in room and eggs > known:
        raise WrongUsage(
            f"{eggs} eggs", f"The machines have room for {known}", "Set fewer eggs, or make room"
        )


def _why_not(waiting: Sequence[Waiting], each: int) -> str:
    if not any(one.eggs >= 2 * each for one in waiting):
        return f"No pen has {2 * each} eggs, {each} for each of two machines."
    return f"With the room there is, {each} eggs of a pen do not join all of them."


class _Problem:
    """Eggs x of each pen in each machine, marks z of the foreign ones, and a flow f that joins the islands.

    From the island with most eggs the flow carries one unit to each of the others, and only between islands
    that a marked lot joins; u marks those that it does not reach, which costs more than moving every egg.
    """

    def __init__(self, waiting: tuple[Waiting, ...], rooms: tuple[Room, ...], each: int) -> None:
        self.waiting, self.rooms, self.each = waiting, rooms, each
        self.cells = len(waiting) * len(rooms)
        self.islands = _most_eggs_first(waiting, rooms)
        self.ways = list(permutations(self.islands, 2))
        self.size = 2 * self.cells + len(self.ways) + len(self.islands) - 1
        self.rows: list[NDArray[np.float64]] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def solved(self) -> tuple[NDArray[np.int64], tuple[int, ...]]:
        """Eggs, shape (pens, machines), and the islands that are not reached.

        Raises:
            WrongUsage: the eggs do not fit.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp

        self._fill()
        self._join()
        kinds = (self.cells, self.cells, len(self.ways), len(self.islands) - 1)
        done: Any = milp(
            self._cost(),
            integrality=np.repeat([1, 1, 0, 1], kinds),
            bounds=Bounds(0, np.repeat([np.inf, 1, np.inf, 1], kinds)),
            constraints=LinearConstraint(np.array(self.rows), self.low, self.high),
            options={"time_limit": SECONDS, "mip_rel_gap": _CLOSE},
        )
        if done.x is None:
            raise WrongUsage("These eggs", "They do not fit into the machines", "Set fewer, or make room")
        whole = np.rint(done.x).astype(np.int64)
        missed = whole[self.size - len(self.islands) + 1 :]
        apart = tuple(island for island, out in zip(self.islands[1:], missed.tolist(), strict=True) if out)
        return np.asarray(whole[: self.cells].reshape(len(self.waiting), -1), dtype=np.int64), apart

    def _cost(self) -> NDArray[np.float64]:
        """Eggs moved; among equal plans the one that takes them from pens with many."""
        order = np.argsort([-one.eggs for one in self.waiting], kind="stable").argsort()
        cost = np.zeros(self.size)
        cost[self.size - len(self.islands) + 1 :] = 2 * sum(one.eggs for one in self.waiting)
        for pen, one in enumerate(self.waiting):
            for machine, room in enumerate(self.rooms):
                if room.machine != one.home:
                    cost[self._x(pen, machine)] = 1 + _PREFERENCE * order[pen] / len(order)
                    cost[self.cells + self._x(pen, machine)] = _PREFERENCE
        return cost

    def _x(self, pen: int, machine: int) -> int:
        return pen * len(self.rooms) + machine

    def _row(self, entries: dict[int, float], low: float, high: float) -> None:
        row = np.zeros(self.size)
        for at, value in entries.items():
            row[at] += value
        self.rows.append(row)
        self.low.append(low)
        self.high.append(high)

    def _fill(self) -> None:
        """Every egg has a place, no machine too many, and a foreign lot is a lot worth having."""
        for pen, one in enumerate(self.waiting):
            places = {self._x(pen, machine): 1.0 for machine in range(len(self.rooms))}
            self._row(places, one.eggs, one.eggs)
        for machine, room in enumerate(self.rooms):
            if room.room is not None:
                here = {self._x(pen, machine): 1.0 for pen in range(len(self.waiting))}
                self._row(here, 0, room.room)
        for pen, one in enumerate(self.waiting):
            home = next(at for at, room in enumerate(self.rooms) if room.machine == one.home)
            for machine, room in enumerate(self.rooms):
                if machine != home:
                    self._foreign(pen, machine, home, crosses=room.island != one.island)

    def _foreign(self, pen: int, machine: int, home: int, crosses: bool) -> None:
        here, there = self._x(pen, machine), self._x(pen, home)
        mark = self.cells + here
        self._row({here: 1, mark: -float(self.waiting[pen].eggs)}, -np.inf, 0)
        if crosses:
            self._row({here: 1, mark: -float(self.each)}, 0, np.inf)
            self._row({there: 1, mark: -float(self.each)}, 0, np.inf)

    def _join(self) -> None:
        first, most = 2 * self.cells, float(len(self.islands) - 1)
        for at, (one, other) in enumerate(self.ways):
            marks = {self.cells + cell: -most for cell in self._crossing({one, other})}
            self._row({first + at: 1.0, **marks}, -np.inf, 0)
        out = self.size - len(self.islands) + 1
        for number, island in enumerate(self.islands[1:]):
            flow = {first + at: float(way[1] == island) for at, way in enumerate(self.ways)}
            for at, way in enumerate(self.ways):
                flow[first + at] -= float(way[0] == island)
            self._row({**flow, out + number: 1.0}, 1, 1)
        # so many islands take so many lots at least: says nothing new, and saves the search much time
        crossing = {self.cells + cell for one, other in self.ways for cell in self._crossing({one, other})}
        unreached = {out + number: 1.0 for number in range(len(self.islands) - 1)}
        self._row({**dict.fromkeys(crossing, 1.0), **unreached}, len(self.islands) - 1, np.inf)

    def _crossing(self, pair: set[int]) -> list[int]:
        """Places of lots that would join two islands."""
        return [
            self._x(pen, machine)
            for pen, one in enumerate(self.waiting)
            for machine, room in enumerate(self.rooms)
            if {one.island, room.island} == pair
        ]


def _most_eggs_first(waiting: Sequence[Waiting], rooms: Sequence[Room]) -> list[int]:
    eggs = {room.island: 0 for room in rooms}
    for one in waiting:
        eggs[one.island] = eggs.get(one.island, 0) + one.eggs
    return sorted(eggs, key=lambda island: (-eggs[island], island))


def _lots(waiting: Sequence[Waiting], rooms: Sequence[Room], eggs: NDArray[np.int64]) -> list[Lot]:
    return [
        Lot(one.pen, room.machine, int(eggs[pen, machine]), room.machine != one.home)
        for machine, room in enumerate(rooms)
        for pen, one in enumerate(waiting)
        if eggs[pen, machine]
    ]


def _drawn(lots: Sequence[Lot], random: np.random.Generator) -> tuple[Lot, ...]:
    """Which eggs of a split pen go where, and the order of the trays in each machine."""
    numbered = list(lots)
    for pen in dict.fromkeys(lot.pen for lot in lots):
        own = [at for at, lot in enumerate(lots) if lot.pen == pen]
        if len(own) > 1:
            mixed = random.permutation(sum(lots[at].eggs for at in own)) + 1
            ends = np.cumsum([lots[at].eggs for at in own])
            for at, part in zip(own, np.split(mixed, ends[:-1]), strict=True):
                numbered[at] = replace(lots[at], numbers=tuple(sorted(part.tolist())))
    machines = dict.fromkeys(lot.machine for lot in numbered)
    groups = [[lot for lot in numbered if lot.machine == machine] for machine in machines]
    return tuple(group[at] for group in groups for at in random.permutation(len(group)))
