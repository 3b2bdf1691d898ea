"""What is about the machines, as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.measures.hatch_timing import HatchOffset
from analytics.reports.month_text import paragraph, table
from analytics.studies.incubators_records import Incubators, MachineAnswer, MachineTiming, Rival
from analytics.studies.incubators_words import celsius_range, hours_range, signed_words
from analytics.studies.wording import selection_words, species_words

SAYS = {"for": "speaks for it", "against": "speaks against it", "not_recorded": "not recorded"}
"""What the records say of a rival."""


def incubators_text(found: Incubators) -> str:
    """The answer machine by machine, then the hours, the rivals, and how it was made."""
    said = selection_words(found.selection)
    parts = [paragraph(said)] if said else []
    for one in found.machines:
        parts += [one.incubator.upper(), paragraph(one.sentence)]
    parts += _hours(found)
    for one in found.machines:
        parts += _rivals(one)
    parts.append("HOW THIS WAS MADE")
    parts += [paragraph(f"- {note}") for note in found.notes]
    parts += [paragraph(f"- {note}") for one in found.machines for note in one.notes]
    return "\n\n".join(parts) + "\n"


def _hours(found: Incubators) -> list[str]:
    rows = [
        _row(one, timing, offset)
        for one in found.machines
        for timing in one.timings
        for offset in (timing.own, timing.published)
        if offset
    ]
    if not rows:
        return []
    heading = ("machine", "bird", "held against", "batches", "hours", "95 % range", "eggshell °C", "range")
    return ["HOURS OF THE HATCH, + is later", table(heading, rows, left=3)]


def _row(one: MachineAnswer, timing: MachineTiming, offset: HatchOffset) -> tuple[str, ...]:
    warmth = offset.warmth_interval
    return (
        one.incubator,
        species_words(timing.species),
        "own machines" if offset.against == "own" else "print",
        str(offset.batches),
        signed_words(offset.hours, 1),
        hours_range(offset.interval.low, offset.interval.high, signed=True),
        signed_words(offset.warmth_c, 1),
        celsius_range(warmth.low, warmth.high, signed=True),
    )


def _rivals(one: MachineAnswer) -> list[str]:
    parts = []
    for drift in one.drift:
        parts += _of(f"BEFORE {one.incubator} IS CALLED WARM OR COOL IN THOSE WEEKS", drift.rivals)
    for timing in one.timings:
        parts += _of(f"BEFORE {one.incubator} IS CALLED WARM OR COOL", timing.rivals)
    return parts


def _of(heading: str, rivals: Sequence[Rival]) -> list[str]:
    if not rivals:
        return []
    said = [paragraph(f"- {one.cause}: {rival_words(one)}") for one in rivals]
    return [heading, *said]


def rival_words(one: Rival) -> str:
    """What the records say of a rival."""
    return one.sentence if one.says == "not_recorded" else f"{SAYS[one.says]}. {one.sentence}"
