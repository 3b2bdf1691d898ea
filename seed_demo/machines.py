"""Sheets of the machines: climate, checks of the display, what happened to them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from math import cos, pi

import numpy as np

from seed_demo.draws import happens, normal, one_of, whole
from seed_demo.plan import FIRST_SETTING, Batch
from seed_demo.records import Row
from seed_demo.world import TODAY, Machine, World

LOGGED_EVERY = timedelta(hours=2)
_LOGGER_EMPTY = date(2025, 8, 11), date(2025, 8, 24)  # a flat battery
_SHOWN_C = 37.6  # what every display shows, whatever the air is
_HATCH_HUMIDITY = 14.0
_REFERENCE = "mercury thermometer and sling psychrometer"


def incubator_rows(world: World) -> Iterator[Row]:
    """The sheet of incubators."""
    for machine in world.machines:
        yield {
            "incubator": machine.name,
            "role": "both",
            "air": machine.air,
            "capacity_eggs": machine.capacity,
            "notes": None if machine.checked else "built-in thermometer, never checked",
        }


def climate_rows(world: World, batches: tuple[Batch, ...], rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of logger readings: every two hours while the logger has a battery."""
    for machine in world.machines:
        if machine.logged:
            yield from _logger(world, machine, _hatching_days(machine, batches), rng)


def _logger(world: World, machine: Machine, hatching: set[date], rng: np.random.Generator) -> Iterator[Row]:
    moment = datetime.combine(FIRST_SETTING, time())
    end = datetime.combine(TODAY, time(12))
    while moment <= end:
        day = moment.date()
        if not _LOGGER_EMPTY[0] <= day <= _LOGGER_EMPTY[1]:
            daily = 0.05 * cos((moment.hour - 15) / 24 * 2 * pi)
            wetter = _HATCH_HUMIDITY if day in hatching else 0.0
            yield {
                "incubator": machine.name,
                "at": moment,
                "temperature_c": round(air_celsius(world, machine, day) + daily + normal(rng, 0.08), 2),
                "humidity_pct": round(machine.humidity + wetter + normal(rng, 1.5), 1),
            }
        moment += LOGGED_EVERY


def air_celsius(world: World, machine: Machine, day: date) -> float:
    """True mean temperature of a machine on a day."""
    return machine.celsius + sum(
        effect.size
        for effect in world.planted
        if effect.step == "temperature"
        and effect.level == machine.name
        and (effect.start is None or effect.start <= day)
        and (effect.end is None or day <= effect.end)
    )


def _hatching_days(machine: Machine, batches: tuple[Batch, ...]) -> set[date]:
    """Days on which the machine holds eggs between transfer and pull, when the keeper adds water."""
    return {
        batch.transfer_on.date() + timedelta(days=more)
        for batch in batches
        if batch.hatcher == machine.name
        for more in range((batch.end.date() - batch.transfer_on.date()).days + 1)
    }


def check_rows(world: World, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of checks: about every sixth week, of the machines that are checked at all."""
    for machine in world.machines:
        day = FIRST_SETTING + timedelta(days=6)
        while machine.checked and day <= TODAY:
            true = air_celsius(world, machine, day)
            yield {
                "incubator": machine.name,
                "at": datetime.combine(day, time(8, 30)),
                "displayed_c": round(_SHOWN_C + normal(rng, 0.05), 1),
                "reference_c": round(true + normal(rng, 0.05), 1),
                "displayed_rh": round(machine.humidity + normal(rng, 1.0)),
                "reference_rh": round(machine.humidity + normal(rng, 1.0)),
                "reference": _REFERENCE,
            }
            day += timedelta(days=whole(rng, 36, 46))


def event_rows(world: World, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of what happened to the machines."""
    for machine in world.machines:
        day = FIRST_SETTING + timedelta(days=whole(rng, 5, 15))
        while day <= TODAY:
            yield _event(machine, day, one_of(rng, ("refilled", "refilled", "cleaned", "opened")), rng)
            day += timedelta(days=whole(rng, 12, 30))
    cut = datetime.combine(date(2025, 11, 22), time(3, 15))
    for machine in world.machines:
        yield _happened(machine.name, cut, "power_cut", 190, "storm; lids kept shut")
    yield _happened(
        "Flint",
        datetime.combine(date(2025, 8, 19), time(7)),
        "turner_stopped",
        840,
        "belt slipped, noticed next round",
    )


def _event(machine: Machine, day: date, event: str, rng: np.random.Generator) -> Row:
    minutes = whole(rng, 2, 15) if event != "cleaned" else None
    moment = datetime.combine(day, time(whole(rng, 7, 20), 5 * whole(rng, 0, 11)))
    return _happened(machine.name, moment, event, minutes, "lid left ajar" if happens(rng, 0.03) else None)


def _happened(machine: str, moment: datetime, event: str, minutes: int | None, notes: str | None) -> Row:
    return {"incubator": machine, "at": moment, "event": event, "minutes": minutes, "notes": notes}
