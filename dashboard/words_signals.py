"""Words of the section on signals."""

from __future__ import annotations

from analytics.studies.signal_records import MonthSignals, Point, Signal
from analytics.studies.signal_words import BASES
from analytics.studies.signal_words import unit_words as unit
from analytics.studies.wording import month_name, percent
from dashboard import words

HEADING = "Out of the usual"
SEEN_FOLDED = "What could have been seen"
COL_UNIT = "Watched"
COL_EGGS = "Eggs"
COL_USUAL = "Usual"
COL_LIMITS = "Limits"
HOW = "How this was worked out"
KEY = (
    "Band: where chance keeps a month, with trays that fail together. Dashes: what is usual."
    " Diamond: a signal in the review of that month. No band: too few eggs, or no months before."
)


def title(one: Signal) -> str:
    """`Pen Hazel, fertility: known since July 2026`."""
    said = f"known since {month_name(one.since)}" if one.known else "new"
    return f"{unit(one.kind, one.label, one.species)}, {words.measure_name(one.measure).lower()}: {said}"


def axis(one: Signal) -> str:
    """What the upright axis is a share of."""
    return f"{words.measure_name(one.measure)}, {BASES[one.measure]}"


def point_name(point: Point) -> str:
    """Which month, and whether it was outside."""
    return month_name(point.month) + (", a signal" if point.out else "")


def point_line(point: Point) -> str:
    """A month's numbers for who points at it."""
    said = f"{words.percent(point.rate)} of {words.count(point.eggs)}"
    if point.expected is None:
        return f"{said}; no limits yet"
    return f"{said}; usual {words.percent(point.expected)}, limits {limits(point)}"


def limits(point: Point) -> str:
    """`76–96 %`, or a dash."""
    if point.low is None or point.high is None:
        return words.NOT_KNOWN
    return f"{percent(point.low)}–{percent(point.high)} %"


def alt(one: Signal) -> str:
    """The chart in a sentence."""
    points = [point for point in one.points if point.rate is not None]
    outside = [month_name(point.month) for point in points if point.out]
    return (
        f"{title(one)}. {len(points)} months up to {month_name(one.now.month)}; outside the limits:"
        f" {', '.join(outside)}. This month {point_line(one.now)}."
    )


def lines(told: MonthSignals) -> tuple[str, ...]:
    """The answer without the sentences that stand above their charts."""
    own = {one.sentence for one in told.signals}
    return tuple(line for line in told.lines if line not in own)
