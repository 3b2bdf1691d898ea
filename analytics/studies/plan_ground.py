"""What a plan of the next set starts from: who met whom, whose eggs wait, which machines have room."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from analytics.attribution.layout import Factor
from analytics.attribution.separability import Meeting, meet
from analytics.errors import DataTooThin, WrongUsage
from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering
from analytics.options import Selection
from analytics.planning.split import Room, Waiting, Way
from analytics.sheets.keys import normal_label
from analytics.store.cells import Cells, cells
from analytics.store.counts import cluster_sums, counting
from analytics.store.next_set import MachineRoom, PenInMachine, machine_rooms, pens_in_machines
from analytics.studies.pen_data import taken
from analytics.studies.plan_records import Camp, SplitAsked

LATELY = 60
"""Days after which a pen without a set is taken to lay no more (our own choice)."""
MEASURE = "hatch_of_set"
_LATELY = ("lately", "eggs")


@dataclass(frozen=True, slots=True)
class Known:
    """What the records say of one kind of bird.

    Attributes:
        species: key.
        met: its pens with the machines and hatchers that they met.
        rooms: machines that are not for other birds alone.
        trays: its trays.
        clustering: how alike eggs are.
    """

    species: str
    met: tuple[PenInMachine, ...]
    rooms: tuple[MachineRoom, ...]
    trays: Cells
    clustering: Clustering

    @property
    def has_hatchers(self) -> bool:
        """Whether some eggs hatched in another machine than they were set in."""
        return any(normal_label(one.incubator) != normal_label(one.hatcher) for one in self.met)


@dataclass(frozen=True, slots=True)
class Ground:
    """The next set as it stands.

    Attributes:
        waiting: pens with eggs.
        setters: machines to set them in.
        hatchers: machines to hatch them in; () where these are the same.
        ways: what may follow what.
    """

    waiting: tuple[Waiting, ...]
    setters: tuple[Room, ...]
    hatchers: tuple[Room, ...]
    ways: tuple[Way, ...]


def known_of(store: Path, selection: Selection) -> Known:
    """Asks the store.

    Raises:
        StoreError and its kinds: as `counting`.
    """
    with counting(store, selection) as connection:
        found = cluster_sums(connection, selection.period.end or date.max).get(MEASURE)
        met, rooms = pens_in_machines(connection, LATELY), machine_rooms(connection)
        trays = cells(connection, MEASURE)
    species = _species(met)
    own = tuple(one for one in met if one.species == species)
    return Known(
        species=species,
        met=own,
        rooms=_without_others(met, own, rooms),
        trays=taken(trays, trays.species == species),
        clustering=estimate_clustering(found),
    )


def _species(met: Sequence[PenInMachine]) -> str:
    """The kind with most eggs at its pens' last sets; birds of two kinds are no comparison."""
    eggs = {one.species: {other.pen: other.at_last_set for other in met if other.species == one.species}
            for one in met}  # fmt: skip
    return max(eggs, key=lambda key: sum(eggs[key].values()), default="")


def _without_others(
    met: Sequence[PenInMachine], own: Sequence[PenInMachine], rooms: Sequence[MachineRoom]
) -> tuple[MachineRoom, ...]:
    """Machines that are not for other birds alone."""
    ours, all_used = (
        {normal_label(label) for one in some for label in (one.incubator, one.hatcher)} for some in (own, met)
    )
    others = all_used - ours
    return tuple(room for room in rooms if normal_label(room.incubator) not in others)


def ground_of(asked: SplitAsked, known: Known) -> Ground:
    """Pens with eggs, machines at hand and islands of both.

    Raises:
        WrongUsage: an unknown pen or machine.
        DataTooThin: no pen has eggs, or there is no machine.
    """
    eggs, room = _eggs(asked, known), _room(asked, known)
    by_key = {normal_label(one.incubator): one for one in known.rooms}
    used = {normal_label(one.hatcher) for one in known.met}
    setters = [one.incubator for one in known.rooms if _sets(known, one, used)]
    hatchers = [
        one.incubator
        for key, one in by_key.items()
        if known.has_hatchers and (key in used or one.role == "hatcher")
    ]
    if not setters:
        raise DataTooThin(
            "No machine", "A plan needs one to set eggs in", "Write it into the sheet incubators"
        )
    ways = _ways(known, setters, hatchers)
    met = _meeting(known.met, lambda one: one.incubator)
    after = _meeting(known.met, lambda one: one.hatcher)
    homes = {pen: _home(pen, known, ways, after) for pen in eggs}
    given = _given(asked, known)
    capacity = {one.incubator: given.get(one.incubator, one.capacity) for one in known.rooms}
    return Ground(
        waiting=tuple(
            Waiting(pen, number, _island(met, pen), homes[pen][0], _island(after, pen), homes[pen][1])
            for pen, number in eggs.items()
        ),
        setters=_rooms(setters, room, met),
        hatchers=_rooms(hatchers, capacity, after),
        ways=ways,
    )


def _sets(known: Known, machine: MachineRoom, hatchers: Collection[str]) -> bool:
    """Whether eggs are set in a machine; one that eggs have only ever hatched in is a hatcher."""
    key = normal_label(machine.incubator)
    if key in {normal_label(one.incubator) for one in known.met}:
        return True
    return machine.role != "hatcher" and (bool(machine.role) or key not in hatchers)


def _eggs(asked: SplitAsked, known: Known) -> dict[str, int]:
    """Eggs that wait, by pen: as given, else as at the pen's last set."""
    usual = {one.pen: one.at_last_set for one in known.met}
    eggs = {**usual, **_by_label(asked.eggs, usual, "pen")}
    eggs = {pen: number for pen, number in eggs.items() if number > 0}
    if not eggs:
        raise DataTooThin(
            "No pen has eggs to set", "A plan needs a pen that set eggs lately", "Say how many: --eggs PEN=24"
        )
    return eggs


def _given(asked: SplitAsked, known: Known) -> dict[str, int]:
    return _by_label(asked.room, {one.incubator: None for one in known.rooms}, "incubator")


def _room(asked: SplitAsked, known: Known) -> dict[str, int | None]:
    """Room by machine: as given, else what it holds less what is in it; None where not known."""
    free = {
        one.incubator: None if one.capacity is None else max(one.capacity - one.inside, 0)
        for one in known.rooms
    }
    return {**free, **_given(asked, known)}


def _by_label(given: Mapping[str, int], known: Mapping[str, int | None], what: str) -> dict[str, int]:
    """Numbers given by hand under the records' own spelling."""
    own = {normal_label(label): label for label in known}
    strange = next((label for label in given if normal_label(label) not in own), None)
    if strange is not None:
        raise WrongUsage(
            f"No {what} {strange} with eggs in these records" if what == "pen" else f"No machine {strange}",
            "A plan names what the records name",
            f"There are {', '.join(own.values())}",
        )
    return {own[normal_label(label)]: number for label, number in given.items()}


def _ways(known: Known, setters: Sequence[str], hatchers: Sequence[str]) -> tuple[Way, ...]:
    """What may follow what: a machine itself, one for hatching alone, or what has followed it before."""
    if not hatchers:
        return tuple((machine, "") for machine in setters)
    seen = {(normal_label(one.incubator), normal_label(one.hatcher)) for one in known.met}
    alone = {normal_label(machine) for machine in hatchers} - {one for one, _ in seen}
    return tuple(
        (machine, after)
        for machine in setters
        for after in hatchers
        if machine == after
        or normal_label(after) in alone
        or (normal_label(machine), normal_label(after)) in seen
    )


def _home(pen: str, known: Known, ways: Sequence[Way], after: Meeting) -> Way:
    """The way at hand of a pen's eggs: the machine that most went into, lately first, and its usual hatcher.

    That is the one after this machine that most eggs went into of the pens that the pen met in hatchers, so
    that pens of one machine do not need a batch each.
    """
    own = [one for one in known.met if one.pen == pen]
    fellows = set(after.islands[_island(after, pen)].first)
    theirs = [one for one in known.met if one.pen in fellows]

    def went(way: Way) -> tuple[int, ...]:
        machine, hatcher = normal_label(way[0]), normal_label(way[1])
        here = [one for one in own if normal_label(one.incubator) == machine]
        there = [
            one
            for one in theirs
            if normal_label(one.incubator) == machine and normal_label(one.hatcher) == hatcher
        ]
        return tuple(sum(getattr(one, what) for one in some) for some in (here, there) for what in _LATELY)

    return max(ways, key=went)


def _meeting(met: Sequence[PenInMachine], machine: Callable[[PenInMachine], str]) -> Meeting:
    pens = _factor("pen", [one.pen for one in met])
    return meet(pens, _factor("incubator", [machine(one) for one in met]), np.ones(len(met), dtype=bool))


def _factor(name: str, labels: Sequence[str]) -> Factor:
    levels, codes = np.unique(labels, return_inverse=True)
    return Factor(name, codes.astype(np.int64), tuple(levels.tolist()))


def _island(met: Meeting, pen: str) -> int:
    return next(at for at, island in enumerate(met.islands) if pen in island.first)


def _rooms(names: Sequence[str], room: Mapping[str, int | None], met: Meeting) -> tuple[Room, ...]:
    """Machines with room and island; one that met nobody is its own."""
    at = {normal_label(name): number for number, island in enumerate(met.islands) for name in island.second}
    new = len(met.islands)
    return tuple(
        Room(name, room[name], at.get(normal_label(name), new + number)) for number, name in enumerate(names)
    )


def camps_of(waiting: Sequence[Waiting], rooms: Sequence[Room], side: int) -> tuple[Camp, ...]:
    """Islands of setters (side 0) or hatchers (side 1) with what is at hand of them, by number."""
    own = {one.pen: (one.island, one.hatcher_island)[side] for one in waiting}
    islands = sorted({*own.values(), *(one.island for one in rooms)}) if rooms else []
    return tuple(
        Camp(
            island,
            tuple(pen for pen, of in own.items() if of == island),
            tuple(one.machine for one in rooms if one.island == island),
        )
        for island in islands
    )
