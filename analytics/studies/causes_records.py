"""What the study of losses answers with: plain frozen records that pages, reports and JSON read.

Chicks lost are not whole numbers: eggs of unknown stage are shared out, and two causes may share a chick.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from analytics.attribution.ledger import ItemLine, LedgerLine, StepLine
from analytics.options import Selection
from analytics.studies.clear_records import Clears

ALL = "all"
"""The stripes of the whole way from setting to chick, beside those of the steps."""
HATCH = "hatch"
"""The only step where what became of unhatched eggs is not written down: set and did not hatch."""


@dataclass(frozen=True, slots=True)
class Mark:
    """How many chicks an egg is measured against.

    Attributes:
        rate: chicks per egg set and not cracked, 0..1.
        whose: "given", "own" (the sheet targets) or "rule" (a rule of thumb).
        source: where it comes from, in words.
    """

    rate: float
    whose: str
    source: str


@dataclass(frozen=True, slots=True)
class Scope:
    """Some trays of closed batches.

    Attributes:
        first_day: first day of hatch among them.
        last_day: last day.
        trays: trays.
        batches: different batches.
        pens: different pens.
        eggs: eggs set in them and not cracked.
        hatched: chicks out of these, kept or not.
        left_out: trays of the same selection that cannot enter: no hatch written down, or not what became
            of the rest.
        left_out_eggs: eggs set in those.
        cracked: eggs cracked before or at setting in the trays that enter; not among `eggs`.
    """

    first_day: date
    last_day: date
    trays: int
    batches: int
    pens: int
    eggs: float
    hatched: float
    left_out: int
    left_out_eggs: int
    cracked: float = 0.0


@dataclass(frozen=True, slots=True)
class CauseFinding:
    """A loss that stands out.

    Attributes:
        item: whose it is, the step, the chicks lost within what was asked for, the months if not always.
        q_value: share of false ones among the findings that are at least as sure.
        strength: clear, likely or hint.
        sentence: in words; a candidate, with what speaks against it where something does.
        check: what to look at next, "" where nothing is known to.
    """

    item: ItemLine
    q_value: float
    strength: str
    sentence: str
    check: str


@dataclass(frozen=True, slots=True)
class NotApart:
    """Causes that these records cannot tell apart.

    Attributes:
        factors: their names, such as ("pen", "incubator").
        levels: the labels meant.
        eggs: chicks lost by them together; None where it is not counted by itself.
        low: lower end of its 95 % interval, or None.
        high: upper end, or None.
        why: a sentence.
        next_step: the least that would tell them apart.
    """

    factors: tuple[str, ...]
    levels: tuple[str, ...]
    eggs: float | None
    low: float | None
    high: float | None
    why: str
    next_step: str


@dataclass(frozen=True, slots=True)
class StripeBatch:
    """A column of the stripes.

    Attributes:
        batch: label.
        machine: label of the machine it was set in; columns of one machine stand together.
        hatcher: the machine it hatched in (the same where it was not moved).
        set_on: day of setting; columns of a machine stand in this order.
        hatch_on: day of hatch.
    """

    batch: str
    machine: str
    hatcher: str
    set_on: date
    hatch_on: date


@dataclass(frozen=True, slots=True)
class StripeCell:
    """One pen's eggs in one batch, beside what a typical pen in a typical batch would have given.

    Attributes:
        pen: label.
        batch: label.
        eggs: eggs that entered.
        came: eggs that passed (chicks, where the stripes are of the whole way).
        expected: as many as would have passed of as many eggs, as long stored, of a typical pen in a typical
            machine, batch and month.
        residual: (came - expected) / the sd that chance and the trays' own noise alone would give it.
        few: whether these are too few eggs to look at by themselves.
        trays: labels of the trays behind it; with the batch each is a key of the sheet trays.
    """

    pen: str
    batch: str
    eggs: float
    came: float
    expected: float
    residual: float
    few: bool
    trays: tuple[str, ...]

    @property
    def difference(self) -> float:
        """Eggs more (or, negative, fewer) than expected."""
        return self.came - self.expected


@dataclass(frozen=True, slots=True)
class StripeMap:
    """Pens by batches: a stripe along a pen points to the flock, one down a batch or machine to that.

    Attributes:
        step: one of the steps, or "all" for chicks out of eggs set.
        pens: rows.
        batches: columns, by machine, then day of setting.
        cells: those with eggs, by row and column.
        expected_as: what a cell is held against, in words.
    """

    step: str
    pens: tuple[str, ...]
    batches: tuple[StripeBatch, ...]
    cells: tuple[StripeCell, ...]
    expected_as: str

    def cell(self, pen: str, batch: str) -> StripeCell | None:
        """The cell of a pen and a batch, or None without eggs."""
        return next((one for one in self.cells if (one.pen, one.batch) == (pen, batch)), None)


@dataclass(frozen=True, slots=True)
class CausesWords:
    """The answer in words.

    Attributes:
        sentence: the answer in one line.
        points: the parts that are surely losses with what stands out in them, and what cannot be told apart.
        groups: group -> a sentence on what it holds, in the order of the ledger.
        clears: what clear eggs leave open, "" where none are left.
        fitted: what the answer was learnt from, and what was cut.
        left_out: what has no part, and why, a sentence each.
        doubts: where the answer must be read with care, a sentence each.
        caution: the usual care with rotten eggs, "" where none came up.
    """

    sentence: str
    points: tuple[str, ...]
    groups: dict[str, str]
    clears: str
    fitted: str
    left_out: tuple[str, ...]
    doubts: tuple[str, ...]
    caution: str


@dataclass(frozen=True, slots=True)
class CausesAnswer:
    """Whose loss it is, for one species.

    Attributes:
        species: key.
        selection: the filters it was asked with.
        counted: the trays whose shortfall is counted.
        fitted: the trays from which the parts were learnt.
        mark: what the chicks are measured against.
        groups: flock, handling, incubator, season, shared, baseline and chance; they add up to the shortfall.
        causes: the first five of them together.
        steps: what entered each step and was lost in it; only "hatch" where no more is told.
        findings: those that stand out, the strongest first.
        cannot_separate: what cannot be told apart, and the least that would tell.
        stripes: of the whole way first, then of each step.
        words: the answer in words.
    """

    species: str
    selection: Selection
    counted: Scope
    fitted: Scope
    mark: Mark
    groups: tuple[LedgerLine, ...]
    causes: LedgerLine
    steps: tuple[StepLine, ...]
    findings: tuple[CauseFinding, ...]
    cannot_separate: tuple[NotApart, ...]
    stripes: tuple[StripeMap, ...]
    words: CausesWords

    @property
    def target_hatched(self) -> float:
        """Chicks wanted of the eggs counted."""
        return self.mark.rate * self.counted.eggs

    @property
    def shortfall(self) -> float:
        """Chicks short of the mark, as counted; negative = more than wanted."""
        return self.target_hatched - self.counted.hatched


@dataclass(frozen=True, slots=True)
class NoAnswer:
    """A species that has records but no answer.

    Attributes:
        species: key.
        why: in words.
    """

    species: str
    why: str


@dataclass(frozen=True, slots=True)
class Causes:
    """Whose loss it is, species by species.

    Attributes:
        selection: the filters it was asked with.
        answers: one a species, most eggs first; at least one.
        without: species of the selection that allow no answer.
        clears: what the clear eggs are likely to be.
    """

    selection: Selection
    answers: tuple[CausesAnswer, ...]
    without: tuple[NoAnswer, ...]
    clears: Clears


@dataclass(frozen=True, slots=True)
class TrayRow:
    """One tray behind a number, as it is written down.

    Attributes:
        batch: label.
        tray: label; with the batch the key of the sheet trays.
        pen: label.
        machine: where it was set.
        hatcher: where it hatched.
        set_on: day of setting.
        hatch_on: day of hatch.
        storage_days: None = not recorded.
        eggs_set: eggs set.
        hatched: chicks, kept or not; None = not written down.
        outcomes: word of the sheet -> eggs, those written down and not 0.
        left_out: why it is in no ledger, "" where it is.
    """

    batch: str
    tray: str
    pen: str
    machine: str
    hatcher: str
    set_on: date
    hatch_on: date
    storage_days: float | None
    eggs_set: int
    hatched: int | None
    outcomes: dict[str, int]
    left_out: str
