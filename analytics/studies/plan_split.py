"""Which eggs go into which machine next, so that the records come to tell pens from machines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from analytics.attribution.layout import Factor
from analytics.attribution.separability import EXPLAINED, Meeting, explained_by_levels, meet
from analytics.errors import DataTooThin, WrongUsage
from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering
from analytics.options import Selection
from analytics.planning.split import Room, SplitPlan, Waiting, split_plan
from analytics.planning.two_pens import TwoPens, precision
from analytics.sheets.keys import normal_label
from analytics.store.cells import Cells, cells
from analytics.store.counts import cluster_sums, counting
from analytics.store.next_set import MachineRoom, PenInMachine, machine_rooms, pens_in_machines
from analytics.studies.pen_data import taken
from analytics.studies.plan_records import Camp, SplitAnswer, SplitAsked
from analytics.studies.plan_words import split_notes, split_sentence

EACH = (12, 9, 6)
"""Eggs of a pen in a foreign machine, and as many left at home: the first that joins all (our own choice)."""
LATELY = 60
"""Days after which a pen without a set is taken to lay no more (our own choice)."""
_MEASURE = "hatch_of_set"
_TWO_SIDED = 1.96


@dataclass(frozen=True, slots=True)
class _Known:
    """What the records say of one kind of bird."""

    species: str
    met: tuple[PenInMachine, ...]
    rooms: tuple[MachineRoom, ...]
    trays: Cells
    clustering: Clustering


def plan_split(store: Path, asked: SplitAsked, selection: Selection) -> SplitAnswer:
    """Who goes where at the next set.

    Args:
        store: the store's file.
        asked: eggs, room and seed.
        selection: which records count as having met.

    Raises:
        WrongUsage: an unknown pen or machine, or less room than eggs.
        DataTooThin: no pen has eggs, or there is no machine.
        StoreError and its kinds: as `reading`.
    """
    known = _ask(store, selection)
    eggs, room = _eggs(asked, known), _room(asked, known)
    waiting, rooms = _on_islands(known, eggs, room)
    each, plan = _plan(waiting, rooms, asked)
    camps = _camps(waiting, rooms)
    within = _within(plan, known, asked.sets)
    return SplitAnswer(
        asked=asked,
        each=each,
        plan=plan,
        camps=camps,
        within=within,
        species=known.species,
        sentence=split_sentence(plan, camps),
        notes=tuple(split_notes(plan, asked.sets, within, _storage(known.trays, eggs), room)),
    )


def _plan(waiting: Sequence[Waiting], rooms: Sequence[Room], asked: SplitAsked) -> tuple[int, SplitPlan]:
    """With the most eggs each that joins all; with the fewest where none does."""
    tried = (asked.each,) if asked.each else EACH
    for each in tried:
        plan = split_plan(waiting, rooms, each, asked.seed)
        if not plan.left_apart:
            break
    return each, plan


def _ask(store: Path, selection: Selection) -> _Known:
    with counting(store, selection) as connection:
        found = cluster_sums(connection, selection.period.end or date.max).get(_MEASURE)
        met, rooms = pens_in_machines(connection, LATELY), machine_rooms(connection)
        trays = cells(connection, _MEASURE)
    species = _species(met)
    own = tuple(one for one in met if one.species == species)
    return _Known(
        species=species,
        met=own,
        rooms=_without_others(met, own, rooms),
        trays=taken(trays, trays.species == species),
        clustering=estimate_clustering(found),
    )


def _species(met: Sequence[PenInMachine]) -> str:
    """The kind with most eggs at its pens' last sets; birds of two kinds are no comparison."""
    eggs: dict[str, int] = {}
    for one in met:
        eggs[one.species] = eggs.get(one.species, 0) + one.at_last_set
    return max(eggs, key=lambda key: eggs[key], default="")


def _without_others(
    met: Sequence[PenInMachine], own: Sequence[PenInMachine], rooms: Sequence[MachineRoom]
) -> tuple[MachineRoom, ...]:
    """Machines that are not for other birds alone."""
    ours, all_used = ({normal_label(one.incubator) for one in some} for some in (own, met))
    others = all_used - ours
    return tuple(room for room in rooms if normal_label(room.incubator) not in others)


def _eggs(asked: SplitAsked, known: _Known) -> dict[str, int]:
    """Eggs that wait, by pen: as given, else as at the pen's last set."""
    usual = {one.pen: one.at_last_set for one in known.met}
    eggs = {**usual, **_by_label(asked.eggs, usual, "pen")}
    eggs = {pen: number for pen, number in eggs.items() if number > 0}
    if not eggs:
        raise DataTooThin(
            "No pen has eggs to set", "A plan needs a pen that set eggs lately", "Say how many: --eggs PEN=24"
        )
    return eggs


def _room(asked: SplitAsked, known: _Known) -> dict[str, int | None]:
    """Room by machine: as given, else what it holds less what is in it; None where not known."""
    free = {
        one.incubator: None if one.capacity is None else max(one.capacity - one.inside, 0)
        for one in known.rooms
    }
    room: dict[str, int | None] = {**free, **_by_label(asked.room, free, "incubator")}
    if not room:
        raise DataTooThin(
            "No machine", "A plan needs one to set eggs in", "Write it into the sheet incubators"
        )
    return room


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


def _meeting(met: Sequence[PenInMachine]) -> Meeting:
    pens, machines = (_factor(name, [getattr(one, name) for one in met]) for name in ("pen", "incubator"))
    return meet(pens, machines, np.ones(len(met), dtype=bool))


def _factor(name: str, labels: Sequence[str]) -> Factor:
    levels, codes = np.unique(labels, return_inverse=True)
    return Factor(name, codes.astype(np.int64), tuple(levels.tolist()))


def _on_islands(
    known: _Known, eggs: Mapping[str, int], room: Mapping[str, int | None]
) -> tuple[list[Waiting], list[Room]]:
    """Pens with eggs and machines at hand, each with its island; a machine that met nobody is its own."""
    met, own = _meeting(known.met), normal_label
    of_machine = {own(name): at for at, island in enumerate(met.islands) for name in island.second}
    of_pen = {name: at for at, island in enumerate(met.islands) for name in island.first}
    new = len(met.islands)
    rooms = [
        Room(name, free, of_machine.get(own(name), new + at)) for at, (name, free) in enumerate(room.items())
    ]
    homes = {pen: _home(pen, known.met, rooms) for pen in eggs}
    return [Waiting(pen, number, of_pen[pen], homes[pen]) for pen, number in eggs.items()], rooms


def _home(pen: str, met: Sequence[PenInMachine], rooms: Sequence[Room]) -> str:
    """The machine at hand that most of the pen's eggs went into, lately first."""
    went = {normal_label(one.incubator): (one.lately, one.eggs) for one in met if one.pen == pen}
    return max(rooms, key=lambda room: went.get(normal_label(room.machine), (0, 0))).machine


def _camps(waiting: Sequence[Waiting], rooms: Sequence[Room]) -> tuple[Camp, ...]:
    """Islands with what is at hand of them, by number."""
    islands = sorted({one.island for one in waiting} | {one.island for one in rooms})
    return tuple(
        Camp(
            island,
            tuple(one.pen for one in waiting if one.island == island),
            tuple(one.machine for one in rooms if one.island == island),
        )
        for island in islands
    )


def _within(plan: SplitPlan, known: _Known, sets: int) -> float | None:
    """Half a 95 % interval of what the weakest join tells after so many sets, in shares; None without one.

    A pen's eggs in two machines lie in two batches, so what a batch does is in it.
    """
    moved = [lot for lot in plan.lots if lot.moved]
    if not moved or not known.trays.eggs.sum():
        return None
    rate = float(known.trays.passed.sum() / known.trays.eggs.sum())
    errors = []
    for lot in moved:
        home = sum(one.eggs for one in plan.lots if one.pen == lot.pen and not one.moved)
        if home:
            trays = TwoPens.of([lot.eggs, home] * sets, [0, 1] * sets, np.arange(2 * sets))
            errors.append(precision(trays, (rate, rate), known.clustering).error)
    return _TWO_SIDED * max(errors) if errors else None


def _storage(trays: Cells, eggs: Mapping[str, int]) -> str:
    """The pen whose storage should be split too, "" where storage already differs within pens."""
    told = np.isfinite(trays.storage_days)
    days, pen = trays.storage_days[told], trays.pen[told]
    if not len(days):
        return ""
    codes = np.unique(pen, return_inverse=True)[1].astype(np.int64)
    if np.ptp(days) > 0 and explained_by_levels(days, codes) <= EXPLAINED:
        return ""
    return max(eggs, key=lambda one: eggs[one])
