"""How fast a flock becomes inbred, and how many birds that is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.breeders.pedigree import UNKNOWN, Pedigree

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Generation:
    """One generation of a pedigree.

    Attributes:
        number: 0 = birds without known parents.
        birds: birds in it.
        inbreeding: their mean F, 0..1.
        rate: rise of F against the generation before, as a share of what was left: (F - F') / (1 - F'); None
            in generation 0.
        effective_size: 1 / (2 rate); None where F did not rise.
        sires: males that were fathers of these birds.
        dams: females that were mothers of them.
        expected_size: 4 sires dams / (sires + dams), what as many parents mated at random would be worth;
            None where one of the two is not known.
    """

    number: int
    birds: int
    inbreeding: float
    rate: float | None
    effective_size: float | None
    sires: int
    dams: int
    expected_size: float | None


@dataclass(frozen=True, slots=True)
class InbreedingPace:
    """All generations together.

    Attributes:
        generations: each of them, the oldest first.
        rate: rate of inbreeding a generation over all, the one constant rate that leads from the first mean
            F to the last; None with fewer than two generations.
        effective_size: 1 / (2 rate), or None where F did not rise.
        why: why there is no number, or what the reader must know; "" otherwise.
    """

    generations: tuple[Generation, ...]
    rate: float | None
    effective_size: float | None
    why: str


def inbreeding_pace(known: Pedigree, found: ArrayLike) -> InbreedingPace:
    """The rate of inbreeding by generation.

    Args:
        known: the pedigree.
        found: F of every bird, in its order.

    Returns:
        The rates. Source: Falconer and Mackay 1996, Introduction to Quantitative Genetics, 4th ed., chapter
        4: rate (F - F') / (1 - F'), effective size 1 / (2 rate), and Wright 1931, Genetics 16:97-159, for
        4 M F / (M + F).
    """
    f: Floats = np.asarray(found, dtype=float)
    generations: list[Generation] = []
    for number in range(int(known.generation.max(initial=-1)) + 1):
        before = generations[-1].inbreeding if generations else None
        generations.append(_generation(known, f, number, before))
    if len(generations) < 2:
        return InbreedingPace(tuple(generations), None, None, "No bird here has a known parent.")
    first, last = generations[0].inbreeding, generations[-1].inbreeding
    rate = 1 - ((1 - last) / (1 - first)) ** (1 / (len(generations) - 1)) if first < 1 else 0.0
    return InbreedingPace(tuple(generations), rate, size_of_rate(rate), _why(rate))


def _why(rate: float) -> str:
    if rate > 0:
        return "Forebears that are not written down would make it faster."
    return "No inbreeding shows in these records. Forebears that are not written down may hide some."


def _generation(known: Pedigree, f: Floats, number: int, before: float | None) -> Generation:
    own = known.generation == number
    mean = float(f[own].mean())
    rate = None if before is None or before >= 1 else (mean - before) / (1 - before)
    sires, dams = (len(np.unique(parent[own & (parent != UNKNOWN)])) for parent in (known.sire, known.dam))
    return Generation(
        number=number,
        birds=int(own.sum()),
        inbreeding=mean,
        rate=rate,
        effective_size=None if rate is None else size_of_rate(rate),
        sires=sires,
        dams=dams,
        expected_size=size_of_parents(sires, dams) if sires and dams else None,
    )


def size_of_rate(rate: float) -> float | None:
    """Effective size 1 / (2 rate); None where the rate is not above 0."""
    return 1 / (2 * rate) if rate > 0 else None


def size_of_parents(males: int, females: int) -> float:
    """Effective size of so many parents mated at random, 4 M F / (M + F); both at least 1."""
    return 4 * males * females / (males + females)


def rate_of_parents(males: int, females: int) -> float:
    """Rate of inbreeding a generation to be expected of so many parents, 1 / (8 M) + 1 / (8 F)."""
    return 1 / (8 * males) + 1 / (8 * females)
