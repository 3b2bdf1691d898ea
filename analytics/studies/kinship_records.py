"""What kinship in a flock is told in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from analytics.breeders.depression import Depression
from analytics.breeders.effective_size import InbreedingPace
from analytics.breeders.matings import MatingPlan
from analytics.reference.inbreeding_slopes import InbreedingSlope


@dataclass(frozen=True, slots=True)
class MatingsAsked:
    """Who is to be mated.

    Attributes:
        males: labels; () = all that stand in pens.
        females: likewise.
        most_females: females a male may have, or None = as many as share the females out evenly.
        species: key, or "" = the kind with most birds in pens.
    """

    males: tuple[str, ...] = ()
    females: tuple[str, ...] = ()
    most_females: int | None = None
    species: str = ""


@dataclass(frozen=True, slots=True)
class PenKinship:
    """The birds of a pen.

    Attributes:
        pen: label.
        males: males in it.
        females: females in it.
        of_young: mean F of the young of its pairs of whom all parents are known, or None without such.
        highest: highest F among these, or None.
        pairs: pairs of a male and a female.
        known: pairs of whom all parents are known.
    """

    pen: str
    males: int
    females: int
    of_young: float | None
    highest: float | None
    pairs: int
    known: int


@dataclass(frozen=True, slots=True)
class MatingsAnswer:
    """Who with whom, and what kinship there is.

    Attributes:
        species: key.
        as_of: day on which the pens were looked at.
        most_females: females a male may have.
        plan: the matings, with rotation beside.
        as_now: mean F if every female stays with the males of her pen, or None where some have none.
        with_parents: birds of the plan whose parents are both written down.
        pens: pens as they stand.
        pace: rate of inbreeding of all birds written down.
        depression: whether hatch of fertile goes with inbreeding here.
        published: slopes of other flocks of the species.
        sentence: the answer.
        notes: what stands behind it.
    """

    species: str
    as_of: date
    most_females: int
    plan: MatingPlan
    as_now: float | None
    with_parents: int
    pens: tuple[PenKinship, ...]
    pace: InbreedingPace
    depression: Depression
    published: tuple[InbreedingSlope, ...]
    sentence: str
    notes: tuple[str, ...]
