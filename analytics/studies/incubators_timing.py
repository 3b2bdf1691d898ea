"""Whether a machine hatches early or late, against the farm's other machines first, and from when to when."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from analytics.incubation.hour_shifts import HourShift, TimedBatch, hour_shifts
from analytics.measures.hatch_timing import (
    HatchCounts,
    HatchOffset,
    HatchWindow,
    hatch_window,
    machine_hours,
    offset_from_others,
    offset_from_published,
)
from analytics.reference.hatch_shifts import published_hours, storage_hours_a_day
from analytics.store.machines import Happened
from analytics.store.timing import CountedBatch
from analytics.studies.incubators_records import (
    BatchHour,
    Drift,
    ExpectedHours,
    MachineTiming,
    Rival,
)
from analytics.studies.incubators_rivals import Sides, rivals
from analytics.studies.incubators_words import hours_drift_words
from analytics.values import label_order

POWER_CUT = "power_cut"
NO_OTHER = "No other machine has counted hatches of this bird, so there is only print to hold it against."
NONE_COUNTED = "No hatch of this machine was counted with its hours."
_EPOCH = date(2000, 1, 1)


@dataclass(frozen=True, slots=True)
class Told:
    """What the store says of events.

    Attributes:
        happened: events while chosen eggs were in.
        machines: machines of which any event is written down.
    """

    happened: Sequence[Happened]
    machines: frozenset[str]


@dataclass(frozen=True, slots=True)
class Series:
    """The counted batches of one species in one machine, by day of setting.

    Attributes:
        machine: label.
        batches: the batches.
        windows: when each of them hatched.
        shifts: where they leave the machine's level.
    """

    machine: str
    batches: tuple[CountedBatch, ...]
    windows: tuple[HatchWindow, ...]
    shifts: tuple[HourShift, ...] = ()

    @property
    def timed(self) -> list[TimedBatch]:
        """As the search for shifts takes them."""
        return [
            TimedBatch((batch.set_on.date() - _EPOCH).days, window.median, batch.counts)
            for batch, window in zip(self.batches, self.windows, strict=True)
            if batch.counts
        ]

    @property
    def steady(self) -> list[CountedBatch]:
        """The batches outside shifts."""
        apart = {place for one in self.shifts for place in range(one.first, one.last + 1)}
        return [batch for place, batch in enumerate(self.batches) if place not in apart]


def timings(
    batches: Sequence[CountedBatch], told: Told
) -> dict[str, tuple[list[MachineTiming], list[Drift]]]:
    """Machine -> its hours by species, and the weeks in which they left their level.

    Args:
        batches: closed batches of all machines.
        told: what happened to the machines.
    """
    found: dict[str, tuple[list[MachineTiming], list[Drift]]] = {}
    for species in sorted({batch.species for batch in batches if batch.species}):
        of_bird = [batch for batch in batches if batch.species == species]
        series = _all_series(of_bird, species)
        for machine in sorted({batch.setter for batch in of_bird}, key=label_order):
            timing, drifts = _timing(machine, species, series, of_bird, told)
            ours = found.setdefault(machine, ([], []))
            ours[0].append(timing)
            ours[1].extend(drifts)
    for ours in found.values():
        ours[0].sort(key=lambda timing: (-len(timing.hours), timing.species))
    return found


def _all_series(batches: Sequence[CountedBatch], species: str) -> dict[str, Series]:
    """Every machine's series, with the shifts found in it."""
    bare = {}
    for machine in sorted({batch.setter for batch in batches}, key=label_order):
        own = tuple(batch for batch in batches if batch.setter == machine and batch.counts)
        if own:
            windows = tuple(hatch_window(batch.counts) for batch in own if batch.counts)
            bare[machine] = Series(machine, own, windows)
    return {
        name: Series(name, one.batches, one.windows, _shifts(one, bare, species))
        for name, one in bare.items()
    }


def _shifts(one: Series, every: dict[str, Series], species: str) -> tuple[HourShift, ...]:
    others = [batch for name, other in every.items() if name != one.machine for batch in other.timed]
    return hour_shifts(one.timed, others, species)


def _timing(
    machine: str,
    species: str,
    series: dict[str, Series],
    batches: Sequence[CountedBatch],
    told: Told,
) -> tuple[MachineTiming, list[Drift]]:
    here = [batch for batch in batches if batch.setter == machine]
    not_used = dict(Counter(batch.why for batch in here if batch.why))
    one = series.get(machine)
    if one is None:
        none = MachineTiming(
            species, None, None, None, (), (), _expected([], species), 0, not_used, (), NONE_COUNTED
        )
        return none, []
    left_out = _left_out(machine, series, species)
    reference = _reference(machine, series, left_out)
    own = offset_from_others(_counts(one.batches), _counts(reference), species) if reference else None
    steady = None
    if one.shifts and one.steady and reference:
        steady = offset_from_others(_counts(one.steady), _counts(reference), species)
    published = offset_from_published(_counts(one.batches), species)
    expected = _expected(_middles(series, reference), species)
    timing = MachineTiming(
        species=species,
        own=own,
        published=published,
        steady=steady,
        left_out=left_out,
        hours=_hours(one, expected.hours),
        expected=expected,
        hatched_elsewhere=sum(batch.hatcher != machine for batch in one.batches),
        not_used=not_used,
        rivals=_rivals_of(own or published, one.batches, reference, machine, told),
        why="" if reference else NO_OTHER,
    )
    others = [name for name in series if name != machine]
    return timing, [_drift(one, shift, species, told, others) for shift in one.shifts]


def _left_out(machine: str, series: dict[str, Series], species: str) -> tuple[str, ...]:
    """Of three machines and more, the one that is clearly farthest from all others: it is no reference."""
    if len(series) < 3:
        return ()
    offsets = {
        name: offset_from_others(_counts(one.steady), _counts(_reference(name, series, ())), species)
        for name, one in series.items()
        if one.steady and _reference(name, series, ())
    }
    far = max(offsets, key=lambda name: abs(offsets[name].hours))
    return (far,) if far != machine and is_clear(offsets[far]) else ()


def _reference(machine: str, series: dict[str, Series], left_out: Sequence[str]) -> list[CountedBatch]:
    """The other machines' batches in their usual weeks."""
    kept = [one for name, one in series.items() if name != machine and name not in left_out]
    return [batch for one in kept for batch in one.steady]


def _middles(series: dict[str, Series], reference: Sequence[CountedBatch]) -> list[tuple[HatchCounts, float]]:
    """Counts and middle hour, storage taken off, of the batches of a comparison."""
    names = {batch.batch for batch in reference}
    return [
        (timed.counts, timed.fresh_middle)
        for one in series.values()
        for batch, timed in zip(one.batches, one.timed, strict=True)
        if batch.batch in names
    ]


def _expected(reference: Sequence[tuple[HatchCounts, float]], species: str) -> ExpectedHours:
    printed = published_hours(species)
    if not reference:
        return ExpectedHours(sum(printed) / 2, None, None, printed)
    counts = [one for one, _ in reference]
    hours = machine_hours(counts, sum(storage_hours_a_day()) / 2).quantile(0.5)
    early, late = np.quantile([middle for _, middle in reference], [0.025, 0.975])
    return ExpectedHours(hours, float(early) - hours, float(late) - hours, printed)


def _hours(one: Series, expected: float) -> tuple[BatchHour, ...]:
    return tuple(
        BatchHour(
            batch=batch.batch,
            set_on=batch.set_on,
            hatcher=batch.hatcher,
            median=window.median,
            low=window.median_interval.low,
            high=window.median_interval.high,
            later=timed.fresh_middle - expected,
            storage_days=batch.traits.storage_days,
        )
        for batch, window, timed in zip(one.batches, one.windows, one.timed, strict=True)
    )


def _rivals_of(
    offset: HatchOffset,
    these: Sequence[CountedBatch],
    those: Sequence[CountedBatch],
    machine: str,
    told: Told,
) -> tuple[Rival, ...]:
    if not is_clear(offset):
        return ()
    return rivals(_sides(these, those, offset, machine, told, own_months=False))


def _sides(
    these: Sequence[CountedBatch],
    those: Sequence[CountedBatch],
    offset: HatchOffset,
    machine: str,
    told: Told,
    *,
    own_months: bool,
) -> Sides:
    names = {batch.batch for batch in these}
    cut = {one.batch for one in told.happened if one.event == POWER_CUT} & names
    return Sides(these, those, offset.hours, own_months, len(cut) if machine in told.machines else None)


def _drift(one: Series, shift: HourShift, species: str, told: Told, others: Sequence[str]) -> Drift:
    these = one.batches[shift.first : shift.last + 1]
    sides = _sides(these, one.steady, shift.offset, one.machine, told, own_months=True)
    first_day, last_day = these[0].set_on.date(), these[-1].set_on.date()
    return Drift(
        what="hours",
        first_day=first_day,
        last_day=last_day,
        values=len(these),
        size=shift.offset.hours,
        low=shift.offset.interval.low,
        high=shift.offset.interval.high,
        offset=shift.offset,
        others=shift.others,
        verdict=shift.verdict,
        rivals=rivals(sides),
        sentence=hours_drift_words(one.machine, first_day, last_day, shift, species, others),
    )


def hours_within(
    machine: str, species: str, batches: Sequence[CountedBatch], first_day: date, last_day: date
) -> HatchOffset | None:
    """Batches set mostly within some days against the machine's others; None where either is not counted.

    The days come from elsewhere, such as a logger, so that no search for them has to be paid for.

    Args:
        machine: label.
        species: key.
        batches: closed batches of all machines.
        first_day: first of the days.
        last_day: last of them.
    """
    own = [one for one in batches if one.setter == machine and one.species == species and one.counts]
    within = [one for one in own if first_day <= _middle_of_setting(one) <= last_day]
    others = [one for one in own if one not in within]
    if not within or not others:
        return None
    return offset_from_others(_counts(within), _counts(others), species)


def _middle_of_setting(one: CountedBatch) -> date:
    """Half-way to the transfer; where that is not written down, to the end of what is counted."""
    last = one.counts.hours[-1] if one.counts else 0.0
    moved = one.transfer_on or one.set_on + timedelta(hours=last)
    return (one.set_on + (moved - one.set_on) / 2).date()


def _counts(batches: Sequence[CountedBatch]) -> list[HatchCounts]:
    return [batch.counts for batch in batches if batch.counts]


def is_clear(offset: HatchOffset) -> bool:
    """Whether the interval leaves out nothing."""
    return not offset.interval.low <= 0 <= offset.interval.high
