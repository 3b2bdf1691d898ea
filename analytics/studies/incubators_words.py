"""The machines in words: early or late, from when to when, and what that may mean in °C."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from analytics.incubation.hour_shifts import HourShift
from analytics.measures.hatch_timing import HatchOffset
from analytics.studies.incubators_records import Drift, MachineTiming, Rival
from analytics.studies.temperatures import apart, heat_apart
from analytics.studies.wording import counted, listed, minus, month_name, species_words
from analytics.values import Month

BORROWED = (
    "What hours mean in degrees is measured on chicken eggs, by eggshell temperature in weeks 2 and 3, and "
    "borrowed for other birds in proportion to their days; that is why its range is wide. Eggshell is not "
    "air: the two are never put into one number here."
)
PERHAPS = (
    "Common practice, no source: Coturnix begin about day 17–18; a start on day 15 points to running warm, "
    "the bulk on days 20–22 to running cool; 0.3–0.6 °C (0.5–1.1 °F) off for the whole term "
    "already costs chicks."
)
DAY_NOUGHT = (
    "Hours run from the hour of setting, which is day 0. Until transfer eggs count to the setter, after it "
    "to the hatcher; the hours of a hatch count to the setter, in which most of the term is spent."
)
TWO_MACHINES = "With two machines the hours say only that they differ, not which of the two is off."
BY_CHANCE = 5
"""Machines in 100 that stand apart on the whole by chance: what a 95 % interval leaves out."""
_ONE = 1.5
_SHORT = {
    "stored long": "long storage",
    "stored shorter": "shorter storage",
    "large eggs, or eggs of old hens": "large eggs and old hens",
    "cold eggs when set, or a machine slow to warm up": "eggs set cold",
    "high ground, thin air": "high ground",
}
"""Cause -> what it is called within a sentence."""
_NAMED = 3


def hours_words(hours: float) -> str:
    """`11 hours`, `an hour`, `less than an hour`; without a sign."""
    size = abs(hours)
    if size < 0.5:
        return "less than an hour"
    return "an hour" if size < _ONE else f"{size:.0f} hours"


def hours_range(low: float, high: float, *, signed: bool = False) -> str:
    """`6 to 15`; `−15 to −6` where signed or where nothing lies between them."""
    return _range(low, high, 0, signed)


def celsius_range(low: float, high: float, *, signed: bool = False) -> str:
    """`0.4 to 1.4` degrees apart; `−0.1 to +0.3` where signed or where nothing lies between them."""
    return _range(apart(low), apart(high), 1, signed)


def _range(low: float, high: float, decimals: int, signed: bool) -> str:
    if signed or low < 0 < high:
        return f"{signed_words(low, decimals)} to {signed_words(high, decimals)}"
    ends = sorted((abs(low), abs(high)))
    return f"{ends[0]:.{decimals}f} to {ends[1]:.{decimals}f}"


def signed_words(number: float, decimals: int) -> str:
    """`+5`, `−0.4`, and 0 without a sign."""
    written = f"{number:+.{decimals}f}"
    return minus(written if float(written) else written[1:])


def warmth_words(offset: HatchOffset) -> str:
    """`about 0.8 °C warm, 0.4 to 1.4`."""
    way = "warm" if offset.warmth_c > 0 else "cool"
    interval = offset.warmth_interval
    return f"about {heat_apart(abs(offset.warmth_c))} {way}, {celsius_range(interval.low, interval.high)}"


def span_words(first_day: date, last_day: date) -> str:
    """`in March 2026`, `from February to March 2026`, `from December 2025 to March 2026`."""
    first, last = Month(first_day.year, first_day.month), Month(last_day.year, last_day.month)
    if first == last:
        return f"in {month_name(last)}"
    start = month_name(first)
    return f"from {start.split()[0] if first.year == last.year else start} to {month_name(last)}"


def hours_drift_words(
    machine: str, first_day: date, last_day: date, shift: HourShift, species: str, others: Sequence[str]
) -> str:
    """Slate hatched about 11 hours early for eggs set from February to March 2026 ..."""
    offset = shift.offset
    way = "early" if offset.hours < 0 else "late"
    said = (
        f"{machine} hatched about {hours_words(offset.hours)} {way} "
        f"({hours_range(offset.interval.low, offset.interval.high)}) with {species_words(species)} eggs set "
        f"{span_words(first_day, last_day)}"
    )
    if shift.verdict == "all_machines":
        return (
            f"{said}. Your other machines did so too, so it is something they share: the eggs, their "
            "storage, the room or the clock."
        )
    speaks = f"that speaks for running {warmth_words(offset)}"
    if shift.verdict == "machine":
        return f"{said}; {speaks}; your other {'machine' if len(others) == 1 else 'machines'} did not."
    if shift.others is None:
        return f"{said}. No other machine hatched then; if it was the machine and not the season, {speaks}."
    return f"{said}. Whether your other machines did so too, too few hatched to say; if not, {speaks}."


def hours_of_air(sentence: str, offset: HatchOffset) -> str:
    """What the logger says, and when the batches of those weeks hatched."""
    low, high = offset.interval.low, offset.interval.high
    way = "early" if offset.hours < 0 else "late"
    batches = "The batch" if offset.batches == 1 else f"The {offset.batches} batches"
    said = f"{sentence} {batches} counted from those weeks hatched about {hours_words(offset.hours)} {way}"
    if low <= 0 <= high:
        return f"{said} ({hours_range(low, high)} hours), which by itself would tell nothing."
    return f"{said} ({hours_range(low, high)} hours); that speaks for running {warmth_words(offset)}."


def timing_words(machine: str, timing: MachineTiming, drifts: Sequence[Drift], others: Sequence[str]) -> str:
    """How a machine hatches on the whole.

    Args:
        machine: label.
        timing: its hours.
        drifts: weeks told before, if any.
        others: the other machines that are counted.
    """
    offset = timing.steady or timing.own or timing.published
    if offset is None:
        return f"{machine}: {timing.why}"
    whole = "Otherwise it" if any(one.what == "hours" for one in drifts) else machine
    than, left_out = _than(timing, others)
    way = "later" if offset.hours > 0 else "earlier"
    low, high = offset.interval.low, offset.interval.high
    if low <= 0 <= high:
        reach = f"{hours_range(low, high)} hours"
        return f"{whole} hatches with {than}, as far as can be told ({reach}).{left_out}"
    return (
        f"{whole} hatches about {hours_words(offset.hours)} {way} than {than} "
        f"({hours_range(low, high)} hours).{left_out} {_which(timing, others)}{_first(timing.rivals)}"
        f"If it is temperature, that speaks for running {warmth_words(offset)}."
    )


def _which(timing: MachineTiming, others: Sequence[str]) -> str:
    alone = timing.own is not None and len(others) == 1
    return "Which of the two is off, hours alone do not say. " if alone else ""


def _than(timing: MachineTiming, others: Sequence[str]) -> tuple[str, str]:
    """What a machine is held against, and who is left out of it."""
    if timing.own is None:
        return "published hours", f" {timing.why}"
    held = [name for name in others if name not in timing.left_out]
    if not timing.left_out:
        return f"your other {'machine' if len(held) == 1 else 'machines'}", ""
    named = listed(held) if len(held) <= _NAMED else "your other machines"
    return named, f" {listed(timing.left_out)}, farther off itself, is left out of that."


def _first(rivals: Sequence[Rival]) -> str:
    """What is to be ruled out before temperature is named."""
    supported = [_SHORT.get(one.cause, one.cause) for one in rivals if one.says == "for"]
    unknown = [_SHORT.get(one.cause, one.cause) for one in rivals if one.says == "not_recorded"]
    said = ""
    if supported:
        said += f"The records speak for another cause too: {listed(supported)}. "
    if unknown:
        said += f"Your records cannot rule out {either(unknown)}. "
    return said


def looked_at(series: int) -> str:
    """How many machines and birds were looked at, and how often chance alone makes one of them stand apart.

    The share that is given months is that of `tests/simulation/drift_months.py`, a machine each.
    """
    each = (
        "One that is like the others stands apart on the whole by chance in 5 of 100, and one that keeps its "
        "level is given months of its own in 1 to 3 of 100, in 7 where a batch is like the one before it"
    )
    if series < 2:
        return f"{each}."
    return (
        f"Hours of {series} machines and birds were looked at. {each}. That is for each; that one of yours "
        f"stands apart by chance is likelier, up to {min(100, BY_CHANCE * series)} in 100."
    )


def either(causes: Sequence[str]) -> str:
    """`a`, `a or b`, `a, b or c`."""
    return " or ".join(part for part in (", ".join(causes[:-1]), causes[-1]) if part)


def not_used_words(machine: str, timings: Sequence[MachineTiming]) -> str:
    """Which batches could not be read, or ""."""
    left: Counter[str] = Counter()
    for timing in timings:
        left.update(timing.not_used)
    if not left:
        return ""
    parts = [f"{number} with {why}" for why, number in sorted(left.items())]
    total = counted(sum(left.values()), "batch", "batches")
    parts = list(left) if len(left) == 1 else parts
    return f"{machine}: the hours of {total} could not be read: {listed(parts)}."


def no_batch(machine: str, hatched: int) -> str:
    """A machine in which nothing was set."""
    if hatched:
        return f"{machine} was only hatched in, so its hours are those of the machines the eggs were set in."
    return f"{machine}: no batch of this selection was set in it."
