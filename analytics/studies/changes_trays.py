"""Which trays belong before and after a change, and which are held against which.

Eggs belong to a pen's change by the days on which they were laid, to a machine's by the days in it. A year on
either side counts at most, so that every season can stand on both. What a pen (machine) was changed in
otherwise ends its stretch: a pen is untouched only from its own last change to its next one.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from analytics.changes.layout import Flags, Layout, Names
from analytics.comparisons.counts import Floats
from analytics.store.ladder import Days, LadderTrays
from analytics.studies.changes_records import Compared, Event

YEAR = 364
MOST_CONTROLS = 8
"""Untouched pens (machines) that are held against a change: those that met it most often."""
MOST_TRAYS = 800
"""Trays by which a change is judged: those nearest to its day. Bounds the time of an answer."""
_LONGEST_STAY = 90
"""Days that an egg may lie in store and machine."""
LATE_STEPS = ("late", "shell")
_STEP_OF_HATCH = "hatch"


@dataclass(frozen=True, slots=True)
class ChangeTrays:
    """Trays with their days.

    Attributes:
        ladder: the trays.
        laid_first: first day of lay, NaT = not known.
        laid_last: last day.
    """

    ladder: LadderTrays
    laid_first: Days
    laid_last: Days

    @property
    def month(self) -> Names:
        """Month of setting of each tray."""
        return self.ladder.set_on.astype("datetime64[M]").astype(str)

    def near(self, event: Event) -> ChangeTrays:
        """Those that may belong to a year on either side of a change."""
        first = np.datetime64(event.first_day - timedelta(days=YEAR + _LONGEST_STAY))
        last = np.datetime64(event.last_day + timedelta(days=YEAR + event.lag_days + _LONGEST_STAY))
        which = (self.ladder.set_on >= first) & (self.ladder.set_on <= last)
        return ChangeTrays(self.ladder.kept(which), self.laid_first[which], self.laid_last[which])


@dataclass(frozen=True, slots=True)
class Question:
    """The trays of one change and a group of steps.

    Attributes:
        which: places of the trays in the ladder.
        layout: who is touched, what is after, what is held equal.
        compared: what is told of that.
    """

    which: Flags
    layout: Layout
    compared: Compared

    def without(self, label: str) -> Question:
        """The same without one pen (machine)."""
        kept = self.layout.unit != label
        which = self.which.copy()
        which[self.which] = kept
        return replace(self, which=which, layout=self.layout.kept(kept))


def key_of(label: str) -> str:
    """How labels are compared."""
    return unicodedata.normalize("NFC", label).strip().lower()


def keys_of(labels: Names) -> Names:
    """The same for a label a tray."""
    found, place = np.unique(labels, return_inverse=True)
    return np.array([key_of(label) for label in found.tolist()], dtype=str)[place]


def unit_of(event: Event, trays: ChangeTrays, step: str) -> Names:
    """Pen of each tray, or the machine that it lies in at that step."""
    labels = trays.ladder.labels
    if event.scope != "incubator":
        return labels["pen"]
    return labels["hatcher" if step in LATE_STEPS else "setter"]


def question(event: Event, trays: ChangeTrays, step: str, own: Mapping[str, Sequence[Event]]) -> Question:
    """The trays that a change is judged by at a step.

    Args:
        event: the change.
        trays: all trays.
        step: name of the step.
        own: key of a pen (machine) -> its own changes.
    """
    unit = unit_of(event, trays, step)
    keys = keys_of(unit)
    touched = np.isin(keys, [key_of(label) for label in event.targets]) if event.targets else _all(keys)
    first, last = _days(event, trays)
    begins, ends = _stretches(event, keys, own)
    known = ~(np.isnat(first) | np.isnat(last))
    inside = known & (first >= begins) & (last <= ends) & _same_birds(event, trays, touched)
    before = last < np.datetime64(event.first_day)
    after = first >= np.datetime64(event.last_day + timedelta(days=event.lag_days))
    asked = touched | np.isin(keys, _nearest(event, trays, keys, touched, inside & (before | after)))
    inside &= asked
    straddles = inside & ~before & ~after
    set_on = trays.ladder.set_on
    undated = asked & ~known & (set_on >= begins) & (set_on <= ends)
    used = _nearest_trays(event, trays, inside & (before | after), touched, first)
    found = _best(event, trays, step, used, touched, after, unit)
    left = Compared(
        left_trays=int(straddles.sum()),
        left_eggs=float(trays.ladder.eggs[straddles].sum()),
        undated_trays=int(undated.sum()),
    )
    return replace(found, compared=_told(event, found, left, first, last))


def _all(keys: Names) -> Flags:
    return np.ones(len(keys), dtype=bool)


def _days(event: Event, trays: ChangeTrays) -> tuple[Days, Days]:
    if event.scope == "incubator":
        return trays.ladder.set_on, trays.ladder.hatch_on
    return trays.laid_first, trays.laid_last


def _same_birds(event: Event, trays: ChangeTrays, touched: Flags) -> Flags:
    """Trays of the birds that were changed; a machine is held against others with all its birds."""
    species = trays.ladder.labels["species"]
    if event.scope == "incubator":
        return np.ones(len(species), dtype=bool)
    return np.isin(species, np.unique(species[touched]))


def _stretches(event: Event, keys: Names, own: Mapping[str, Sequence[Event]]) -> tuple[Days, Days]:
    """First and last day that counts of each tray's pen (machine)."""
    begin, end = (
        np.full(len(keys), event.first_day - timedelta(days=YEAR)),
        np.full(len(keys), event.last_day + timedelta(days=event.lag_days + YEAR)),
    )
    begins, ends = begin.astype("datetime64[D]"), end.astype("datetime64[D]")
    for key in np.unique(keys).tolist():
        for other in own.get(key, ()):
            if other is event:
                continue
            here = keys == key
            if other.first_day > event.last_day:
                ends[here] = np.minimum(ends[here], np.datetime64(other.first_day - timedelta(days=1)))
            else:
                since = other.last_day + timedelta(days=other.lag_days)
                begins[here] = np.maximum(begins[here], np.datetime64(since))
    return begins, ends


def _nearest(event: Event, trays: ChangeTrays, keys: Names, touched: Flags, used: Flags) -> list[str]:
    """Keys of the untouched units that met the touched ones most often: in batches, else in months."""
    batch = trays.ladder.labels["batch"]
    for meeting in (trays.month,) if event.scope == "incubator" else (batch, trays.month):
        met = used & ~touched & np.isin(meeting, np.unique(meeting[used & touched]))
        if met.any():
            labels, count = np.unique(keys[met], return_counts=True)
            return [str(label) for label in labels[np.lexsort((labels, -count))[:MOST_CONTROLS]]]
    return []


def _nearest_trays(event: Event, trays: ChangeTrays, used: Flags, touched: Flags, first: Days) -> Flags:
    """As many as are judged by: first those that met what was changed, then those nearest to the day."""
    if used.sum() <= MOST_TRAYS:
        return used
    if event.scope != "incubator":
        batch = trays.ladder.labels["batch"]
        with_touched = used & np.isin(batch, np.unique(batch[used & touched]))
        used = with_touched if (with_touched & ~touched).any() else used
    far = np.abs((first - np.datetime64(event.first_day)).astype(float))
    nearest = np.sort(far[used])[min(MOST_TRAYS, int(used.sum())) - 1]
    found: Flags = used & (far <= nearest)
    return found


def _best(
    event: Event, trays: ChangeTrays, step: str, used: Flags, touched: Flags, after: Flags, unit: Names
) -> Question:
    """The closest comparison that these trays allow: within batches, else within machine and month."""
    found = None
    both = (used & touched).any() and (used & ~touched).any()
    for held in _ways(event, trays, step) if both else ():
        which = used & _shared(used, unit, next(iter(held.values())))
        layout = _layout(event, trays, held, touched, after, unit).kept(which)
        told = which.any() and layout.told_columns()[1]
        if found is None or told:
            found = Question(which, layout, Compared(held=" and ".join(held) if told else ""))
        if told:
            break
    if found is None or not found.compared.held:
        layout = _layout(event, trays, {}, touched, after, unit).kept(used)
        return Question(used, layout, Compared())
    return found


def _ways(event: Event, trays: ChangeTrays, step: str) -> tuple[dict[str, Names], ...]:
    """What may be held equal, the closest first."""
    labels, month = trays.ladder.labels, trays.month
    if event.scope == "incubator":
        return ({"month": month, "pen": labels["pen"]},)
    machine = _joined(labels["setter"], labels["hatcher"]) if step in LATE_STEPS else labels["setter"]
    return {"batch": labels["batch"]}, {"machine and month": _joined(machine, month)}


def _layout(
    event: Event, trays: ChangeTrays, held: Mapping[str, Names], touched: Flags, after: Flags, unit: Names
) -> Layout:
    stored = trays.ladder.numbers["storage_days"]
    numbers: tuple[Floats, ...] = ()
    if event.kind != "storage" and (~np.isnan(stored)).any():
        numbers = (np.where(np.isnan(stored), np.nanmean(stored), stored),)
    return Layout(touched, after, unit, held, _joined(unit, trays.month), numbers)


def _joined(labels: Names, others: Names) -> Names:
    found: Names = np.char.add(np.char.add(labels.astype(str), " / "), others.astype(str))
    return found


def _shared(used: Flags, unit: Names, meeting: Names) -> Flags:
    """Trays that lie where two units or more meet."""
    places, code = np.unique(meeting, return_inverse=True)
    units = np.unique(unit, return_inverse=True)[1]
    pairs = np.unique(np.column_stack((code[used], units[used])), axis=0)
    crowd = np.bincount(pairs[:, 0], minlength=len(places)) if len(pairs) else np.zeros(len(places))
    found: Flags = crowd[code] > 1
    return found


def _told(event: Event, found: Question, left: Compared, first: Days, last: Days) -> Compared:
    layout, unit = found.layout, found.layout.unit
    both = [
        str(label)
        for label in np.unique(unit[~layout.touched])
        if len(np.unique(layout.after[unit == label])) == 2
    ]
    days = (
        (_day(first[found.which].min()), _day(last[found.which].max())) if found.which.any() else (None, None)
    )
    why, settle = _why(event, found, both)
    return replace(
        left,
        controls=tuple(both),
        held=found.compared.held,
        trays=int(found.which.sum()),
        first_day=days[0],
        last_day=days[1],
        why=why,
        settle=settle,
    )


def _day(day: np.datetime64) -> date | None:
    found = day.astype("datetime64[D]").item()
    return found if isinstance(found, date) else None


def _why(event: Event, found: Question, controls: Sequence[str]) -> tuple[str, str]:
    """Why the change cannot be told at all, and what would settle it; "" where it can."""
    layout = found.layout
    what, one = ("machines", "machine") if event.scope == "incubator" else ("pens", "pen")
    for after, when in ((False, "before it"), (True, "after it")):
        if not (layout.touched & (layout.after == after)).any():
            why = f"No closed tray has eggs that belong to the time {when} alone."
            return (
                why,
                "Wait for the hatches." if after else "Write the trays of the time before down as well.",
            )
    if not event.targets or layout.touched.all():
        return (
            f"It touched all {what} with eggs then: whatever else came at that time looks the same.",
            f"Next time leave some {what} without it, in the same months.",
        )
    if not controls:
        return (
            f"No {one} that was left as it was has eggs both before and after it.",
            f"Next time leave some {what} as they were, and set their eggs through both times.",
        )
    if not found.compared.held:
        together = "in the same months" if event.scope == "incubator" else "in the same batches"
        return (
            f"Its eggs never lay {together} as those of {what} left as they were, before and after it.",
            f"Next time set eggs of other {what} {together}.",
        )
    return "", ""
