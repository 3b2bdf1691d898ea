"""The air in the machines, their displays and the water their eggs lost, as the records tell it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from statistics import mean

from analytics.incubation.machine_air import LevelShift, Reading, check_shifts, weekly_shifts
from analytics.incubation.water_line import WeighedTray, mean_loss, target_on
from analytics.measures.air_humidity import AdvisedHumidity, advised_humidity, wet_bulb_of_humidity
from analytics.measures.display_offset import DisplayOffset, display_offset
from analytics.measures.intervals import LEVEL, t_quantile
from analytics.reference.settings import Quantity, Setting, settings_of, whole_range
from analytics.store.climate import Check, ClimateDay, HatchAir, Limits, PhaseHours
from analytics.store.machines import Notable
from analytics.store.weights import TrayWeighed
from analytics.studies import incubators_air_words as words
from analytics.studies.incubators_records import (
    Drift,
    MachineAir,
    MachineDisplay,
    MachineEvents,
    MachineWater,
    PhaseAir,
)
from analytics.values import Interval

TOLERANCE_C = 0.28
"""Half a degree Fahrenheit, fine on either side (MSU Extension, "Important incubation factors", seen)."""
FEW_WEEKS = 8
"""Weeks in which only eggs were set, below which the hatching days stand for a machine's level."""
_WEEK = 7


@dataclass(frozen=True, slots=True)
class Advised:
    """What sources advise for one phase and species of a machine.

    Attributes:
        limits: the ends of all of them, the tolerance added.
        heat: the rows on temperature.
        damp: the rows on humidity, wet bulbs turned into %.
    """

    limits: Limits
    heat: tuple[Setting, ...]
    damp: tuple[AdvisedHumidity, ...]


@dataclass(frozen=True, slots=True)
class AirData:
    """What the store holds of the machines' air, displays and trays' weights.

    Attributes:
        advised: machine, phase and species -> what is advised.
        hours: hours by phase and species.
        days: day by day.
        aside: machine -> kinds of readings.
        hatches: the last days of each batch.
        checks: displays beside a reference.
        trays: trays that were weighed.
        notable: power cuts and the like.
        events: machine -> event -> how often.
    """

    advised: dict[tuple[str, str, str], Advised]
    hours: tuple[PhaseHours, ...]
    days: tuple[ClimateDay, ...]
    aside: dict[str, dict[str, int]]
    hatches: tuple[HatchAir, ...]
    checks: tuple[Check, ...]
    trays: tuple[TrayWeighed, ...]
    notable: tuple[Notable, ...]
    events: dict[str, dict[str, int]]


def advised(one: Limits, air: str) -> Advised:
    """What is advised for a machine's phase and species.

    Args:
        one: the phase, without limits yet.
        air: forced, still, or "" where not written down.
    """
    hatcher = one.phase == "hatcher"
    heat = settings_of(one.species, Quantity.HATCHER_C if hatcher else Quantity.SETTER_C, air or "any")
    damp = advised_humidity(one.species, air or "any", hatcher=hatcher)
    ends = whole_range(heat)
    low_c, high_c = (ends[0] - TOLERANCE_C, ends[1] + TOLERANCE_C) if ends else (None, None)
    low_rh = min((row.low_pct for row in damp), default=None)
    high_rh = max((row.high_pct or row.low_pct for row in damp), default=None)
    return Advised(replace(one, low_c=low_c, high_c=high_c, low_rh=low_rh, high_rh=high_rh), heat, damp)


def machine_air(name: str, data: AirData) -> tuple[MachineAir, tuple[Drift, ...]]:
    """The air of one machine, and the weeks in which its temperature left its level."""
    found = tuple(_phase(one, data) for one in data.hours if one.limits.incubator == name)
    days = tuple(day for day in data.days if day.incubator == name)
    hatches = tuple(one for one in data.hatches if one.incubator == name)
    aside = dict(data.aside.get(name, {}))
    readings = aside.pop("readings", 0)
    mean_c, mean_of = _mean_c(name, found, data.checks)
    humidity, interval = _hatcher_humidity(hatches)
    drifts = tuple(
        _drift("temperature", shift, words.air_drift(name, shift)) for shift in weekly_shifts(_daily(days))
    )
    marked = tuple(one for one in data.notable if one.incubator == name)
    air = MachineAir(
        phases=found,
        days=days,
        mean_c=mean_c,
        mean_of=mean_of,
        hatcher_rh=humidity,
        hatcher_rh_interval=interval,
        hatches=hatches,
        events=MachineEvents(data.events.get(name, {}), marked),
        set_aside={kind: many for kind, many in aside.items() if many},
        readings=readings,
        why="" if readings else words.no_logger(name),
        sentences=(),
    )
    return replace(air, sentences=words.air_sentences(name, air)), drifts


def _phase(one: PhaseHours, data: AirData) -> PhaseAir:
    limits = one.limits
    asked = data.advised[limits.incubator, limits.phase, limits.species]
    warm, wet = one.temperature.mean, one.humidity.mean
    return PhaseAir(
        hours=one,
        sources_c=tuple(dict.fromkeys(row.source_id for row in asked.heat)),
        sources_rh=tuple(dict.fromkeys(row.setting.source_id for row in asked.damp)),
        wet_bulb_c=None if warm is None or wet is None else wet_bulb_of_humidity(warm, wet),
    )


def _mean_c(
    name: str, found: Sequence[PhaseAir], checked: Sequence[Check]
) -> tuple[float | None, words.MeanOf]:
    """By the logger while eggs were set, else while they hatched; else by the reference at the checks."""
    for phase in ("setter", "hatcher"):
        sides = [one.hours.temperature for one in found if one.hours.limits.phase == phase]
        hours = sum(side.hours for side in sides)
        if hours:
            return sum(side.hours * (side.mean or 0.0) for side in sides) / hours, "logger"
    read = [one.reference_c for one in checked if one.incubator == name and one.reference_c is not None]
    return (mean(read), "reference") if read else (None, "")


def _hatcher_humidity(hatches: Sequence[HatchAir]) -> tuple[float | None, Interval | None]:
    """Mean over hatches, each counting once, with Student's interval."""
    read = [one.humidity for one in hatches if one.humidity is not None]
    if not read:
        return None, None
    middle = mean(read)
    if len(read) < 2:
        return middle, None
    error = (sum((one - middle) ** 2 for one in read) / (len(read) - 1) / len(read)) ** 0.5
    half = t_quantile(LEVEL, len(read) - 1) * error
    return middle, Interval(middle - half, middle + half, LEVEL, "Student's t over hatches")


def _daily(days: Sequence[ClimateDay]) -> list[Reading]:
    """Daily means while eggs were set; while they hatched where there is little else."""
    for phase in ("setter", "hatcher"):
        read = [
            Reading(day.day, day.mean_c, day.hours)
            for day in days
            if day.phase == phase and day.mean_c is not None
        ]
        if len(read) >= FEW_WEEKS * _WEEK or phase == "hatcher":
            return read
    return []


def _drift(what: words.What, shift: LevelShift, sentence: str) -> Drift:
    return Drift(
        what=what,
        first_day=shift.first_day,
        last_day=shift.last_day,
        values=shift.values,
        size=shift.size,
        low=shift.low,
        high=shift.high,
        offset=None,
        others=None,
        verdict="machine",
        rivals=(),
        sentence=sentence,
    )


def machine_display(name: str, data: AirData) -> tuple[MachineDisplay, tuple[Drift, ...]]:
    """How far a machine's display is from the reference, and the checks in which that changed."""
    own = tuple(check for check in data.checks if check.incubator == name)
    read = [
        Reading(one.at.date(), one.displayed_c - one.reference_c)
        for one in own
        if one.displayed_c is not None and one.reference_c is not None
    ]
    shifts = check_shifts(read)
    now = _last_level(own, shifts)
    heat = _offset([(one.displayed_c, one.reference_c) for one in now])
    logger = _offset([(one.logged_c, one.reference_c) for one in own])
    last = own[-1].at.date() if own else None
    sentence = words.display_sentence(name, heat, logger, last, moved=len(now) < len(own))
    why = "" if heat else words.no_check(name)
    display = MachineDisplay(
        temperature=heat,
        all_checks=_offset([(one.displayed_c, one.reference_c) for one in own]),
        humidity=_offset([(one.displayed_rh, one.reference_rh) for one in own]),
        logger=logger,
        checks=own,
        why=why,
        sentence=sentence or why,
    )
    return display, tuple(_drift("display", one, words.display_drift(name, one)) for one in shifts)


def _last_level(own: Sequence[Check], shifts: Sequence[LevelShift]) -> list[Check]:
    """The checks at the level of the last one."""

    def place(check: Check) -> int:
        day = check.at.date()
        return next((at for at, one in enumerate(shifts) if one.first_day <= day <= one.last_day), -1)

    return [check for check in own if place(check) == place(own[-1])]


def _offset(pairs: Sequence[tuple[float | None, float | None]]) -> DisplayOffset | None:
    both = [(one, other) for one, other in pairs if one is not None and other is not None]
    return display_offset([one for one, _ in both], [other for _, other in both]) if both else None


def machine_water(name: str, data: AirData) -> tuple[MachineWater, ...]:
    """Water loss by species, the one with most trays first."""
    own = [tray for tray in data.trays if tray.incubator == name]
    used = Counter(tray.species for tray in own if not tray.why)
    made = []
    for species in sorted({tray.species for tray in own}, key=lambda key: (-used[key], key)):
        trays = [
            WeighedTray(one.batch, one.loss, one.days)
            for one in own
            if one.species == species and not one.why
        ]
        left_out = dict(Counter(one.why for one in own if one.species == species and one.why))
        found = mean_loss(trays) if trays else None
        target = target_on(species, found.days) if found else None
        sentence = words.water_sentence(name, species, found, target, left_out)
        made.append(MachineWater(species, found, target, left_out, sentence))
    return tuple(made)
