"""Which eggs are set when and where: the keeper's settings over two years."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import ceil

import numpy as np

from seed_demo.draws import happens, whole
from seed_demo.world import CHUKAR, MACHINE_APART, PEN_APART, QUAIL, TODAY, Pen, World

FIRST_SETTING = date(2024, 11, 5)
LAST_SETTING = date(2026, 10, 20)
CHUKAR_SEASON = (4, 5), (7, 31)  # month and day of the first and last setting of a year
TRANSFER_DAY = {QUAIL: 15, CHUKAR: 20}
PULL_DAY = {QUAIL: 18, CHUKAR: 24}
EGGS_PER_HEN_DAY = 0.8


@dataclass(frozen=True, slots=True)
class Batch:
    """Eggs set together.

    Attributes:
        name: label.
        species: of all its eggs.
        setter: machine until transfer.
        hatcher: machine from transfer on.
        set_on: when set.
        transfer_on: when moved.
        pulled_on: when the hatch was taken out, or None = still open.
    """

    name: str
    species: str
    setter: str
    hatcher: str
    set_on: datetime
    transfer_on: datetime
    pulled_on: datetime | None

    @property
    def end(self) -> datetime:
        """When it was, or would have been, taken out."""
        return self.pulled_on or self.set_on + timedelta(days=PULL_DAY[self.species])

    @property
    def transferred(self) -> bool:
        """Whether the move lies in the past."""
        return self.transfer_on.date() <= TODAY


@dataclass(frozen=True, slots=True)
class Tray:
    """Eggs of one pen and one storage group in a batch.

    Attributes:
        batch: its batch.
        name: label within the batch.
        pen: the pen that laid them.
        laid_from: first day of lay.
        laid_to: last day of lay.
        eggs: eggs set.
    """

    batch: Batch
    name: str
    pen: Pen
    laid_from: date
    laid_to: date
    eggs: int

    @property
    def storage_days(self) -> float:
        """Mean days from lay to setting."""
        laid = (self.laid_to - self.laid_from).days / 2
        return (self.batch.set_on.date() - self.laid_to).days + laid


def plan(world: World, rng: np.random.Generator) -> tuple[Tray, ...]:
    """All trays of the two years, batch by batch."""
    return tuple(
        tray for batch, pens in _batches(world) for tray in _trays(world, batch, pens, rng) if tray.eggs > 0
    )


def _batches(world: World) -> Iterator[tuple[Batch, tuple[Pen, ...]]]:
    yield from _weekly(world)
    yield from _apart(world)
    yield from _chukar(world)


def _weekly(world: World) -> Iterator[tuple[Batch, tuple[Pen, ...]]]:
    """Every Tuesday, four pens in turn; the two big machines by turns, half of the batches moved over."""
    quail = [pen for pen in world.pens if pen.species == QUAIL and pen.name != PEN_APART]
    for week in range((LAST_SETTING - FIRST_SETTING).days // 7 + 1):
        day = FIRST_SETTING + timedelta(days=7 * week)
        laying = [pen for pen in quail if pen.has(day - timedelta(days=7)) and pen.has(day)]
        turn = tuple(laying[(4 * week + place) % len(laying)] for place in range(4))
        setter, other = ("Flint", "Slate") if week % 2 == 0 else ("Slate", "Flint")
        hatcher = other if week // 2 % 2 else setter
        yield _batch(world, f"Q{week + 1:03d}", QUAIL, setter, hatcher, datetime.combine(day, time(18))), turn


def _apart(world: World) -> Iterator[tuple[Batch, tuple[Pen, ...]]]:
    """Every third Thursday the pen kept apart, in the machine kept for it."""
    day, number = FIRST_SETTING + timedelta(days=9), 1
    while day <= LAST_SETTING:
        at = datetime.combine(day, time(19))
        batch = _batch(world, f"M{number:02d}", QUAIL, MACHINE_APART, MACHINE_APART, at)
        yield batch, (world.pen(PEN_APART),)
        day, number = day + timedelta(days=21), number + 1


def _chukar(world: World) -> Iterator[tuple[Batch, tuple[Pen, ...]]]:
    """In their season the chukars lay; every second weekend both pens' eggs are set."""
    pens = tuple(pen for pen in world.pens if pen.species == CHUKAR)
    number = 1
    for year in (2025, 2026):
        day, last = date(year, *CHUKAR_SEASON[0]), date(year, *CHUKAR_SEASON[1])
        while day <= last:
            setter, other = ("Slate", "Flint") if number % 2 else ("Flint", "Slate")
            hatcher = other if number // 2 % 2 else setter
            at = datetime.combine(day, time(17))
            yield _batch(world, f"C{number:02d}", CHUKAR, setter, hatcher, at), pens
            day, number = day + timedelta(days=14), number + 1


def _batch(world: World, name: str, species: str, setter: str, hatcher: str, at: datetime) -> Batch:
    transfer = datetime.combine(at.date() + timedelta(days=TRANSFER_DAY[species]), time(9))
    late = 1 if setter == MACHINE_APART else 0
    pull_day = at.date() + timedelta(days=PULL_DAY[species] + late)
    pulled = datetime.combine(pull_day, time(10) if late else time(20))
    still_in = pull_day > TODAY or name == world.forgotten_batch
    return Batch(name, species, setter, hatcher, at, transfer, None if still_in else pulled)


def _trays(world: World, batch: Batch, pens: tuple[Pen, ...], rng: np.random.Generator) -> Iterator[Tray]:
    number = 0
    for pen in pens:
        wait = whole(rng, 1, 2) + waiting_longer(world, batch.set_on.date())
        groups = 2 if happens(rng, 0.15) or (batch.setter == MACHINE_APART and happens(rng, 0.4)) else 1
        for _ in range(groups):
            eggs = whole(rng, 14, 24) if groups == 1 else whole(rng, 10, 18)
            days = ceil(eggs / (EGGS_PER_HEN_DAY * pen.females))
            last = batch.set_on.date() - timedelta(days=wait)
            number += 1
            first = last - timedelta(days=days - 1)
            yield Tray(batch, str(number), pen, first, last, eggs * world.eggs_times)
            wait += days


def waiting_longer(world: World, day: date) -> int:
    """Days that eggs waited beyond the usual in the busy season: more and more until its end."""
    first, last = world.busy
    if not first <= day <= last:
        return 0
    return round(world.busy_days * (day - first) / (last - first))
