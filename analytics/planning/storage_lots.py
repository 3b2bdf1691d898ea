"""Whose eggs are set as two lots, kept for long and fresh, so that storage is told from what it goes with.

Storage is taken to go with the pens (machines, months) where these explain more than 95 % of the days
(`attribution.separability`). Two lots of one pen at one set bring days into the records that nothing but
storage explains.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations, islice

import numpy as np
from numpy.typing import NDArray

from analytics.attribution.separability import EXPLAINED, explained_by_levels

Floats = NDArray[np.float64]
Labels = NDArray[np.str_]
MOST_SETS = 52
"""Sets after which no plan is looked for any more: a year of weeks."""
_MOST_TRIED = 100
_NEXT = "next"


@dataclass(frozen=True, slots=True)
class StorageTold:
    """What the records say of storage, one entry a tray with known days in every array.

    Attributes:
        days: days stored.
        beside: what it may go with (pen, incubator, hatcher, month) -> labels.
    """

    days: Floats
    beside: Mapping[str, Labels]

    def goes_with(self) -> tuple[str, ...]:
        """What explains nearly all of the days; all of it where they do not vary."""
        if not len(self.days):
            return ()
        if np.ptp(self.days) <= 1e-9:
            return tuple(self.beside)
        return tuple(
            name
            for name, labels in self.beside.items()
            if explained_by_levels(self.days, np.unique(labels, return_inverse=True)[1].astype(np.int64))
            > EXPLAINED
        )


@dataclass(frozen=True, slots=True)
class NextTray:
    """A tray of the next set.

    Attributes:
        pen: label.
        days: days that its eggs would be stored as usual.
        beside: what storage may go with -> its label.
        can_split: whether it has eggs for two lots.
    """

    pen: str
    days: float
    beside: Mapping[str, str]
    can_split: bool


@dataclass(frozen=True, slots=True)
class StorageLots:
    """Whose eggs are set as two lots.

    Attributes:
        pens: labels; () where storage needs no plan, or none would do.
        sets: sets like this after which storage is told apart; 0 = no plan needed.
        beside: what it goes with now.
        why: why no plan would do; "" otherwise.
    """

    pens: tuple[str, ...]
    sets: int
    beside: tuple[str, ...]
    why: str = ""


def storage_lots(
    told: StorageTold, trays: Sequence[NextTray], kept: tuple[float, float], sets: int
) -> StorageLots:
    """The fewest pens whose two lots tell storage after so many sets; all pens, and more sets, where none do.

    Args:
        told: the records.
        trays: the next set, those that should be split first in front.
        kept: days of the fresh lot and of the one kept for long.
        sets: sets like this that are planned.
    """
    beside = told.goes_with()
    able = [one.pen for one in trays if one.can_split]
    if not beside:
        return StorageLots((), 0, ())
    if not able:
        return StorageLots((), 0, beside, "No pen has eggs for two lots.")
    enough = not _after(told, trays, able, kept, sets).goes_with()
    for count in range(1, len(able) + 1) if enough else ():
        for pens in islice(combinations(able, count), _MOST_TRIED):
            if not _after(told, trays, pens, kept, sets).goes_with():
                return StorageLots(pens, sets, beside)
    for more in range(sets + 1, MOST_SETS + 1):
        if not _after(told, trays, able, kept, more).goes_with():
            return StorageLots(tuple(able), more, beside)
    return StorageLots((), 0, beside, f"Even {MOST_SETS} sets of two lots of every pen would not tell.")


def _after(
    told: StorageTold, trays: Sequence[NextTray], pens: Sequence[str], kept: tuple[float, float], sets: int
) -> StorageTold:
    """The records with so many sets more, all in one month."""
    rows = [
        (one, day) for one in trays for day in (kept if one.can_split and one.pen in pens else (one.days,))
    ] * sets
    beside = {
        name: np.concatenate((labels, np.array([one.beside.get(name, _NEXT) for one, _ in rows], dtype=str)))
        for name, labels in told.beside.items()
    }
    return StorageTold(np.concatenate((told.days, [day for _, day in rows])), beside)
