"""What the watch of pens and machines answers with: signals, and what else could have been seen."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.monitoring.records import Kind
from analytics.values import Month


@dataclass(frozen=True, slots=True)
class Point:
    """One month of a chart.

    Attributes:
        month: the month.
        eggs: eggs that entered the step.
        rate: share in the measure's own sense (of a loss: eggs lost); None without eggs.
        expected: rate expected from the baseline of that month's review; None where there was none.
        low: lower limit of the month alone.
        high: upper limit.
        out: whether that month's review had it as a signal, new or known.
    """

    month: Month
    eggs: float
    rate: float | None
    expected: float | None
    low: float | None
    high: float | None
    out: bool


@dataclass(frozen=True, slots=True)
class Signal:
    """A pen, a machine or the flock outside its limits in one step.

    Attributes:
        kind: flock, machine or pen.
        label: of the pen or machine; "" for the flock.
        species: key.
        measure: word of the step: fertility, a loss, or a hatch.
        known: whether it was a signal in a month before, and still is.
        since: month in whose review it was first a signal.
        worse: whether it is the worse side.
        chart: "month" where the month alone lies beyond its limits, "average" where it does together with the
            month before, "run" where a known one goes on inside them.
        points: the month and up to twelve before, oldest first.
        sentence: in words.
    """

    kind: Kind
    label: str
    species: str
    measure: str
    known: bool
    since: Month
    worse: bool
    chart: str
    points: tuple[Point, ...]
    sentence: str

    @property
    def now(self) -> Point:
        """The month reviewed."""
        return self.points[-1]


@dataclass(frozen=True, slots=True)
class Watched:
    """What was looked at in one step of one unit, and what would have shown.

    Attributes:
        kind: flock, machine or pen.
        label: of the pen or machine.
        species: key.
        measure: word of the step.
        eggs: eggs that entered in the month.
        expected: rate expected.
        smallest: smallest worsening, in shares, that two such months would show in nine of ten cases; None
            where not even the worst possible would.
        own_months: months of its own in the baseline; with none the flock's level stands for it.
        possible: whether a signal was possible: eggs enough, and a baseline.
    """

    kind: Kind
    label: str
    species: str
    measure: str
    eggs: float
    expected: float
    smallest: float | None
    own_months: int
    possible: bool


@dataclass(frozen=True, slots=True)
class TenPoints:
    """How many eggs a pen must set for a fall of ten points in its first step to show.

    Attributes:
        species: key.
        measure: word of the step.
        likeness: correlation of two eggs of one tray in these records.
        eggs: eggs a month that show it within two months in nine of ten; None where none asked about do.
        fewest: fewest eggs that a pen set this month.
        most: most eggs.
    """

    species: str
    measure: str
    likeness: float
    eggs: float | None
    fewest: float
    most: float


@dataclass(frozen=True, slots=True)
class MonthSignals:
    """The watch over one month.

    Attributes:
        month: the month.
        signals: new ones first, then known ones.
        watched: everything with eggs in the month, in the selection.
        charts: how many charts could signal, the whole farm's.
        base_from: first month of the baseline; None where there is none.
        base_to: last month of it.
        lines: the answer in sentences, the first one the shortest.
        how: how it was worked out, sentence by sentence.
        ten_points: what a fall of ten points would need, one a species that is watched.
    """

    month: Month
    signals: tuple[Signal, ...]
    watched: tuple[Watched, ...]
    charts: int
    base_from: Month | None
    base_to: Month | None
    lines: tuple[str, ...]
    how: tuple[str, ...]
    ten_points: tuple[TenPoints, ...] = ()
