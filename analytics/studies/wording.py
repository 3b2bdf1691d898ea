"""Numbers in words for a breeder: a rate never without what it is a share of."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from analytics.measures.ladder import MOSTLY_ASSUMED
from analytics.options import Selection
from analytics.reference.species import species_table
from analytics.studies.reading import reading
from analytics.studies.records import OpenBatch, Rates
from analytics.values import Interval, Month, Rate

MEASURE_NAMES: dict[str, str] = {
    "fertility": "Fertility",
    "hatch_of_set": "Hatch of set",
    "saleable_of_set": "Kept chicks of set",
    "cull_rate": "Chicks not kept",
    "hatch_of_fertile": "Hatch of fertile",
    "early_loss": "Early loss",
    "mid_loss": "Middle loss",
    "late_loss": "Late loss",
    "shell_loss": "Lost in the shell",
    "rotten": "Rotten",
}
"""Measure word -> the name on paper, in the order of the ladder."""
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
STRENGTHS: dict[str, str] = {"clear": "strong evidence", "likely": "likely", "hint": "a hint"}
"""How sure a finding is -> its name for a reader, to whom an egg is clear."""
_PROPER = ("Coturnix", "Chinese", "Muscovy")
_SMALL, _NEARLY_ALL = 0.0995, 0.995
CLUSTERING_ASSUMED = (
    "How alike the eggs of a tray and of a batch are is mostly assumed for the ranges: "
    "the store is still small."
)


def month_name(month: Month) -> str:
    """`March 2026`."""
    return f"{_MONTHS[month.month - 1]} {month.year}"


def long_day(day: date) -> str:
    """`31 October 2026`."""
    return _day(day, _MONTHS[day.month - 1])


def short_day(day: date) -> str:
    """`31 Oct 2026`, for tables."""
    return _day(day, _MONTHS[day.month - 1][:3])


def _day(day: date, month: str) -> str:
    """A day as the reader wants it: the day, the month or the year first."""
    if reading().days == "iso":
        return day.isoformat()
    return f"{month} {day.day}, {day.year}" if reading().days == "month" else f"{day.day} {month} {day.year}"


def day_range(first: date, last: date) -> str:
    """`14 Mar 2026`, `6 to 9 Mar 2026`, `30 Mar to 2 Apr 2026`."""
    if first == last:
        return short_day(first)
    if reading().days == "iso" or first.year != last.year:
        return f"{short_day(first)} to {short_day(last)}"
    start, end = (f"{_MONTHS[day.month - 1][:3]}" for day in (first, last))
    if reading().days == "month":
        return f"{start} {first.day} to {'' if start == end else f'{end} '}{last.day}, {last.year}"
    return f"{first.day}{'' if start == end else f' {start}'} to {short_day(last)}"


def long_day_range(first: date, last: date) -> str:
    """`1 February to 31 March 2026`."""
    start = long_day(first)
    if first.year == last.year and reading().days != "iso":
        start = start.removesuffix(f" {first.year}").removesuffix(",")
    return f"{start} to {long_day(last)}"


def short_month(month: Month) -> str:
    """`Mar`."""
    return _MONTHS[month.month - 1][:3]


def species_words(key: str) -> str:
    """The species as it stands within a sentence; the key itself where it is not known."""
    known = species_table()
    name = known[key].name if key in known else key.replace("_", " ")
    return name if name.startswith(_PROPER) else name[:1].lower() + name[1:]


def species_title(key: str) -> str:
    """The species at the head of a sentence: `Chukar`."""
    name = species_words(key)
    return f"{name[:1].upper()}{name[1:]}"


def due_words(batch: OpenBatch) -> str:
    """When a batch is due, or how long it is past that."""
    if batch.due_from is None or batch.due_to is None:
        return "not known"
    if batch.overdue_days:
        return f"{counted(batch.overdue_days, 'day')} past {short_day(batch.due_to)}"
    return day_range(batch.due_from, batch.due_to)


def selection_words(selection: Selection) -> str:
    """What alone a question is about, in short sentences; "" for everything."""
    first, last = selection.period.start, selection.period.end
    said = [
        f"Only {kind}{listed(labels)}."
        for kind, labels in (
            ("", [species_words(key) for key in selection.species]),
            ("pens " if len(selection.pens) > 1 else "pen ", selection.pens),
            ("machines " if len(selection.incubators) > 1 else "machine ", selection.incubators),
        )
        if labels
    ]
    said += [f"Hatches from {long_day(first)}."] if first else []
    said += [f"Hatches up to {long_day(last)}."] if last else []
    return " ".join(said)


def assumed_words(rates: Rates) -> str:
    """A sentence where the ranges rest mostly on an assumed clustering; "" where the store tells it."""
    shown = [rate.interval for rate in rates.values() if rate.interval]
    return CLUSTERING_ASSUMED if any(MOSTLY_ASSUMED in interval.method for interval in shown) else ""


def whole(number: float) -> str:
    """`1,204`, `−11`."""
    return minus(f"{round(number):,}")


def minus(number: str) -> str:
    """The same with a minus for the hyphen that stands for one."""
    return number.replace("-", "−")


def counted(number: int, one: str, more: str = "") -> str:
    """`1 egg`, `1,204 eggs`, `−11 chicks`."""
    return f"{whole(number)} {one if number == 1 else more or one + 's'}"


def listed(labels: Sequence[str]) -> str:
    """`A, B and C`."""
    return " and ".join(part for part in (", ".join(labels[:-1]), labels[-1]) if part) if labels else ""


def percent(share: float) -> str:
    """A share as % without the sign, never a false 0 or 100; a decimal under 10 and just under 100.

    Halves go up, as the share is written in decimals and not as the computer holds it: 0.575 is 58.
    """
    if share in (0, 1):
        return f"{share * 100:.0f}"
    if share < 0.0005:
        return "<0.1"
    if share >= 0.9995:
        return ">99.9"
    step = "0.1" if share < _SMALL or share >= _NEARLY_ALL else "1"
    return str((Decimal(repr(float(share))) * 100).quantize(Decimal(step), ROUND_HALF_UP))


def percent_range(interval: Interval) -> str:
    """`68–78 %`."""
    return f"{percent(interval.low)}–{percent(interval.high)} %"


def base_words(rate: Rate) -> str:
    """What a rate is a share of, with how many: `of 281 hatched`; the eggs set where that is not known."""
    if rate.eggs is None:
        return f"{rate.base}, {rate.eggs_set:,} set"
    return f"of {rate.eggs:,.0f} {rate.base.removeprefix('of ')}"


def rate_words(rate: Rate) -> str:
    """`73 % of set (68–78 %)`; without a value what the eggs not told apart allow; else `not known`."""
    if rate.value is None and rate.interval and rate.possible:
        return f"{percent_range(rate.possible)} {rate.base} ({percent_range(rate.interval)} with chance)"
    if rate.value is None:
        return "not known"
    within = f" ({percent_range(rate.interval)})" if rate.interval else ""
    return f"{percent(rate.value)} % {rate.base}{within}"
