"""Whose eggs they are after a change of males: in which trays the father is open, and who he may be.

A hen keeps sperm for days. Eggs that were laid so long after a male has left may be his, or those of the male
that came. Where the days of lay are not known, the eggs may have been laid on any of the days before setting
for which eggs are ever stored.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

Labels = NDArray[np.str_]
Days = NDArray[np.datetime64]
Flags = NDArray[np.bool_]
OPEN, UNDATED = "open", "undated"
"""Why a father is left out: laid too soon after a change of males; no days of lay, and a change of males
before it was set."""
MOST_STORED = np.timedelta64(60, "D")
"""No egg is set that was stored for longer (our own choice)."""
_NEVER = np.datetime64("9999-12-31")


@dataclass(frozen=True, slots=True)
class Stood:
    """A male's time in a pen, both days included.

    Attributes:
        pen: label.
        male: label.
        first: first day.
        last: last day, or None = still there.
    """

    pen: str
    male: str
    first: date
    last: date | None


@dataclass(frozen=True, slots=True)
class Males:
    """What is written down of the males of pens.

    Attributes:
        stood: their stays.
        swaps: pen and day of changes of males without names; they count where a pen has no stay.
        several: pens that have more than one male at a time.
    """

    stood: tuple[Stood, ...] = ()
    swaps: tuple[tuple[str, date], ...] = ()
    several: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Laid:
    """Trays with their days and the father that is written down, one entry a tray in every array.

    Attributes:
        pen: label.
        sire: label, "" = not written.
        first: first day of lay, NaT = not known.
        last: last one.
        set_on: day of setting.
    """

    pen: Labels
    sire: Labels
    first: Days
    last: Days
    set_on: Days

    def of(self, which: Flags) -> Laid:
        """Some of the trays."""
        return Laid(
            self.pen[which], self.sire[which], self.first[which], self.last[which], self.set_on[which]
        )

    @property
    def undated(self) -> Flags:
        """Trays without days of lay."""
        found: Flags = np.isnat(self.first) | np.isnat(self.last)
        return found


def fathers(trays: Laid, males: Males, days: int) -> tuple[Labels, Labels]:
    """The father of each tray as far as he is certain, and why he is left out.

    A pen's stays are those of its males. Where none is written down, the fathers of its trays, one after the
    other, say when males were changed: at the latest on the day of the first eggs of the next.

    Args:
        trays: the trays.
        males: what is known of the males.
        days: days after a male has left in which eggs may still be his.

    Returns:
        Fathers, "" = not certain; and for each tray "", `OPEN` or `UNDATED`. Where no father is written with
        the tray, the only male that can be it stands for him.
    """
    sire, why = trays.sire.astype(object), np.full(len(trays.pen), "", dtype=object)
    for pen in np.unique(trays.pen).tolist():
        here = trays.pen == pen
        own = trays.of(here)
        known = [one for one in males.stood if one.pen == pen]
        swapped = np.zeros(len(own.pen), dtype=bool)
        stays = known
        if not known:
            stays = [] if pen in males.several else list(_by_trays(pen, own))
            swapped = _after_swaps(own, [day for where, day in males.swaps if where == pen], days)
        open_, only = _candidates(own, stays, days)
        open_ |= swapped
        why[here] = np.where(open_, np.where(own.undated, UNDATED, OPEN), "")
        alone = np.array(only if known and pen not in males.several else [""] * len(only), dtype=object)
        sire[here] = np.where(open_, "", np.where(own.sire == "", alone, own.sire))
    return sire.astype(str), why.astype(str)


def _span(trays: Laid) -> tuple[Days, Days]:
    """First and last day on which a tray's eggs may have been laid."""
    undated = trays.undated
    return np.where(undated, trays.set_on - MOST_STORED, trays.first), np.where(
        undated, trays.set_on, trays.last
    )


def _candidates(trays: Laid, stays: Sequence[Stood], days: int) -> tuple[Flags, list[str]]:
    """Trays whose father may be a male that had left, or another; and the only one that it can be, or ""."""
    first, last = _span(trays)
    names = sorted({one.male for one in stays})
    may, gone = (np.zeros((len(first), len(names)), dtype=bool) for _ in range(2))
    for one in stays:
        at = names.index(one.male)
        left = _NEVER if one.last is None else np.datetime64(one.last)
        until = _NEVER if one.last is None else left + np.timedelta64(days, "D")
        here = (np.datetime64(one.first) <= last) & (first <= until)
        may[:, at] |= here
        gone[:, at] |= here & (left <= last)
    several = may.sum(axis=1) > 1
    only = [names[int(row.argmax())] if row.sum() == 1 else "" for row in may] if names else [""] * len(first)
    return several & gone.any(axis=1), only


def _by_trays(pen: str, trays: Laid) -> Iterator[Stood]:
    """Stays of the fathers that follow one another in a pen's trays; the last one is still there."""
    written = np.flatnonzero(trays.sire != "")
    day = np.where(trays.undated, trays.set_on, trays.first)
    runs: list[Stood] = []
    for at in written[np.lexsort((trays.sire[written], day[written]))].tolist():
        on: date = day[at].astype("datetime64[D]").item()
        if not runs or runs[-1].male != trays.sire[at]:
            if runs:
                runs[-1] = replace(runs[-1], last=on)
            runs.append(Stood(pen, str(trays.sire[at]), on, None))
    yield from runs


def _after_swaps(trays: Laid, swaps: Sequence[date], days: int) -> Flags:
    """Trays with eggs laid so soon after a change of males of which no name is written down."""
    first, last = _span(trays)
    found = np.zeros(len(first), dtype=bool)
    for day in swaps:
        changed = np.datetime64(day)
        found |= (last >= changed) & (first <= changed + np.timedelta64(days, "D"))
    return found


def eggs_by_reason(why: Labels, eggs: NDArray[np.float64], which: Flags) -> Mapping[str, tuple[int, float]]:
    """Reason -> trays and eggs left out for it, among some of the trays."""
    return {
        reason: (int((which & (why == reason)).sum()), float(eggs[which & (why == reason)].sum()))
        for reason in (OPEN, UNDATED)
    }
