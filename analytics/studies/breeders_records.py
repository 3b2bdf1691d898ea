"""What the question which breeders to keep is answered with."""

from __future__ import annotations

from dataclasses import dataclass

from analytics.breeders.ranking import CostRule, Standing
from analytics.options import Selection
from analytics.studies.causes_records import NoAnswer, Scope


@dataclass(frozen=True, slots=True)
class BreederRow:
    """A pen, sire or dam.

    Attributes:
        standing: its numbers and the advice.
        lost: step -> chicks that it lost there by itself, of 100 eggs; negative = won.
        chicks_per_hen_month: chicks a hen would give in a month at its own rate; None = not known.
        inbreeding: expected inbreeding of its chicks; None = not known.
        eggs_to_know: eggs more after which half of what sets it apart would be known; None = does not matter.
        why: a sentence or two.
        is_alone: whether it met no other in any machine, so that its chances are not known.
    """

    standing: Standing
    lost: dict[str, float]
    chicks_per_hen_month: float | None
    inbreeding: float | None
    eggs_to_know: float | None
    why: str
    is_alone: bool = False


@dataclass(frozen=True, slots=True)
class BreedersAnswer:
    """One species.

    Attributes:
        species: key.
        rows: the breeders, the one whose replacement most likely pays first.
        typical: chicks per egg set of the typical pen.
        counted: the trays whose eggs are counted.
        sentence: the answer.
        notes: what cannot be told, and what the reader must know.
        how: how it was worked out.
    """

    species: str
    rows: tuple[BreederRow, ...]
    typical: float
    counted: Scope
    sentence: str
    notes: tuple[str, ...]
    how: str


@dataclass(frozen=True, slots=True)
class Breeders:
    """The answer.

    Attributes:
        by: pen, sire or dam.
        selection: what was asked.
        target: chicks per egg set that was given, or None: each is held against the others' median.
        rule: the costs.
        answers: species by species, the one with most eggs first.
        without: species without an answer, and why.
    """

    by: str
    selection: Selection
    target: float | None
    rule: CostRule
    answers: tuple[BreedersAnswer, ...]
    without: tuple[NoAnswer, ...]
