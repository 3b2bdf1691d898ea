"""What is about the machines, as plain values: the JSON form `penwise.incubators/1`."""

from __future__ import annotations

from typing import Any

from analytics.incubation.water_line import WaterTarget
from analytics.measures.display_offset import DisplayOffset
from analytics.measures.hatch_timing import HatchOffset
from analytics.reports.signs_json import signs_about, signs_values
from analytics.store.climate import Side
from analytics.studies.incubators_records import (
    Drift,
    Incubators,
    MachineAir,
    MachineAnswer,
    MachineDisplay,
    MachineTiming,
    MachineWater,
    PhaseAir,
)
from analytics.studies.signs_records import SignsAnswer

SCHEMA = "penwise.incubators/1"


def incubators_values(found: Incubators, signs: SignsAnswer | None = None) -> dict[str, Any]:
    """Every machine with its hours, weeks apart and rivals; all unrounded, + is later and warmer.

    Args:
        found: the machines.
        signs: what opened eggs and hatches show; None where the records do not tell.
    """
    period = found.selection.period
    return {
        "period": {"from": period.start or found.first_day, "to": period.end or found.last_day},
        "machines": [_machine(one) for one in found.machines],
        "signs": signs_values(signs.signs) if signs else [],
        "signs_about": signs_about(signs) if signs else None,
        "notes": found.notes,
        "selection": {
            "from": period.start,
            "to": period.end,
            "species": found.selection.species,
            "pens": found.selection.pens,
            "incubators": found.selection.incubators,
        },
    }


def _machine(one: MachineAnswer) -> dict[str, Any]:
    first = one.timings[0] if one.timings else None
    return {
        "incubator": one.incubator,
        "role": one.role or None,
        "air": one.air or None,
        "batches": one.batches,
        "batches_hatched": one.batches_hatched,
        "sentence": one.sentence,
        "timing": _timing(first) if first else _offset(None) | {"why": one.sentence},
        "display_offset_c": one.display.temperature.offset if one.display.temperature else None,
        "mean_temperature_c": one.climate.mean_c,
        "hatcher_humidity_pct": one.climate.hatcher_rh,
        "water_loss_pct": _water_pct(one),
        "water_loss_target": _target(one.water[0].target) if one.water else None,
        "other_species": [_timing(timing) for timing in one.timings[1:]],
        "drift": [_drift(drift) for drift in one.drift],
        "rivals": list(first.rivals) if first else [],
        "display": _display(one.display),
        "climate": _climate(one.climate),
        "water": [_water(water) for water in one.water],
        "set_aside": one.climate.set_aside,
        "notes": one.notes,
    }


def _timing(timing: MachineTiming) -> dict[str, Any]:
    return {
        **_offset(timing.offset),
        "species": timing.species,
        "expected_hours": timing.expected.hours,
        "expected_window": [timing.expected.early, timing.expected.late],
        "published_hours": list(timing.expected.published),
        "against_published": _offset(timing.published),
        "outside_drift": _offset(timing.steady) if timing.steady else None,
        "left_out": timing.left_out,
        "hatched_elsewhere": timing.hatched_elsewhere,
        "not_used": timing.not_used,
        "hours": list(timing.hours),
        "rivals": list(timing.rivals),
        "why": timing.why or None,
    }


def _offset(found: HatchOffset | None) -> dict[str, Any]:
    """Hours later (+) or earlier, and the warmth (+) or coolness of the eggshell that this may mean."""
    if found is None:
        names = ("hours_from_expected", "low", "high", "inferred_offset_c", "low_c", "high_c", "against")
        return dict.fromkeys(names) | {"batches": 0, "other_batches": 0}
    return {
        "hours_from_expected": found.hours,
        "low": found.interval.low,
        "high": found.interval.high,
        "inferred_offset_c": found.warmth_c,
        "low_c": found.warmth_interval.low,
        "high_c": found.warmth_interval.high,
        "against": found.against,
        "batches": found.batches,
        "other_batches": found.other_batches,
        "hours_a_degree": list(found.hours_a_degree),
        "slope_borrowed": found.is_borrowed,
        "temperature_of": "eggshell",
    }


def _display(display: MachineDisplay) -> dict[str, Any]:
    """Display less reference: at the level of the last check, and over all of them."""
    return {
        "offset_c": _reference(display.temperature),
        "all_checks": _reference(display.all_checks),
        "offset_rh": _reference(display.humidity),
        "logger_offset_c": _reference(display.logger),
        "checks": list(display.checks),
        "sentence": display.sentence,
        "why": display.why or None,
    }


def _reference(found: DisplayOffset | None) -> dict[str, Any] | None:
    if found is None:
        return None
    interval = found.interval
    ends = {"low": interval.low, "high": interval.high} if interval else {"low": None, "high": None}
    return {"offset": found.offset, **ends, "scatter": found.scatter, "checks": found.checks}


def _climate(air: MachineAir) -> dict[str, Any]:
    interval = air.hatcher_rh_interval
    return {
        "mean_of": air.mean_of or None,
        "temperature_of": "air",
        "hatcher_humidity_low": interval.low if interval else None,
        "hatcher_humidity_high": interval.high if interval else None,
        "phases": [_phase(one) for one in air.phases],
        "hatches": list(air.hatches),
        "events": air.events.times,
        "notable_events": list(air.events.notable),
        "readings": air.readings,
        "sentences": air.sentences,
        "why": air.why or None,
    }


def _phase(one: PhaseAir) -> dict[str, Any]:
    hours, limits = one.hours, one.hours.limits
    return {
        "phase": limits.phase,
        "species": limits.species or None,
        "hours": hours.hours,
        "hours_of_both": hours.of_both,
        "temperature_c": _side(hours.temperature, limits.low_c, limits.high_c),
        "humidity_pct": _side(hours.humidity, limits.low_rh, limits.high_rh),
        "wet_bulb_c": one.wet_bulb_c,
        "hours_harmful_cold": hours.harm_below,
        "hours_harmful_hot": hours.harm_above,
        "sources_c": one.sources_c,
        "sources_rh": one.sources_rh,
    }


def _side(side: Side, low: float | None, high: float | None) -> dict[str, Any]:
    return {
        "hours_read": side.hours,
        "mean": side.mean,
        "limit_low": low,
        "limit_high": high,
        "hours_below": side.below if low is not None else None,
        "hours_above": side.above if high is not None else None,
    }


def _water_pct(one: MachineAnswer) -> float | None:
    found = one.water[0].found if one.water else None
    return 100 * found.loss if found else None


def _target(target: WaterTarget | None) -> dict[str, Any] | None:
    """% of the weight at setting, on the mean day of weighing."""
    if target is None:
        return None
    return {
        "low": 100 * target.low,
        "high": 100 * target.high,
        "day": target.day,
        "sources": target.source_ids,
    }


def _water(water: MachineWater) -> dict[str, Any]:
    found = water.found
    interval = found.interval if found else None
    return {
        "species": water.species,
        "loss_pct": 100 * found.loss if found else None,
        "low": 100 * interval.low if interval else None,
        "high": 100 * interval.high if interval else None,
        "method": interval.method if interval else None,
        "trays": found.trays if found else 0,
        "batches": found.batches if found else 0,
        "day": found.days if found else None,
        "target": _target(water.target),
        "left_out": water.left_out,
        "sentence": water.sentence,
    }


def _drift(drift: Drift) -> dict[str, Any]:
    return {
        "what": drift.what,
        "from": drift.first_day,
        "to": drift.last_day,
        "values": drift.values,
        "size": drift.size,
        "low": drift.low,
        "high": drift.high,
        "unit": "h" if drift.what == "hours" else "°C",
        "timing": _offset(drift.offset) if drift.offset else None,
        "other_machines": _offset(drift.others) if drift.others else None,
        "verdict": drift.verdict,
        "rivals": list(drift.rivals),
        "sentence": drift.sentence,
    }
