"""What became of every egg: true chances from the world, and the luck of the eggs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import exp, log

import numpy as np

from seed_demo.draws import how_many, normal
from seed_demo.plan import Batch, Tray
from seed_demo.world import STEPS, Planted, World

CRACKED = 0.012
CULLED = 0.02  # of hatched
VERY_EARLY = 0.3  # of early dead: nothing to see with the naked eye
INTERNAL = 0.45  # of eggs lost in the shell
USUAL_STORAGE = 3.5  # days; the storage effect counts from here
USUAL_AGE = 40.0  # weeks; likewise
Chances = Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Fate:
    """What truly became of a tray's eggs; together they are the eggs set.

    Attributes:
        tray: the tray.
        cracked: cracked at setting.
        infertile: never fertile.
        unseen: died so early that nothing shows.
        early: died early, seen.
        mid: died in the middle.
        late: died late.
        internal: pipped inside only.
        external: pipped through the shell, not out.
        culled: hatched, not kept.
        hatched: hatched and kept.
    """

    tray: Tray
    cracked: int
    infertile: int
    unseen: int
    early: int
    mid: int
    late: int
    internal: int
    external: int
    culled: int
    hatched: int


@dataclass(frozen=True, slots=True)
class Differences:
    """How pens, machines and batches differ besides what is planted, on the logit scale.

    Attributes:
        pens: (pen, step) -> logit.
        machines: (machine, step) -> logit.
        batches: (batch, step) -> logit.
    """

    pens: Mapping[tuple[str, str], float]
    machines: Mapping[tuple[str, str], float]
    batches: Mapping[tuple[str, str], float]


def draw_differences(world: World, trays: tuple[Tray, ...], rng: np.random.Generator) -> Differences:
    """Draws what pens, machines and batches are like; machines and batches leave fertility alone."""
    spread = world.spread
    batches = dict.fromkeys(tray.batch.name for tray in trays)
    return Differences(
        {(pen.name, step): normal(rng, spread.pen) for pen in world.pens for step in STEPS},
        {
            (machine.name, step): normal(rng, spread.machine)
            for machine in world.machines
            for step in STEPS[1:]
        },
        {(batch, step): normal(rng, spread.batch) for batch in batches for step in STEPS[1:]},
    )


def draw_chances(world: World, tray: Tray, differences: Differences, rng: np.random.Generator) -> Chances:
    """The tray's true chance of passing each step; the machine of late and shell is the hatcher."""
    batch = tray.batch
    chances = {}
    for step, base in zip(STEPS, world.base[batch.species], strict=True):
        machine = batch.hatcher if step in ("late", "shell") else batch.setter
        logit = (
            log(base / (1 - base))
            + differences.pens[tray.pen.name, step]
            + differences.machines.get((machine, step), 0.0)
            + differences.batches.get((batch.name, step), 0.0)
            + planted(world, tray, step)
            + normal(rng, world.spread.tray)
        )
        chances[step] = 1 / (1 + exp(-logit))
    return chances


def planted(world: World, tray: Tray, step: str) -> float:
    """What is planted for this tray in a step (or in timing, shell_mm, water_loss), added up."""
    return sum(effect.size * _dose(effect, tray) for effect in world.planted if effect.step == step)


def _dose(effect: Planted, tray: Tray) -> float:
    """How much of an effect a tray gets: 0 to 1 for dated ones, days or weeks for slopes."""
    batch = tray.batch
    if effect.factor == "storage":
        return tray.storage_days - USUAL_STORAGE
    if effect.factor == "hen_age":
        return (tray.laid_to - tray.pen.hens_hatched_on).days / 7 - USUAL_AGE
    if effect.factor in ("pen", "diet"):
        return _share(effect, tray.laid_from, tray.laid_to) if tray.pen.name == effect.level else 0.0
    if effect.factor == "hatcher":
        return (
            _share(effect, batch.transfer_on.date(), batch.end.date())
            if batch.hatcher == effect.level
            else 0.0
        )
    until = _early_end(batch) if effect.step == "early" else batch.transfer_on
    return _share(effect, batch.set_on.date(), until.date()) if batch.setter == effect.level else 0.0


def _early_end(batch: Batch) -> datetime:
    return batch.set_on + timedelta(days=7)


def _share(effect: Planted, first: date, last: date) -> float:
    """Share of the days first..last, both included, on which the effect was at work."""
    start = max(first, effect.start) if effect.start else first
    end = min(last, effect.end) if effect.end else last
    return max(0, (end - start).days + 1) / ((last - first).days + 1)


def draw_fate(tray: Tray, chances: Chances, rng: np.random.Generator) -> Fate:
    """Lets the eggs pass the steps one after the other."""
    cracked = how_many(rng, tray.eggs, CRACKED)
    left = tray.eggs - cracked
    lost = {}
    for step in STEPS:
        lost[step] = left - how_many(rng, left, chances[step])
        left -= lost[step]
    unseen = how_many(rng, lost["early"], VERY_EARLY)
    internal = how_many(rng, lost["shell"], INTERNAL)
    culled = how_many(rng, left, CULLED)
    return Fate(
        tray, cracked, lost["fertile"], unseen, lost["early"] - unseen, lost["mid"], lost["late"],
        internal, lost["shell"] - internal, culled, left - culled,
    )  # fmt: skip
