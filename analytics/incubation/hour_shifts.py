"""From when to when a machine's batches hatched early or late, and whether its neighbours did so too.

The batches of a machine, in order of setting, are one series of middle hours, storage taken off. Where it
leaves its level, those batches are held against the machine's other ones, and what hatched in other machines
in the same weeks against their other weeks. A shift that the neighbours share is no drift of this machine.
Reported are shifts clear of nothing that are worth `LEAST_C` of warmth at the least published slope.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analytics.incubation.drift import levels
from analytics.measures.hatch_timing import HatchCounts, HatchOffset, machine_hours, offset_from_others
from analytics.measures.hour_beliefs import HourBelief
from analytics.reference.hatch_shifts import hours_earlier_a_degree, storage_hours_a_day

LEAST_C = 0.3
"""Warmth worth naming, °C (common practice, no source: 0.3 to 0.6 for the whole term costs chicks)."""
_HALF = 0.5
_TAIL = 0.025

Verdict = Literal["machine", "all_machines", "cannot_tell"]


@dataclass(frozen=True, slots=True)
class TimedBatch:
    """A batch of one machine.

    Attributes:
        day: day of setting, counted from any day.
        middle: hours from setting to its middle chick.
        counts: its counts.
    """

    day: float
    middle: float
    counts: HatchCounts

    @property
    def fresh_middle(self) -> float:
        """Its middle hour if its eggs had not been stored, by the middle of the published rates."""
        return self.middle - sum(storage_hours_a_day()) / 2 * self.counts.storage_days


@dataclass(frozen=True, slots=True)
class HourShift:
    """Batches that hatched apart from the machine's others.

    Attributes:
        first: place of the first of them in the series.
        last: place of the last.
        offset: against the machine's other batches, with the warmth that this may mean.
        others: the same weeks against other weeks in the other machines; None where none was counted then.
        verdict: whether it is this machine, all of them, or not to be told.
    """

    first: int
    last: int
    offset: HatchOffset
    others: HatchOffset | None
    verdict: Verdict


def hour_shifts(
    own: Sequence[TimedBatch], others: Sequence[TimedBatch], species: str
) -> tuple[HourShift, ...]:
    """The stretches in which a machine hatched apart from its usual hours.

    Args:
        own: batches of one species in the machine, by day of setting.
        others: those of the other machines.
        species: key.
    """
    rate = sum(storage_hours_a_day()) / 2
    others_at = machine_hours([batch.counts for batch in others], rate).quantile(0.5) if others else None
    found = levels([batch.fresh_middle for batch in own], towards=others_at)
    apart = {place for shift in found.shifts for place in range(shift.first, shift.last + 1)}
    usual = [batch.counts for place, batch in enumerate(own) if place not in apart]
    made = [_shift(own, usual, others, shift.first, shift.last, species) for shift in found.shifts]
    least = LEAST_C * hours_earlier_a_degree(species)[0]
    return tuple(one for one in made if _is_clear(one.offset) and abs(one.offset.hours) >= least)


def _shift(
    own: Sequence[TimedBatch],
    usual: Sequence[HatchCounts],
    others: Sequence[TimedBatch],
    first: int,
    last: int,
    species: str,
) -> HourShift:
    stretch = [batch.counts for batch in own[first : last + 1]]
    start, end = own[first].day, own[last].day
    now = [batch.counts for batch in others if start <= batch.day <= end]
    else_when = [batch.counts for batch in others if not start <= batch.day <= end]
    offset = offset_from_others(stretch, usual, species)
    if not now or not else_when:
        return HourShift(first, last, offset, None, "cannot_tell")
    meanwhile = offset_from_others(now, else_when, species)
    beyond = _moved(stretch, usual).minus(_moved(now, else_when))
    return HourShift(first, last, offset, meanwhile, _verdict(offset, meanwhile, beyond))


def _moved(some: Sequence[HatchCounts], others: Sequence[HatchCounts]) -> HourBelief:
    rate = sum(storage_hours_a_day()) / 2
    return machine_hours(some, rate).minus(machine_hours(others, rate))


def _verdict(offset: HatchOffset, meanwhile: HatchOffset, beyond: HourBelief) -> Verdict:
    """The machine's own where it moved clearly farther than the others; all where they went half of it."""
    way = 1 if offset.hours > 0 else -1
    if way * meanwhile.hours >= _HALF * abs(offset.hours):
        return "all_machines"
    nearest = beyond.quantile(_TAIL) if way > 0 else -beyond.quantile(1 - _TAIL)
    return "machine" if nearest > 0 else "cannot_tell"


def _is_clear(offset: HatchOffset) -> bool:
    return not offset.interval.low <= 0 <= offset.interval.high
