"""What the page of incubators says; goes with words.py into another language."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from analytics.measures.hatch_timing import HatchOffset
from analytics.reference.sources import source_table
from analytics.reports.incubators_text import SAYS, bird_words, phase_cells
from analytics.store.climate import Check
from analytics.store.machines import Notable
from analytics.studies.incubators_air_words import EVENT_NAMES
from analytics.studies.incubators_records import (
    BatchHour,
    Drift,
    Incubators,
    MachineAnswer,
    MachineTiming,
    MachineWater,
    PhaseAir,
    Rival,
)
from analytics.studies.incubators_words import celsius_range, hours_range, hours_words, signed_words
from analytics.studies.signs_records import Sign
from analytics.studies.temperatures import apart, heat, unit
from analytics.studies.wording import counted, listed, species_words
from dashboard.words import MONTHS, NOT_KNOWN, day

PAGE = "Incubators"
TITLE = "If it is the incubator, what is wrong with it?"
TOO_THIN = "That cannot be answered from these records"
WORKING = "Looking at hours, air and displays"
HOURS_HEADING = "When each machine hatched"
HOURS_NONE = (
    "No hatch was counted with its hours. Write chicks out so far into the sheet hatch_counts, two or three "
    "times a day from the first pip on, and the hour of setting into the sheet batches."
)
HOURS_KEY = (
    "Each mark is a batch on its day of setting: hours later (up) or earlier (down) than the other machines' "
    "usual hour, storage taken off, with its range. Pale band: the expected window, where nineteen in twenty "
    "of the others' batches lie. Open marks moved to another machine for the hatch. Shaded weeks stand apart."
)
HOURS_KEY_PRINT = "Without another machine, the marks are held against the middle of published hours."
BIRDS_KEY = "Square marks are a machine's other birds."
AIR_HEADING = "Temperature and humidity"
AIR_NONE = "No logger reading while eggs were in. A logger's file can be brought in on the page Records."
AIR_KEY = (
    "Daily means while eggs were in: coloured where some hatched. Pale: from the "
    "lowest to the highest reading of the day. Broken lines: limits while eggs are set. Dotted lines: what "
    "happened. Shaded weeks stand apart."
)
FILTER_MACHINE = "Machine"
DISPLAY_HEADING = "Display against a reference"
DISPLAY_NONE = (
    "No display was read beside a reference. Put a thermometer you trust beside the eggs, and write both "
    "readings into the sheet checks."
)
DISPLAY_KEY = "Each mark is a check: display less reference. Above nothing the display shows too much."
WATER_HEADING = "Water loss"
WATER_NONE = (
    "No tray was weighed twice. Weigh the empty tray, the tray with its eggs at setting, and again at "
    "transfer."
)
RIVALS_HEADING = "Before a machine is called warm or cool"
RIVALS_LEDE = "What else moves a hatch, and what your records say of it."
RIVALS_NONE = "No machine stands so clearly apart that a cause need be looked for."
NUMBERS_HEADING = "The numbers"
MADE_HEADING = "How this was worked out"
SIGNS_HEADING = "What opened eggs and chicks show"
SIGNS_LEDE = "Candidates with what speaks for and against each; none of them is a finding."
SIGNS_NONE = "No sign stands out beside this farm's own others."
SIGNS_THIN = "No tray of this selection tells any sign."
SIGNS_RULE = "When a sign is called seen, and what is not recorded"
NOTHING = "nothing"
COL_GROUP = "Whose"
COL_FOR = "Speaks for it"
COL_AGAINST_IT = "Speaks against it, or is not written down"
WATER_KEY = (
    "Mean of the trays weighed with their tare, per egg, with its range over batches; few trays leave it "
    "wide. Published figures are brought to the same day, in proportion. Pens differ too: thick shells lose "
    "less."
)
SIGNS_WORKING = "Sharing losses out; signs are read after them"
MADE_FOLDED = "What these hours and degrees rest on"
COL_MACHINE = "Machine"
COL_BIRD = "Bird"
COL_AGAINST = "Held against"
COL_BATCHES = "Batches"
COL_HOURS = "Hours"
COL_RANGE = "Range"
COL_WARMTH = "{unit} of eggshell"
COL_WARMTH_RANGE = "Range, {unit}"
COL_PHASE = "As"
COL_READ = "Hours read"
COL_AIR = "Air, {unit}"
COL_LIMITS = "Limits, {unit}"
COL_ABOVE = "Above"
COL_BELOW = "Below"
COL_HUMIDITY = "Humidity"
COL_RH_LIMITS = "Limits, %"
COL_LOSS = "Lost"
COL_DAY = "By day"
COL_PUBLISHED = "Published"
COL_TRAYS = "Trays"
COL_CAUSE = "May be"
COL_SAYS = "Your records"
COL_SENTENCE = "What they say"
COL_CHECK = "Look at"
PHASES = {"setter": "setter", "hatcher": "hatcher"}
AGAINST = {"own": "your other machines", "published": "print"}
DOWNLOAD = "Take the hours"


def answer_lines(found: Incubators) -> tuple[str, ...]:
    """The machine that stands apart most, its first sentence large, then a line for each other."""
    first, *others = in_order(found.machines)
    said, stop, rest = first.sentence.partition(". ")
    return (f"{said}." if stop else said, *([rest] if rest else []), *(one.sentence for one in others))


def in_order(machines: Sequence[MachineAnswer]) -> list[MachineAnswer]:
    """Machines that left their level first, then those off on the whole, then the others."""
    return sorted(machines, key=_calm)


def _calm(one: MachineAnswer) -> int:
    if one.drift:
        return 0
    offset = one.timings[0].offset if one.timings else None
    return 1 if offset and not offset.interval.low <= 0 <= offset.interval.high else 2


def in_degrees(name: str) -> str:
    """A heading with the reader's degrees: `Air, °C`."""
    return name.format(unit=unit())


def month_tick(when: datetime) -> str:
    """Mar, and the year beneath."""
    return f"{MONTHS[when.month - 1]}<br>{when.year}"


def hours_alt(found: Incubators) -> str:
    """The picture of the hours as sentences."""
    said = [
        f"{one.incubator}, {species_words(timing.species)}: {_span([hour.later for hour in timing.hours])}."
        for one in found.machines
        for timing in one.timings
        if timing.hours
    ]
    apart = [drift.sentence for one in found.machines for drift in one.drift if drift.what == "hours"]
    return "Hours of each batch beside the other machines. " + " ".join(
        [*(f"{text}." for text in said), *apart]
    )


def _span(hours: Sequence[float]) -> str:
    """12 batches, from −3 to +5 hours."""
    least, most = signed_words(min(hours), 0), signed_words(max(hours), 0)
    return f"{counted(len(hours), 'batch', 'batches')}, from {least} to {most} hours"


def row_title(one: MachineAnswer) -> str:
    """Slate, hours later (+) or earlier."""
    return f"{one.incubator}, hours later or earlier"


def batch_said(hour: BatchHour, timing: MachineTiming) -> list[str]:
    """What is said of a batch's mark."""
    way = "later" if hour.later > 0 else "earlier"
    stored = (
        f"stored {hour.storage_days:.1f} days" if hour.storage_days is not None else "storage not recorded"
    )
    return [
        f"{hour.batch}, {species_words(timing.species)}",
        f"set {day(hour.set_on.date())}, hatched in {hour.hatcher}",
        f"middle chick {hour.median:.0f} h after setting ({hour.low:.0f}–{hour.high:.0f}), {stored}",
        f"about {hours_words(hour.later)} {way} than expected",
    ]


def drift_label(drift: Drift) -> str:
    """What is written at shaded weeks."""
    return (
        f"{signed_words(drift.size, 0)} h"
        if drift.what == "hours"
        else f"{signed_words(apart(drift.size), 1)} {unit()}"
    )


def air_alt(one: MachineAnswer) -> str:
    """The picture of the air as sentences."""
    apart = [drift.sentence for drift in one.drift if drift.what == "temperature"]
    return " ".join([f"{one.incubator}, day by day.", *one.climate.sentences, *apart])


def display_alt(machines: Sequence[MachineAnswer]) -> str:
    """The picture of the checks as sentences."""
    return " ".join(one.display.sentence for one in machines)


def readings(one: MachineAnswer) -> list[tuple[Check, float]]:
    """Checks with both temperatures, and the display less the reference, °C."""
    return [
        (check, check.displayed_c - check.reference_c)
        for check in one.display.checks
        if check.displayed_c is not None and check.reference_c is not None
    ]


def check_said(check: Check, off: float) -> list[str]:
    """What is said of a check."""
    return [
        day(check.at.date()),
        f"display {heat(check.displayed_c or 0.0)}, reference {heat(check.reference_c or 0.0)}",
        f"{signed_words(apart(off), 1)} {unit()}",
    ]


def event_name(event: Notable) -> str:
    """power cut, 190 minutes."""
    name = {"power_cut": "power cut", "turner_stopped": "turner stopped", "moved": "moved"}[event.event]
    return f"{name}, {event.minutes:.0f} minutes" if event.minutes else name


def events_words(one: MachineAnswer) -> str:
    """Opened 14 times, power cuts 2 times."""
    times = one.climate.events.times
    parts = [f"{EVENT_NAMES[event]} {many}" for event, many in times.items()]
    return f"{one.incubator}: {listed(parts)}." if parts else f"{one.incubator}: nothing is written down."


def hours_row(one: MachineAnswer, timing: MachineTiming, offset: HatchOffset) -> tuple[str, ...]:
    """A row of the hours."""
    warmth = offset.warmth_interval
    return (
        one.incubator,
        species_words(timing.species),
        AGAINST[offset.against],
        str(offset.batches),
        signed_words(offset.hours, 1),
        hours_range(offset.interval.low, offset.interval.high, signed=True),
        signed_words(apart(offset.warmth_c), 1),
        celsius_range(warmth.low, warmth.high, signed=True),
    )


def air_row(one: MachineAnswer, phase: PhaseAir) -> tuple[str, ...]:
    """A row of the air."""
    limits = phase.hours.limits
    cells = (NOT_KNOWN if cell == "-" else cell for cell in phase_cells(phase))
    return (one.incubator, PHASES[limits.phase], bird_words(limits.species), *cells)


def water_row(one: MachineAnswer, water: MachineWater) -> tuple[str, ...]:
    """A row of the water loss."""
    found, target = water.found, water.target
    if found is None:
        return (one.incubator, species_words(water.species), *[NOT_KNOWN] * 5)
    interval = found.interval
    return (
        one.incubator,
        species_words(water.species),
        f"{100 * found.loss:.1f} %",
        f"{100 * interval.low:.1f}–{100 * interval.high:.1f} %" if interval else NOT_KNOWN,
        f"{found.days:.1f}",
        f"{100 * target.low:.1f}–{100 * target.high:.1f} %" if target else "none found",
        f"{found.trays} in {counted(found.batches, 'batch', 'batches')}",
    )


def rival_row(rival: Rival) -> tuple[str, ...]:
    """A row of what else it may be."""
    return rival.cause, SAYS[rival.says], rival.sentence, rival.next_check


def rivals_heading(name: str, drift: Drift | None) -> str:
    """Slate in the weeks apart, or Chalk on the whole."""
    if drift is None:
        return f"{name}, on the whole"
    return f"{name}, eggs set {day(drift.first_day)} to {day(drift.last_day)}"


def rivals_label(name: str, those: Sequence[Rival]) -> str:
    """Slate, on the whole: 5 other causes looked at; your records speak for long storage."""
    named = [one.cause for one in those if one.says == "for"]
    speak = f"your records speak for {listed(named) or 'none'}"
    return f"{name}: {counted(len(those), 'other cause')} looked at; {speak}"


def water_left_out(machines: Sequence[MachineAnswer]) -> str:
    """Weighed trays that could not be used, or ""."""
    parts = [
        f"{one.incubator} {sum(water.left_out.values())} ({listed(sorted(water.left_out))})"
        for one in machines
        for water in one.water
        if water.left_out
    ]
    return f"Weighed trays left out: {'; '.join(parts)}." if parts else ""


def sources(machines: Sequence[MachineAnswer]) -> tuple[str, ...]:
    """Where limits and targets are from."""
    ids = dict.fromkeys(
        [
            *(one for machine in machines for phase in machine.climate.phases for one in phase.sources_c),
            *(one for machine in machines for phase in machine.climate.phases for one in phase.sources_rh),
            *(
                one
                for machine in machines
                for water in machine.water
                for one in (water.target.source_ids if water.target else ())
            ),
        ]
    )
    table = source_table()
    return tuple(table[one].citation() for one in ids)


SOURCES_HEADING = "Where the limits are from"


def candidates_label(sign: Sign) -> str:
    """5 candidates, 2 more left out."""
    left = f", {sign.left} less likely left out" if sign.left else ""
    return f"{counted(len(sign.candidates), 'candidate')}{left}"
