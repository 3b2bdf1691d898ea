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
        pens: pens that its eggs came from.
        one_with: pens and birds that it cannot be told from.
    """

    standing: Standing
    lost: dict[str, float]
    chicks_per_hen_month: float | None
    inbreeding: float | None
    eggs_to_know: float | None
    why: str
    is_alone: bool = False
    pens: tuple[str, ...] = ()
    one_with: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Trays that count for no sire.

    Attributes:
        why: after_change (laid so soon after a change of males that he may be the old or the new one),
            no_lay_days (males were changed, and no day of lay is written), or not_written.
        trays: trays.
        eggs: eggs set in them.
    """

    why: str
    trays: int
    eggs: float


@dataclass(frozen=True, slots=True)
class OnePen:
    """A pen with the birds that cannot be told from it.

    Attributes:
        pen: label.
        sires: labels; () = none is written down.
        dams: likewise.
    """

    pen: str
    sires: tuple[str, ...]
    dams: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ParentsTold:
    """Who could be told from their pens.

    Attributes:
        one: pens that are one with their birds.
        sires: sires that are told from their pens.
        dams: likewise.
        left_out: trays that are counted and have no certain sire; () where no sire is known at all.
        open_days: days after a change of males in which a sire is open.
        source_id: who says so.
    """

    one: tuple[OnePen, ...] = ()
    sires: tuple[str, ...] = ()
    dams: tuple[str, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    open_days: int = 0
    source_id: str = ""


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
        parents: who could be told from their pens, and whose sire is open.
    """

    species: str
    rows: tuple[BreederRow, ...]
    typical: float
    counted: Scope
    sentence: str
    notes: tuple[str, ...]
    how: str
    parents: ParentsTold = ParentsTold()


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
