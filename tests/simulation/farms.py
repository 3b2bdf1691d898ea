"""Farms with known truth: pens, machines and batches of trays, drawn from a seed.

On the logit scale a tray's rate is the overall rate plus its pen, its machine, its batch and its own noise.
The noise of batch and tray is set so that two eggs of one tray have about the correlation asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, slots=True)
class FarmPlan:
    """What a farm looks like, apart from chance.

    Attributes:
        pens: pens, at least 2.
        machines: machines; every batch sits in one of them.
        batches: batches.
        share: chance that a pen has eggs in a batch; every batch holds at least two pens.
        smallest: fewest eggs of a tray.
        largest: most eggs of a tray.
        correlation: correlation of two eggs of one tray, 0..0.2.
        batch_part: part of the noise that all trays of a batch share, 0..1.
        rate: rate of a typical tray, 0..1.
        machine_spread: standard deviation of machines on the logit scale.
        poor_pen: rate of the first pen, or None where pens do not differ.
        home: whether each pen has a home machine for four of five batches.
    """

    pens: int = 5
    machines: int = 2
    batches: int = 14
    share: float = 0.55
    smallest: int = 12
    largest: int = 40
    correlation: float = 0.05
    batch_part: float = 0.5
    rate: float = 0.9
    machine_spread: float = 0.3
    poor_pen: float | None = None
    home: bool = False


@dataclass(frozen=True, slots=True)
class Farm:
    """One farm drawn from a plan; one entry a tray."""

    passed: np.ndarray
    eggs: np.ndarray
    pen: np.ndarray
    batch: np.ndarray
    machine: np.ndarray


def logit(rate: float) -> float:
    """Log odds of a rate."""
    return float(np.log(rate / (1 - rate)))


def draw(plan: FarmPlan, random: np.random.Generator) -> Farm:
    """One farm of the plan."""
    machine_of = np.arange(plan.batches) % plan.machines
    pen, batch = _who_is_where(plan, machine_of, random)
    eggs = random.integers(plan.smallest, plan.largest + 1, len(pen))
    spread = np.sqrt(plan.correlation / (plan.rate * (1 - plan.rate)))
    eta = np.full(len(pen), logit(plan.rate))
    eta += random.normal(0, plan.machine_spread, plan.machines)[machine_of[batch]]
    eta += random.normal(0, spread * np.sqrt(plan.batch_part), plan.batches)[batch]
    eta += random.normal(0, spread * np.sqrt(1 - plan.batch_part), len(pen))
    if plan.poor_pen is not None:
        eta += np.where(pen == 0, logit(plan.poor_pen) - logit(plan.rate), 0.0)
    passed = random.binomial(eggs, 1 / (1 + np.exp(-eta)))
    return Farm(passed, eggs, pen, batch, machine_of[batch])


def _who_is_where(
    plan: FarmPlan, machine_of: np.ndarray, random: np.random.Generator
) -> tuple[np.ndarray, np.ndarray]:
    chance = np.full((plan.batches, plan.pens), plan.share)
    if plan.home:
        at_home = machine_of[:, None] == (np.arange(plan.pens) % plan.machines)[None, :]
        chance = np.where(at_home, min(1.0, 1.6 * plan.share), 0.4 * plan.share)
    there = random.random(chance.shape) < chance
    for row in np.flatnonzero(there.sum(axis=1) < 2):
        there[row, random.choice(plan.pens, 2, replace=False)] = True
    batch, pen = np.nonzero(there)
    return pen, batch


TINY = FarmPlan()
SMALL = FarmPlan(pens=12, machines=3, batches=60, share=0.33)
