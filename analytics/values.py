"""Small values that every layer shares: a rate with its base, an interval, a period."""

from __future__ import annotations

import calendar
import re
import unicodedata
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from analytics.errors import WrongUsage


class Base(StrEnum):
    """What a rate is a share of; printed beside every percentage."""

    OF_SET = "of set"
    OF_LADDER = "of set less cracked"
    OF_FERTILE = "of fertile"
    OF_ENTERING = "of eggs entering the step"
    OF_HATCHED = "of hatched"


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed range with the confidence it claims.

    Attributes:
        low: lower end, same unit as the estimate.
        high: upper end.
        level: confidence level in 0..1; 1.0 for bounds that hold for certain.
        method: how it was made, in words for the reader.
    """

    low: float
    high: float
    level: float
    method: str


@dataclass(frozen=True, slots=True)
class Used:
    """Which records stand behind a number.

    Attributes:
        trays: trays that entered.
        batches: different batches among them.
        left_out: trays of the same selection whose needed counts are not recorded.
    """

    trays: int
    batches: int
    left_out: int


@dataclass(frozen=True, slots=True)
class Rate:
    """A share of eggs, with its base and everything that makes it uncertain.

    Attributes:
        measure: one of the fixed measure words.
        base: what it is a share of.
        count: eggs in the numerator; not whole where eggs of unknown stage are shared out, None with `value`.
        eggs: eggs in the denominator, likewise.
        eggs_set: eggs set in the trays used.
        clear: clear eggs among them that were not told apart.
        value: the rate in 0..1, or None (then `why` says why).
        interval: the interval to show: allows for trays and batches, and includes `possible`.
        possible: what unopened and clear eggs leave open (equal ends where nothing is open).
        independent: Wilson interval as if every egg were independent, or None.
        used: the records behind it.
        why: why there is no value, or what the reader must know; "" otherwise.
    """

    measure: str
    base: Base
    count: float | None
    eggs: float | None
    eggs_set: int
    clear: int
    value: float | None
    interval: Interval | None
    possible: Interval | None
    independent: Interval | None
    used: Used
    why: str


@dataclass(frozen=True, slots=True)
class Period:
    """A stretch of days, both ends included; None = open on that side."""

    start: date | None
    end: date | None

    def __post_init__(self) -> None:
        if self.start and self.end and self.end < self.start:
            raise WrongUsage(
                f"The period {self.start} to {self.end}",
                "A period ends on or after its first day",
                "Swap the two dates",
            )

    def contains(self, day: date) -> bool:
        """Whether the day lies within, ends included."""
        return (self.start is None or self.start <= day) and (self.end is None or day <= self.end)


@dataclass(frozen=True, slots=True, order=True)
class Month:
    """A calendar month."""

    year: int
    month: int

    @classmethod
    def parse(cls, text: str) -> Month:
        """Reads `YYYY-MM`; raises WrongUsage otherwise."""
        try:
            first = date.fromisoformat(f"{text.strip()}-01")
        except ValueError:
            raise WrongUsage(
                f"The month {text!r}", "A month is written YYYY-MM", "Write it like 2026-03"
            ) from None
        return cls(first.year, first.month)

    def period(self) -> Period:
        """The days of the month."""
        return Period(
            date(self.year, self.month, 1),
            date(self.year, self.month, calendar.monthrange(self.year, self.month)[1]),
        )

    def back(self, months: int) -> Month:
        """The month that many months earlier (negative: later)."""
        index = self.year * 12 + self.month - 1 - months
        return Month(index // 12, index % 12 + 1)

    def __str__(self) -> str:
        return f"{self.year:04d}-{self.month:02d}"


def label_order(label: str) -> tuple[tuple[tuple[int, str], ...], str]:
    """What labels are sorted by: capitals and accents alike, numbers by their size (Pen 2 before Pen 10)."""
    letters = unicodedata.normalize("NFKD", label)
    plain = "".join(letter for letter in letters if not unicodedata.combining(letter))
    parts = re.split(r"(\d+)", plain.casefold())
    return tuple((int(part) if place % 2 else 0, part) for place, part in enumerate(parts)), label
