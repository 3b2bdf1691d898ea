"""Who should be mated with whom so that the young are as little inbred as the birds at hand allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.errors import WrongUsage

Floats = NDArray[np.float64]
Places = NDArray[np.intp]
_EVENLY = 1e-9
"""What a male's next female costs beside kinship: nothing but a choice among equals."""


@dataclass(frozen=True, slots=True)
class Mating:
    """A female with her male.

    Attributes:
        female: label.
        male: label.
        inbreeding: F that their young would have, 0..1.
    """

    female: str
    male: str
    inbreeding: float


@dataclass(frozen=True, slots=True)
class MatingPlan:
    """The plan with the least inbreeding, and the simple rule beside it.

    Attributes:
        matings: one a female, in the order given.
        mean: mean F of the young of the plan, every female counting alike.
        highest: highest F among them.
        idle: males that the plan leaves without a female.
        rotation: the matings by rotation: females of a line get the males of the line before; () where no
            lines are known.
        rotation_mean: mean F by rotation, or None.
        rotation_highest: highest F by rotation, or None.
        why: why there is no rotation to compare with; "" otherwise.
    """

    matings: tuple[Mating, ...]
    mean: float
    highest: float
    idle: tuple[str, ...]
    rotation: tuple[Mating, ...]
    rotation_mean: float | None
    rotation_highest: float | None
    why: str


def mating_plan(
    kinships: ArrayLike,
    males: Sequence[str],
    females: Sequence[str],
    most_females: int,
    male_lines: Sequence[str] = (),
    female_lines: Sequence[str] = (),
) -> MatingPlan:
    """Gives every female one male, so that the mean kinship of the pairs is as low as can be.

    Exact: each male stands as many times in an assignment as he may have females (Jonker and Volgenant 1987,
    as in scipy). Among plans of equal mean the one that shares the females out most evenly; that the highest
    F is least too is not promised.

    Args:
        kinships: of each male with each female, shape (males, females), 0..1.
        males: labels.
        females: labels.
        most_females: females a male may have, 1 or more.
        male_lines: line or pen of each male, for the rotation; () where not known.
        female_lines: likewise of each female.

    Raises:
        WrongUsage: no birds, or more females than the males may have.
    """
    table: Floats = np.asarray(kinships, dtype=float)
    _refuse(males, females, most_females)
    chosen = _least(table, most_females)
    turn, why = _rotation(table, male_lines, female_lines, most_females)
    rotated = _mates(table, turn, males, females) if turn is not None else ()
    matings = _mates(table, chosen, males, females)
    mean, highest = _sums(matings)
    others = _sums(rotated) if rotated else (None, None)
    return MatingPlan(
        matings=matings,
        mean=mean,
        highest=highest,
        idle=tuple(male for at, male in enumerate(males) if at not in chosen),
        rotation=rotated,
        rotation_mean=others[0],
        rotation_highest=others[1],
        why=why,
    )


def _refuse(males: Sequence[str], females: Sequence[str], most_females: int) -> None:
    if not males or not females:
        raise WrongUsage("No males, or no females", "A mating takes one of each", "Choose some of both")
    if len(females) > len(males) * most_females:
        raise WrongUsage(
            f"{_many(len(females), 'female')} for {_many(len(males), 'male')}",
            f"A male may have {most_females} here, so there is room for {len(males) * most_females}",
            "Choose fewer females or more males, or allow more females a male",
        )


def _many(number: int, what: str) -> str:
    return f"{number} {what}" if number == 1 else f"{number} {what}s"


def _least(table: Floats, most_females: int) -> Places:
    """The male of each female."""
    from scipy.optimize import linear_sum_assignment

    copies = np.repeat(np.arange(table.shape[0]), most_females)
    later = np.tile(np.arange(most_females), table.shape[0])
    female, copy = linear_sum_assignment(table[copies].T + _EVENLY * later)
    chosen: Places = np.empty(table.shape[1], dtype=np.intp)
    chosen[female] = copies[copy]
    return chosen


def _rotation(
    table: Floats, male_lines: Sequence[str], female_lines: Sequence[str], most_females: int
) -> tuple[Places | None, str]:
    """The male of each female by rotation: lines in a ring, and the males move on by one line.

    Where the line before has no male with room, the one before that is taken, the females' own line last.
    """
    if len(male_lines) != table.shape[0] or len(female_lines) != table.shape[1]:
        return None, "The lines of the birds are not known, so there is no rotation to compare with."
    ring = list(dict.fromkeys((*female_lines, *male_lines)))
    if len(ring) < 2:
        return None, "All birds are of one line, so there is nothing to rotate."
    free = np.full(table.shape[0], most_females)
    chosen: Places = np.empty(table.shape[1], dtype=np.intp)
    for female, line in enumerate(female_lines):
        start = ring.index(line)
        order = [ring[start - step] for step in range(1, len(ring) + 1)]
        # the male of the first line in turn that has room, the one with the most room of that line
        male = min(range(len(free)), key=lambda at: (free[at] == 0, order.index(male_lines[at]), -free[at]))
        chosen[female] = male
        free[male] -= 1
    return chosen, ""


def _mates(table: Floats, chosen: Places, males: Sequence[str], females: Sequence[str]) -> tuple[Mating, ...]:
    return tuple(
        Mating(female, males[chosen[at]], float(table[chosen[at], at])) for at, female in enumerate(females)
    )


def _sums(matings: Sequence[Mating]) -> tuple[float, float]:
    found = [mating.inbreeding for mating in matings]
    return float(np.mean(found)), max(found)
