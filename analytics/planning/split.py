"""Which eggs go into which machine next, so that pens and machines come apart with the fewest eggs moved.

Pens and machines that met, directly or in a chain, stand on one island (`attribution.separability`). Between
islands a difference may be the pens' or the machines'. A pen of one island with some eggs in a machine of
another, and some at home, joins the two. Setters and hatchers have islands of their own; eggs go by a way, a
setter and a hatcher after it, and may join islands of both at once.
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
Way = tuple[str, str]
"""Machine, and hatcher after it ("" = the same machine)."""


@dataclass(frozen=True, slots=True)
class Waiting:
    """Eggs of a pen that wait to be set.

    Attributes:
        pen: label.
        eggs: how many.
        island: island of the pen in the records.
        home: label of the machine its eggs usually go into.
        hatcher_island: island of the pen among the hatchers.
        hatcher: label of the hatcher its eggs usually go into; "" = the machine itself.
    """

    pen: str
    eggs: int
    island: int
    home: str
    hatcher_island: int = 0
    hatcher: str = ""

    @property
    def way(self) -> Way:
        """Where its eggs usually go."""
        return self.home, self.hatcher


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
        moved: whether this is not the pen's usual way.
        numbers: which of its eggs, numbered from 1 in the order laid, drawn by lot; () for all of them.
        hatcher: label of the machine after the transfer; "" = the same.
        stored: whether these are kept for long on purpose, or set fresh beside such ones; None = neither.
    """

    pen: str
    machine: str
    eggs: int
    moved: bool
    numbers: tuple[int, ...] = ()
    hatcher: str = ""
    stored: bool | None = None

    @property
    def way(self) -> Way:
        """Machine and hatcher."""
        return self.machine, self.hatcher


@dataclass(frozen=True, slots=True)
class SplitPlan:
    """Who goes where.

    Attributes:
        lots: by machine, in the order in which their trays are put in, drawn by lot.
        moved: eggs that do not go home.
        left_apart: islands that even so stay apart from that with most eggs.
        seed: of the lots drawn.
        why: what stands in the way; "" where nothing does.
        hatchers_apart: the same of the hatchers' islands.
    """

    lots: tuple[Lot, ...]
    moved: int
    left_apart: tuple[int, ...]
    seed: int
    why: str
    hatchers_apart: tuple[int, ...] = ()

    @property
    def all_joined(self) -> bool:
        """Whether no island stays apart."""
        return not self.left_apart and not self.hatchers_apart


def split_plan(
    waiting: Sequence[Waiting],
    rooms: Sequence[Room],
    each: int,
    seed: int,
    hatchers: Sequence[Room] = (),
    ways: Sequence[Way] = (),
) -> SplitPlan:
    """Fewest eggs moved so that all islands are joined; room respected, by integer programming.

    Args:
        waiting: pens with eggs, at least one.
        rooms: machines at hand; every home is among them.
        each: eggs of a pen in a foreign machine at least, and as many left at home.
        seed: of the lots.
        hatchers: machines that eggs are moved into to hatch, where these are others than the setters.
        ways: machine and hatcher that may follow one another; () = every hatcher after every machine. The
            usual way of every pen is among them.

    Returns:
        The plan; where not all islands can be joined as many as can be are, and `why` says why not all.

    Raises:
        WrongUsage: no eggs, no machine, or less room than eggs.
    """
    _refuse(waiting, rooms, each)
    _refuse_room(waiting, hatchers or rooms)
    if not ways:
        ways = [(room.machine, after) for room in rooms for after in _names(hatchers) or ("",)]
    problem = _Problem(tuple(waiting), tuple(ways), each)
    problem.layer(rooms, [one.island for one in waiting], [one.home for one in waiting], 0)
    if hatchers:
        problem.layer(hatchers, [one.hatcher_island for one in waiting], [one.hatcher for one in waiting], 1)
    eggs, apart = problem.solved()
    drawn = _drawn(_lots(waiting, ways, eggs), np.random.default_rng(seed))
    moved = sum(lot.eggs for lot in drawn if lot.moved)
    left, hatchers_left = (*apart, ()) if len(apart) == 1 else apart
    why = _why_not(waiting, each) if left or hatchers_left else ""
    return SplitPlan(drawn, moved, left, seed, why, hatchers_left)


def _names(rooms: Sequence[Room]) -> tuple[str, ...]:
    return tuple(room.machine for room in rooms)


def _refuse(waiting: Sequence[Waiting], rooms: Sequence[Room], each: int) -> None:
    if not waiting or not rooms:
        raise WrongUsage("No eggs, or no machine", "A plan needs both", "Give some of each")
    if each < 1 or any(one.eggs < 1 for one in waiting):
        raise WrongUsage("No eggs of a pen", "A lot has at least one egg", "Leave the pen out")
    _refuse_room(waiting, rooms)


def _refuse_room(waiting: Sequence[Waiting], rooms: Sequence[Room]) -> None:
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


@dataclass(frozen=True, slots=True)
class _Layer:
    """Setters, or hatchers.

    Attributes:
        rooms: the machines.
        pens: island of each pen.
        home: place of each pen's usual machine.
        place: place of the machine on each way.
        marks: where its marks of foreign lots begin among the unknowns.
        islands: its islands, that with most eggs first.
    """

    rooms: tuple[Room, ...]
    pens: tuple[int, ...]
    home: tuple[int, ...]
    place: tuple[int, ...]
    marks: int
    islands: tuple[int, ...]

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Ways of the flow between islands."""
        return list(permutations(self.islands, 2))

    @property
    def kinds(self) -> tuple[int, int, int]:
        """How many marks, flows and islands that may be missed there are."""
        return len(self.pens) * len(self.rooms), len(self.pairs), len(self.islands) - 1

    @property
    def flows(self) -> int:
        """Where its flows begin."""
        return self.marks + self.kinds[0]

    @property
    def missed(self) -> int:
        """Where its islands that may be missed begin."""
        return self.flows + self.kinds[1]

    def mark(self, pen: int, room: int) -> int:
        """The mark of a pen's lot in a machine."""
        return self.marks + pen * len(self.rooms) + room

    def crossing(self, pair: set[int]) -> list[int]:
        """Marks of lots that would join two islands."""
        return [
            self.mark(pen, at)
            for pen, island in enumerate(self.pens)
            for at, room in enumerate(self.rooms)
            if {island, room.island} == pair
        ]


class _Problem:
    """Eggs x of each pen on each way, marks z of foreign machines, and flows f that join the islands.

    From the island with most eggs a flow carries one unit to each of the others, and only between islands
    that a marked lot joins; u marks those that it does not reach, which costs more than moving every egg.
    """

    def __init__(self, waiting: tuple[Waiting, ...], ways: tuple[Way, ...], each: int) -> None:
        self.waiting, self.ways, self.each = waiting, ways, each
        self.size = len(waiting) * len(ways)
        self.layers: list[_Layer] = []
        self.rows: list[dict[int, float]] = []
        self.low: list[float] = []
        self.high: list[float] = []

    def layer(self, rooms: Sequence[Room], islands: Sequence[int], homes: Sequence[str], side: int) -> None:
        """Adds setters (side 0 of a way) or hatchers (side 1)."""
        names = _names(rooms)
        eggs = [one.eggs for one in self.waiting]
        made = _Layer(
            rooms=tuple(rooms),
            pens=tuple(islands),
            home=tuple(names.index(home) for home in homes),
            place=tuple(names.index(way[side]) for way in self.ways),
            marks=self.size,
            islands=tuple(_most_eggs_first(islands, eggs, rooms)),
        )
        self.layers.append(made)
        self.size += sum(made.kinds)

    def solved(self) -> tuple[NDArray[np.int64], tuple[tuple[int, ...], ...]]:
        """Eggs, shape (pens, ways), and of each layer the islands that are not reached.

        Raises:
            WrongUsage: the eggs do not fit.
        """
        from scipy.optimize import Bounds, LinearConstraint, milp

        for pen, one in enumerate(self.waiting):
            self._row({self._x(pen, way): 1.0 for way in range(len(self.ways))}, one.eggs, one.eggs)
        for layer in self.layers:
            self._fill(layer)
            self._join(layer)
        whole, most = [1] * (len(self.waiting) * len(self.ways)), np.full(self.size, np.inf)
        for layer in self.layers:
            marks, flows, missed = layer.kinds
            whole += [1] * marks + [0] * flows + [1] * missed
            most[layer.marks : layer.flows] = 1
            most[layer.missed : layer.missed + missed] = 1
        done: Any = milp(
            self._cost(),
            integrality=np.array(whole),
            bounds=Bounds(0, most),
            constraints=LinearConstraint(self._table(), self.low, self.high),
            options={"time_limit": SECONDS, "mip_rel_gap": _CLOSE},
        )
        if done.x is None:
            raise WrongUsage("These eggs", "They do not fit into the machines", "Set fewer, or make room")
        found = np.rint(done.x).astype(np.int64)
        apart = tuple(
            tuple(island for at, island in enumerate(layer.islands[1:]) if found[layer.missed + at])
            for layer in self.layers
        )
        eggs = found[: len(self.waiting) * len(self.ways)].reshape(len(self.waiting), -1)
        return np.asarray(eggs, dtype=np.int64), apart

    def _table(self) -> NDArray[np.float64]:
        table = np.zeros((len(self.rows), self.size))
        for at, entries in enumerate(self.rows):
            for place, value in entries.items():
                table[at, place] += value
        return table

    def _cost(self) -> NDArray[np.float64]:
        """Eggs moved; among equal plans the one that takes them from pens with many."""
        order = np.argsort([-one.eggs for one in self.waiting], kind="stable").argsort()
        cost = np.zeros(self.size)
        for pen, one in enumerate(self.waiting):
            for at, way in enumerate(self.ways):
                if way != one.way:
                    cost[self._x(pen, at)] = 1 + _PREFERENCE * order[pen] / len(order)
        for layer in self.layers:
            cost[layer.missed : layer.missed + layer.kinds[2]] = 2 * sum(one.eggs for one in self.waiting)
            for pen, home in enumerate(layer.home):
                for at in range(len(layer.rooms)):
                    cost[layer.mark(pen, at)] = _PREFERENCE * (at != home)
        return cost

    def _x(self, pen: int, way: int) -> int:
        return pen * len(self.ways) + way

    def _row(self, entries: dict[int, float], low: float, high: float) -> None:
        self.rows.append(entries)
        self.low.append(low)
        self.high.append(high)

    def _in(self, layer: _Layer, pen: int, room: int, times: float = 1.0) -> dict[int, float]:
        """A pen's eggs in a machine, by whatever way."""
        return {self._x(pen, way): times for way, place in enumerate(layer.place) if place == room}

    def _fill(self, layer: _Layer) -> None:
        """No machine too full, and a foreign lot is a lot worth having."""
        for at, room in enumerate(layer.rooms):
            if room.room is not None:
                here: dict[int, float] = {}
                for pen in range(len(self.waiting)):
                    here |= self._in(layer, pen, at)
                self._row(here, 0, room.room)
        for pen, home in enumerate(layer.home):
            for at, room in enumerate(layer.rooms):
                if at != home:
                    self._foreign(layer, pen, at, crosses=room.island != layer.pens[pen])

    def _foreign(self, layer: _Layer, pen: int, room: int, crosses: bool) -> None:
        here, there = self._in(layer, pen, room), self._in(layer, pen, layer.home[pen])
        mark = layer.mark(pen, room)
        self._row({**here, mark: -float(self.waiting[pen].eggs)}, -np.inf, 0)
        if crosses:
            self._row({**here, mark: -float(self.each)}, 0, np.inf)
            self._row({**there, mark: -float(self.each)}, 0, np.inf)

    def _join(self, layer: _Layer) -> None:
        most = float(len(layer.islands) - 1)
        for at, (one, other) in enumerate(layer.pairs):
            marks = dict.fromkeys(layer.crossing({one, other}), -most)
            self._row({layer.flows + at: 1.0, **marks}, -np.inf, 0)
        for number, island in enumerate(layer.islands[1:]):
            flow = {
                layer.flows + at: float(way[1] == island) - float(way[0] == island)
                for at, way in enumerate(layer.pairs)
            }
            self._row({**flow, layer.missed + number: 1.0}, 1, 1)
        # so many islands take so many lots at least: says nothing new, and saves the search much time
        crossing = {mark for one, other in layer.pairs for mark in layer.crossing({one, other})}
        unreached = {layer.missed + number: 1.0 for number in range(len(layer.islands) - 1)}
        if unreached:
            self._row({**dict.fromkeys(crossing, 1.0), **unreached}, most, np.inf)


def _most_eggs_first(pens: Sequence[int], eggs: Sequence[int], rooms: Sequence[Room]) -> list[int]:
    found = {room.island: 0 for room in rooms}
    for island, number in zip(pens, eggs, strict=True):
        found[island] = found.get(island, 0) + number
    return sorted(found, key=lambda island: (-found[island], island))


def _lots(waiting: Sequence[Waiting], ways: Sequence[Way], eggs: NDArray[np.int64]) -> list[Lot]:
    return [
        Lot(one.pen, way[0], int(eggs[pen, at]), way != one.way, hatcher=way[1])
        for at, way in enumerate(ways)
        for pen, one in enumerate(waiting)
        if eggs[pen, at]
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
    return _shuffled(numbered, random)


def _shuffled(lots: Sequence[Lot], random: np.random.Generator) -> tuple[Lot, ...]:
    """The order of the trays on each way."""
    ways = dict.fromkeys(lot.way for lot in lots)
    groups = [[lot for lot in lots if lot.way == way] for way in ways]
    return tuple(group[at] for group in groups for at in random.permutation(len(group)))


def with_stored(plan: SplitPlan, pens: Sequence[str], most: int) -> SplitPlan:
    """The plan with the eggs of some pens on their usual way as two lots, kept for long and fresh.

    Args:
        plan: the plan.
        pens: whose eggs.
        most: eggs kept for long of each pen, at most half of those on the way.
    """
    lots: list[Lot] = []
    for lot in plan.lots:
        kept = min(most, lot.eggs // 2) if lot.pen in pens and not lot.moved else 0
        if not kept:
            lots.append(lot)
            continue
        own = lot.numbers or tuple(range(1, lot.eggs + 1))
        lots.append(replace(lot, eggs=kept, numbers=own[:kept], stored=True))
        lots.append(replace(lot, eggs=lot.eggs - kept, numbers=own[kept:], stored=False))
    return replace(plan, lots=_shuffled(lots, np.random.default_rng(plan.seed)))
