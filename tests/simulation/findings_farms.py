"""Farms with one cause that is known, or none: batches and trays noisy, everything else alike.

On the logit scale a tray's rate in a step is the typical rate plus its batch and its own noise, set so that
two eggs of one tray have about the correlation .05, half of it shared by the batch. The cause, where there is
one, lowers one step of the eggs it touches so far that these eggs' own hatch of set falls by so many points.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from ledger_farms import LedgerPlan, lay_trays
from scipy.optimize import brentq
from scipy.special import expit, logit

from analytics.attribution.terms import Trays

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(15)
LONG = 7.0
"""Days of storage beyond which eggs count as stored long."""


@dataclass(frozen=True, slots=True)
class Cause:
    """What goes wrong.

    Attributes:
        factor: pen, incubator or storage.
        level: the level, "" for storage.
        step: the step in which eggs are lost.
        points: by how much hatch of set falls, 0..1.
        months: first and last month of it by their places, -1 = the last there is; None = always.
    """

    factor: str
    level: str
    step: str
    points: float = 0.10
    months: tuple[int, int] | None = None

    def touches(self, trays: Trays) -> np.ndarray:
        """The trays that it touches."""
        whose: dict[str, Callable[[], np.ndarray]] = {
            "pen": lambda: trays.pen == self.level,
            "incubator": lambda: trays.setter == self.level,
            "storage": lambda: trays.storage_days > LONG,
        }
        first, last = self.ends(trays)
        return whose[self.factor]() & (trays.month >= first) & (trays.month <= last)

    def ends(self, trays: Trays) -> tuple[str, str]:
        """Names of its first and last month."""
        months = np.unique(trays.month)
        first, last = self.months or (0, -1)
        return str(months[first]), str(months[last])


@dataclass(frozen=True, slots=True)
class CausePlan:
    """A kind of farm.

    Attributes:
        farm: its layout and typical rates.
        cause: what goes wrong, or None.
        correlation: of two eggs of one tray in a step.
    """

    farm: LedgerPlan
    cause: Cause | None = None
    correlation: float = 0.05


def make_trays(plan: CausePlan, rng: np.random.Generator) -> Trays:
    """A farm."""
    trays = lay_trays(plan.farm, rng)
    batches, batch = np.unique(trays.batch, return_inverse=True)
    touched = plan.cause.touches(trays) if plan.cause else np.zeros(len(batch), dtype=bool)
    passed, left = np.zeros_like(trays.passed), trays.eggs.astype(int)
    for at, (step, typical) in enumerate(plan.farm.steps):
        sd = noise(plan, typical) / np.sqrt(2)
        eta = logit(typical) + sd * rng.normal(size=len(batches))[batch] + sd * rng.normal(size=len(batch))
        if plan.cause and step == plan.cause.step:
            eta = eta + touched * drop(plan)
        left = rng.binomial(left, expit(eta))
        passed[:, at] = left
    return replace(trays, passed=passed)


def noise(plan: CausePlan, typical: float) -> float:
    """Sd of batch and tray together on the logit scale."""
    return float(np.sqrt(plan.correlation / (typical * (1 - typical))))


def drop(plan: CausePlan) -> float:
    """Logits by which the cause lowers its step, so that hatch of set falls by its points."""
    assert plan.cause
    means = {step: mean(plan, rate, 0.0) for step, rate in plan.farm.steps}
    own, whole = means[plan.cause.step], float(np.prod(list(means.values())))
    typical, left = dict(plan.farm.steps)[plan.cause.step], own * (1 - plan.cause.points / whole)
    return float(brentq(lambda logits: mean(plan, typical, logits) - left, -9.0, 0.0))


def mean(plan: CausePlan, typical: float, logits: float) -> float:
    """Mean rate of all trays of a step."""
    return float(expit(logit(typical) + logits + noise(plan, typical) * NODES) @ WEIGHTS / WEIGHTS.sum())
