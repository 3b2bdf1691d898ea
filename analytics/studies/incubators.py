"""If it is the incubator, what about it: does it hatch early or late, is it warm, dry, off its display?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.store.climate import (
    checks,
    climate_days,
    hatch_air,
    lay_out_climate,
    phase_hours,
    phases,
    set_aside,
)
from analytics.store.counts import counting, lay_out
from analytics.store.machines import (
    Machine,
    events_counted,
    happened,
    lay_out_stays,
    machines,
    notable,
    with_events,
)
from analytics.store.timing import CountedBatch, counted_batches
from analytics.store.weights import trays_weighed
from analytics.studies import incubators_air_words as air_words
from analytics.studies import incubators_words as words
from analytics.studies.incubators_air import AirData, advised, machine_air, machine_display, machine_water
from analytics.studies.incubators_records import Drift, Incubators, MachineAnswer, MachineTiming
from analytics.studies.incubators_timing import Told, hours_within, timings
from analytics.values import label_order


@dataclass(frozen=True, slots=True)
class Found:
    """What the store holds for the question.

    Attributes:
        machines: those asked about.
        batches: closed batches of all machines.
        told: what happened to the machines.
        air: what loggers, checks and scales tell.
    """

    machines: tuple[Machine, ...]
    batches: tuple[CountedBatch, ...]
    told: Told
    air: AirData


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
    period = selection.period
    with counting(store, selection) as connection:
        asked, known = machines(connection, selection), machines(connection, Selection())
        lay_out(connection, replace(selection, incubators=()))
        lay_out_stays(connection, with_open=period.end is None)
        batches = counted_batches(connection)
        told = Told(happened(connection), with_events(connection))
        lay_out_climate(connection)
        kinds = {machine.incubator: machine.air for machine in known}
        held = [advised(one, kinds[one.incubator]) for one in phases(connection)]
        air = AirData(
            {(one.limits.incubator, one.limits.phase, one.limits.species): one for one in held},
            phase_hours(connection, [one.limits for one in held]),
            climate_days(connection),
            set_aside(connection),
            hatch_air(connection),
            checks(connection, period.start or date.min, period.end or date.max),
            trays_weighed(connection),
            notable(connection),
            events_counted(connection),
        )
    return Found(asked, batches, told, air)


def _machine(
    machine: Machine, found: Found, hours: Sequence[MachineTiming], drifts: Sequence[Drift]
) -> MachineAnswer:
    name = machine.incubator
    climate, warmer = machine_air(name, found.air)
    display, shown = machine_display(name, found.air)
    warmer = tuple(_with_hours(one, name, hours, drifts, found.batches) for one in warmer)
    said = [one.sentence for one in (*drifts, *warmer, *shown)]
    said += [words.timing_words(name, one, drifts, _others(name, one, found)) for one in hours[:1]]
    hatched = sum(batch.hatcher == name for batch in found.batches)
    return MachineAnswer(
        incubator=name,
        role=machine.role,
        air=machine.air,
        batches=sum(batch.setter == name for batch in found.batches),
        batches_hatched=hatched,
        timings=tuple(hours),
        climate=climate,
        display=display,
        water=machine_water(name, found.air),
        drift=(*drifts, *warmer, *shown),
        sentence=" ".join(said) if hours else " ".join([words.no_batch(name, hatched), *said]),
        notes=tuple(note for note in (words.not_used_words(name, hours),) if note),
    )


def _with_hours(
    air: Drift,
    name: str,
    hours: Sequence[MachineTiming],
    drifts: Sequence[Drift],
    batches: Sequence[CountedBatch],
) -> Drift:
    """Weeks of warmer or cooler air with what hatched from them; said where hours alone did not say it."""
    if not hours:
        return air
    offset = hours_within(name, hours[0].species, batches, air.first_day, air.last_day)
    told = any(one.first_day <= air.last_day and air.first_day <= one.last_day for one in drifts)
    if offset is None or told:
        return replace(air, offset=offset)
    return replace(air, offset=offset, sentence=words.hours_of_air(air.sentence, offset))


def _others(name: str, timing: MachineTiming, found: Found) -> list[str]:
    """The other machines with counted hatches of the same bird."""
    counted = {batch.setter for batch in found.batches if batch.counts and batch.species == timing.species}
    return sorted(counted - {name}, key=label_order)


def _notes(hours: dict[str, tuple[list[MachineTiming], list[Drift]]]) -> tuple[str, ...]:
    notes = [
        words.DAY_NOUGHT,
        words.BORROWED,
        air_words.LIMITS,
        air_words.HARM,
        air_words.ALTITUDE,
        words.PERHAPS,
    ]
    series = sum(bool(timing.hours) for own, _ in hours.values() for timing in own)
    notes = [words.looked_at(series), *notes] if series else notes
    return tuple([words.TWO_MACHINES, *notes] if len(hours) == 2 else notes)
