"""What the monthly study answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING

from analytics.options import Selection
from analytics.studies.clear_records import SpeciesClears
from analytics.studies.signal_records import MonthSignals
from analytics.values import Month, Rate

if TYPE_CHECKING:
    from analytics.studies.breeders_records import Breeders
    from analytics.studies.causes_records import Causes
    from analytics.studies.changes_records import ChangesAnswer
    from analytics.studies.outlook import Outlook

Rates = dict[str, Rate]
"""Measure word -> rate, in the order of the ladder."""


@dataclass(frozen=True, slots=True)
class PenMonth:
    """One pen in one month.

    Attributes:
        pen: label.
        eggs_set: eggs set in closed batches of the month.
        chicks: hatched and culled chicks.
        rates: the pen's rates of the month.
        before: the pen's rates over the twelve months before, taken together; empty when it had none.
        against: the pen's rates in the month asked to be set beside; empty without one.
    """

    pen: str
    eggs_set: int
    chicks: int
    rates: Rates
    before: Rates
    against: Rates = field(default_factory=dict)

    @property
    def eggs_without_hatch(self) -> int:
        """Eggs of `eggs_set` in trays without a hatch count: they are in no rate."""
        return self.eggs_set - self.rates["hatch_of_set"].eggs_set


@dataclass(frozen=True, slots=True)
class SpeciesMonth:
    """One species in one month.

    Attributes:
        species: key.
        eggs_set: eggs set in closed batches of the month.
        chicks: hatched and culled chicks.
        batches: closed batches of the month with this species.
        rates: rates of the month, all pens.
        months_before: the twelve months before, oldest first; a month without eggs has empty rates.
        pens: by label.
        targets: measure word -> the breeder's own aim.
        before: the twelve months before taken together; empty when they had no eggs.
        against: rates of the month asked to be set beside; empty without one or without eggs.
        clears: what the month's clear eggs are likely to be; None where none was left clear.
    """

    species: str
    eggs_set: int
    chicks: int
    batches: int
    rates: Rates
    months_before: tuple[tuple[Month, Rates], ...]
    pens: tuple[PenMonth, ...]
    targets: dict[str, float]
    before: Rates
    against: Rates = field(default_factory=dict)
    clears: SpeciesClears | None = None

    @property
    def year_ago(self) -> Rates:
        """Rates of the same month last year; empty where it has none."""
        return self.months_before[0][1] if self.months_before else {}

    @property
    def months_with_hatch(self) -> int:
        """How many of the twelve months before have a hatch."""
        hatches = [rates["hatch_of_set"] for _, rates in self.months_before if rates]
        return sum(hatch.value is not None for hatch in hatches)

    @property
    def eggs_without_hatch(self) -> int:
        """Eggs of `eggs_set` in trays without a hatch count: they are in no rate."""
        return self.eggs_set - self.rates["hatch_of_set"].eggs_set if self.rates else 0


@dataclass(frozen=True, slots=True)
class OpenBatch:
    """A batch still in the machine, in no rate.

    Attributes:
        batch: label.
        incubator: where it was set.
        species: keys of the species in it.
        eggs_set: eggs in it.
        set_on: day of setting.
        due_from: first day a hatch is expected, or None where the species' period is not known.
        due_to: last such day.
        overdue_days: days past `due_to` on the day asked about; 0 = not overdue.
    """

    batch: str
    incubator: str
    species: tuple[str, ...]
    eggs_set: int
    set_on: date
    due_from: date | None
    due_to: date | None
    overdue_days: int


@dataclass(frozen=True, slots=True)
class DataGap:
    """Something missing in the records that would have said more.

    Attributes:
        what: a sentence.
        where: labels of the batches, trays or pens meant, at most ten.
        how_many: how many there are.
        repair: what to write down, and where.
    """

    what: str
    where: tuple[str, ...]
    how_many: int
    repair: str


@dataclass(frozen=True, slots=True)
class MonthLosses:
    """Whose loss a month's was.

    Attributes:
        causes: whose loss the month's was, judged by all records up to its end; None where it is not told.
        why: why it cannot, "" where it can.
    """

    causes: Causes | None
    why: str


@dataclass(frozen=True, slots=True)
class Attention:
    """Something of a month that needs attention.

    Attributes:
        what: a sentence.
        evidence: what speaks for it, in a few words.
        next_step: what to look at or do, "" where nothing is known to.
        source: "losses", "signals" or "machines": the question that found it.
        who: pen, machine and so on that it is about, as within a sentence.
        strength: of a finding: clear, likely or hint; else "".
    """

    what: str
    evidence: str
    next_step: str
    source: str
    who: str
    strength: str = ""


@dataclass(frozen=True, slots=True)
class MonthRest:
    """What the other questions say of a month.

    Attributes:
        changes: whether the changes of the month and the twelve before it worked, by hatches up to its end;
            None where that is not told.
        changes_why: why it is not, "" where it is.
        breeders: which pens to keep, by hatches up to its end; None where that is not told.
        breeders_why: why it is not, "" where it is.
        outlook: chicks to expect and birds present, on the day of the review.
    """

    changes: ChangesAnswer | None
    changes_why: str
    breeders: Breeders | None
    breeders_why: str
    outlook: Outlook


@dataclass(frozen=True, slots=True)
class MonthReview:
    """How the month went.

    Attributes:
        month: the month asked about.
        selection: the filters it was asked with.
        headline: the answer in a few sentences.
        species: one entry per species with eggs this month or in the twelve before, most eggs first.
        open_batches: batches still in the machine on the day asked about.
        data_gaps: what is missing in the month's records.
        months: all months that have closed batches, oldest first.
        as_of: the day asked about (for overdue batches).
        against: a month asked to be set beside, or None.
        losses: whose loss it was; None where that was not asked.
        signals: pens and machines outside their limits; None where that was not asked.
        rest: changes, breeders and what is ahead; None where that was not asked.
    """

    month: Month
    selection: Selection
    headline: tuple[str, ...]
    species: tuple[SpeciesMonth, ...]
    open_batches: tuple[OpenBatch, ...]
    data_gaps: tuple[DataGap, ...]
    months: tuple[Month, ...]
    as_of: date
    against: Month | None = None
    losses: MonthLosses | None = None
    signals: MonthSignals | None = None
    rest: MonthRest | None = None

    def beside(self, one: SpeciesMonth | PenMonth) -> Rates:
        """What the rates are set beside: the month asked for, else the twelve months before."""
        return one.against if self.against else one.before
