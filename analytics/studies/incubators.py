"""If it is the incubator, what about it: does it hatch early or late, is it warm, dry, off its display?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.store.counts import counting, lay_out
from analytics.store.machines import Machine, happened, lay_out_stays, machines, with_events
from analytics.store.timing import CountedBatch, counted_batches
from analytics.studies import incubators_words as words
from analytics.studies.incubators_records import Drift, Incubators, MachineAnswer, MachineTiming
from analytics.studies.incubators_timing import Told, timings
from analytics.values import label_order


@dataclass(frozen=True, slots=True)
class Found:
    """What the store holds for the question.

    Attributes:
        machines: those asked about.
        batches: closed batches of all machines.
        told: what happened to the machines.
    """

    machines: tuple[Machine, ...]
    batches: tuple[CountedBatch, ...]
    told: Told


def incubators(store: Path, selection: Selection) -> Incubators:
    """What these records say of each machine.

    A machine is held against the farm's other machines, so a selection of machines only says which are shown;
    pens say which batches count.

    Args:
        store: the store's file.
        selection: filters.

    Raises:
        WrongUsage: a filter that names nothing.
        DataTooThin: no machine, or no closed batch in the selection.
        StoreError and its kinds: as `reading`.
    """
    found = _found(store, selection)
    if not found.machines:
        raise DataTooThin("No machine is written down", "The sheet incubators names them", "Load that sheet")
    if not found.batches:
        raise DataTooThin(
            "No closed batch of this selection",
            "A machine is known by the batches that hatched in it",
            "Widen the days or pens asked for",
        )
    hours = timings(found.batches, found.told)
    return Incubators(
        selection=selection,
        first_day=min(batch.set_on for batch in found.batches).date(),
        last_day=max(batch.pulled_on or batch.set_on for batch in found.batches).date(),
        machines=tuple(_machine(one, found, *hours.get(one.incubator, ([], []))) for one in found.machines),
        notes=_notes(hours),
    )


def _found(store: Path, selection: Selection) -> Found:
    with counting(store, selection) as connection:
        asked = machines(connection, selection)
        lay_out(connection, replace(selection, incubators=()))
        lay_out_stays(connection)
        return Found(asked, counted_batches(connection), Told(happened(connection), with_events(connection)))


def _machine(
    machine: Machine, found: Found, hours: Sequence[MachineTiming], drifts: Sequence[Drift]
) -> MachineAnswer:
    name = machine.incubator
    said = [one.sentence for one in drifts]
    said += [words.timing_words(name, one, drifts, _others(name, one, found)) for one in hours[:1]]
    hatched = sum(batch.hatcher == name for batch in found.batches)
    return MachineAnswer(
        incubator=name,
        role=machine.role,
        air=machine.air,
        batches=sum(batch.setter == name for batch in found.batches),
        batches_hatched=hatched,
        timings=tuple(hours),
        drift=tuple(drifts),
        sentence=" ".join(said) or words.no_batch(name, hatched),
        notes=tuple(note for note in (words.not_used_words(name, hours),) if note),
    )


def _others(name: str, timing: MachineTiming, found: Found) -> list[str]:
    """The other machines with counted hatches of the same bird."""
    counted = {batch.setter for batch in found.batches if batch.counts and batch.species == timing.species}
    return sorted(counted - {name}, key=label_order)


def _notes(hours: dict[str, tuple[list[MachineTiming], list[Drift]]]) -> tuple[str, ...]:
    notes = [words.DAY_NOUGHT, words.BORROWED, words.PERHAPS]
    return tuple([words.TWO_MACHINES, *notes] if len(hours) == 2 else notes)
