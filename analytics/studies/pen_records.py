"""What the study of pen against pen answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.options import Selection
from analytics.values import Rate

By = Literal["pen", "line"]


@dataclass(frozen=True, slots=True)
class Shrunk:
    """The best guess of a true rate, nearer to what the pens have in common the fewer the eggs.

    Attributes:
        rate: 0..1; the middle where clear eggs leave two ends.
        low: lower end of its interval at the lower end of what is open.
        high: upper end at the upper end.
    """

    rate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class PenRow:
    """One pen, or one line.

    Attributes:
        pen: label.
        species: key.
        rate: its raw rate with everything that makes it uncertain.
        eggs: eggs in the denominator, with clear eggs as infertile where that matters; None without any.
        shrunk: None where the species has one pen only, or nothing was recorded.
        compared: whether it can be compared with another pen of its species.
        why: why not, or what stands in the way of a rate; "" otherwise.
    """

    pen: str
    species: str
    rate: Rate
    eggs: float | None
    shrunk: Shrunk | None
    compared: bool
    why: str


@dataclass(frozen=True, slots=True)
class PenPair:
    """Two pens with batch, machine and storage held equal.

    Attributes:
        pen_a: label.
        pen_b: label.
        difference: rate of a less rate of b, in shares; None where they cannot be compared.
        low: lower end of the 95 % interval; covers what clear eggs leave open.
        high: upper end.
        p_value: two-sided; the larger one where clear eggs leave two ends.
        q_value: Benjamini and Hochberg's, over all pairs.
        why: why there is no difference; "" otherwise.
    """

    pen_a: str
    pen_b: str
    difference: float | None
    low: float | None
    high: float | None
    p_value: float | None
    q_value: float | None
    why: str


@dataclass(frozen=True, slots=True)
class PenTests:
    """The three tests side by side, at the less clear end of what clear eggs leave open.

    Attributes:
        independent: chi-square as if every egg were independent; shown, never decided by.
        clustered: the one that decides.
        stratified: within batches, eggs of a tray taken as independent.
    """

    independent: HypothesisTest
    clustered: HypothesisTest
    stratified: HypothesisTest

    @property
    def any_made(self) -> bool:
        """Whether one of them has a p-value."""
        made = (self.independent, self.clustered, self.stratified)
        return any(test.p_value is not None for test in made)


@dataclass(frozen=True, slots=True)
class EggsWorth:
    """How much the eggs tell.

    Attributes:
        icc: correlation of two eggs of one tray.
        deff: eggs over effective eggs.
        eggs: eggs in the denominators.
        worth: as many independent eggs would tell as much.
        sentence: the same in words.
    """

    icc: float
    deff: float
    eggs: float
    worth: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Finding:
    """A pen that stands out.

    Attributes:
        pen: label.
        below: whether its rate is below the others'.
        rate: lowest and highest raw rate that clear eggs leave open.
        others: the same of the pens it was held against, together.
        difference: adjusted distance from the mean of the others, in shares.
        low: lower end of its 95 % interval.
        high: upper end.
        p_value: Holm's.
        sentence: in words.
    """

    pen: str
    below: bool
    rate: tuple[float, float]
    others: tuple[float, float]
    difference: float
    low: float
    high: float
    p_value: float
    sentence: str


@dataclass(frozen=True, slots=True)
class PairAnswer:
    """The answer about two pens.

    Attributes:
        pair: the adjusted difference.
        shared_batches: labels of the batches in which both had eggs.
        more_eggs: eggs of each pen still needed for 80 % power; 0 when decided, None when it cannot be said.
        decided: whether the two differ beyond doubt among all pairs (q below .05).
        sentence: in words.
    """

    pair: PenPair
    shared_batches: tuple[str, ...]
    more_eggs: int | None
    decided: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class PenWords:
    """The answer in words.

    Attributes:
        sentence: the answer.
        scope: from when to when the trays hatched, and how many there are.
        decides: name of the test that decides, "clustered", or "" where none could be made.
        remedy: what would allow a comparison where there is none; "" otherwise.
        why: what the answer rests on: clear eggs, storage, pens apart.
    """

    sentence: str
    scope: str
    decides: str
    remedy: str
    why: str


@dataclass(frozen=True, slots=True)
class PensAnswer:
    """Pen against pen, or line against line.

    Attributes:
        measure: one of the fixed measure words.
        by: "pen" or "line".
        selection: the filters it was asked with.
        first_day: first day of hatch of the trays that were used.
        last_day: the last one.
        rows: by species and label.
        tests: the three tests.
        clustering: how much the eggs tell.
        pairs: all pairs of one species.
        findings: those that stand out, the surest first.
        pair: the answer about two pens where asked for.
        words: the answer in words.
    """

    measure: str
    by: By
    selection: Selection
    first_day: date
    last_day: date
    rows: tuple[PenRow, ...]
    tests: PenTests
    clustering: EggsWorth
    pairs: tuple[PenPair, ...]
    findings: tuple[Finding, ...]
    pair: PairAnswer | None
    words: PenWords

    @property
    def is_answered(self) -> bool:
        """Whether what was asked could be compared; where all are alike it could."""
        return not self.words.remedy and (self.pair is None or self.pair.pair.difference is not None)
