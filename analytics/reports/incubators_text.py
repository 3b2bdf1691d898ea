"""What is about the machines, as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.measures.hatch_timing import HatchOffset
from analytics.reports.month_text import paragraph, table
from analytics.reports.signs_text import signs_lines
from analytics.studies.incubators_records import Incubators, MachineAnswer, MachineTiming, PhaseAir, Rival
from analytics.studies.incubators_words import celsius_range, hours_range, signed_words
from analytics.studies.signs_records import SignsAnswer
from analytics.studies.temperatures import on_scale
from analytics.studies.wording import percent, selection_words, species_words

SAYS = {"for": "speak for it", "against": "speak against it", "not_recorded": "do not tell"}
"""What your records do about a rival."""
_AIR = ("machine", "as", "bird", "hours", "air °C", "limits", "above", "below", "humidity", "limits")


def incubators_text(found: Incubators, signs: SignsAnswer | None = None) -> str:
    """The answer machine by machine, then the hours, the air, the rivals, the signs, and how it was made.

    Args:
        found: the machines.
        signs: what opened eggs and hatches show; None where the records do not tell.
    """
    said = selection_words(found.selection)
    parts = [paragraph(said)] if said else []
    for one in found.machines:
        parts += [one.incubator.upper(), paragraph(one.sentence)]
    parts += _hours(found)
    parts += _air(found)
    for one in found.machines:
        parts += _rivals(one)
    parts += signs_lines(signs) if signs else []
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


def _air(found: Incubators) -> list[str]:
    """Temperature and humidity, displays, water loss; what is not known is said."""
    parts = []
    for one in found.machines:
        parts.append(f"{one.incubator.upper()}: AIR, DISPLAY, WATER LOSS")
        parts += [paragraph(f"- {text}") for text in said_of(one)]
    rows = [_phase_row(one, phase) for one in found.machines for phase in one.climate.phases if read(phase)]
    if rows:
        parts += ["AIR WHILE EGGS WERE IN, share of hours read outside limits", table(_AIR, rows, left=3)]
    return parts


def said_of(one: MachineAnswer) -> list[str]:
    """Sentences on the air, the display and the water loss."""
    without = [one.climate.why] if one.climate.why else []
    water = [each.sentence for each in one.water] or [f"No tray of {one.incubator} was weighed."]
    return [*without, *one.climate.sentences, one.display.sentence, *water]


def read(phase: PhaseAir) -> bool:
    """Whether anything was read in it."""
    return bool(phase.hours.temperature.hours or phase.hours.humidity.hours)


def _phase_row(one: MachineAnswer, phase: PhaseAir) -> tuple[str, ...]:
    limits = phase.hours.limits
    return (one.incubator, limits.phase, bird_words(limits.species), *phase_cells(phase))


def bird_words(species: str) -> str:
    """The species, or that there are several."""
    return species_words(species) if species else "several"


def phase_cells(phase: PhaseAir) -> tuple[str, ...]:
    """Hours read, heat, its limits, shares above and below, humidity, its limits; dashes for none."""
    hours, limits = phase.hours, phase.hours.limits
    heat, damp = hours.temperature, hours.humidity
    known = limits.low_c is not None and heat.hours
    return (
        f"{heat.hours:,}",
        f"{on_scale(heat.mean):.1f}" if heat.mean is not None else "-",
        _limits(_scaled(limits.low_c), _scaled(limits.high_c), 1),
        f"{percent(heat.above / heat.hours)} %" if known else "-",
        f"{percent(heat.below / heat.hours)} %" if known else "-",
        f"{damp.mean:.0f} %" if damp.mean is not None else "-",
        _limits(limits.low_rh, limits.high_rh, 0),
    )


def _scaled(celsius: float | None) -> float | None:
    return None if celsius is None else on_scale(celsius)


def _limits(low: float | None, high: float | None, decimals: int) -> str:
    return "-" if low is None or high is None else f"{low:.{decimals}f}–{high:.{decimals}f}"


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
    return f"your records {SAYS[one.says]}. {one.sentence}"
