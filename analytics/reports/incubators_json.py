"""What is about the machines, as plain values: the JSON form `penwise.incubators/1`."""

from __future__ import annotations

from typing import Any

from analytics.measures.hatch_timing import HatchOffset
from analytics.studies.incubators_records import Drift, Incubators, MachineAnswer, MachineTiming

SCHEMA = "penwise.incubators/1"


def incubators_values(found: Incubators) -> dict[str, Any]:
    """Every machine with its hours, weeks apart and rivals; all unrounded, + is later and warmer."""
    period = found.selection.period
    return {
        "period": {"from": period.start or found.first_day, "to": period.end or found.last_day},
        "machines": [_machine(one) for one in found.machines],
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
        "other_species": [_timing(timing) for timing in one.timings[1:]],
        "drift": [_drift(drift) for drift in one.drift],
        "rivals": list(first.rivals) if first else [],
        "notes": one.notes,
    }


def _timing(timing: MachineTiming) -> dict[str, Any]:
    return {
        **_offset(timing.offset),
        "species": timing.species,
        "expected_hours": timing.expected,
        "published_hours": list(timing.published_hours),
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
