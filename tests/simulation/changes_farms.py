"""Farms in which something was changed on a known day, with a known effect or none.

On the logit scale a tray's rate is the overall rate plus its pen, machine, batch, its pen's (machine's)
month, its own noise and, for touched trays after the day, the effect.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from farms import TINY, FarmPlan, _who_is_where, logit

from analytics.changes.layout import Layout


@dataclass(frozen=True, slots=True)
class ChangePlan:
    """A kind of farm with a change.

    Attributes:
        farm: pens, machines, batches, eggs, likeness, rate.
        touched: pens (machines) that are changed, the first ones; as many as there are leaves none untouched.
        months: months over which the batches are spread evenly.
        since: share of the batches that lie before the change.
        effect: log odds of passing that the change adds.
        pen_months: standard deviation of a pen's (machine's) own months on the logit scale.
        drift: standard deviation of the steps, month by month, of a walk that each pen takes by itself.
        machine: whether a machine is changed, not pens.
    """

    farm: FarmPlan = TINY
    touched: int = 1
    months: int = 7
    since: float = 0.5
    effect: float = 0.0
    pen_months: float = 0.0
    drift: float = 0.0
    machine: bool = False


@dataclass(frozen=True, slots=True)
class ChangeFarm:
    """One farm, an entry a tray.

    Attributes:
        passed: eggs that passed.
        eggs: eggs that entered.
        layout: who is touched, what is after, what is held equal.
        points: true mean effect on the rate of the touched trays after the change.
    """

    passed: np.ndarray
    eggs: np.ndarray
    layout: Layout
    points: float


def draw_change(plan: ChangePlan, random: np.random.Generator) -> ChangeFarm:
    """One farm of the plan."""
    farm = plan.farm
    machine_of = np.arange(farm.batches) % farm.machines
    pen, batch = _who_is_where(farm, machine_of, random)
    month = batch * plan.months // farm.batches
    unit = machine_of[batch] if plan.machine else pen
    touched, after = unit < plan.touched, batch >= plan.since * farm.batches
    eggs = random.integers(farm.smallest, farm.largest + 1, len(pen)).astype(float)
    spread = np.sqrt(farm.correlation / (farm.rate * (1 - farm.rate)))
    eta = logit(farm.rate) + random.normal(0, 0.3, farm.pens)[pen]
    eta += random.normal(0, farm.machine_spread, farm.machines)[machine_of[batch]]
    eta += random.normal(0, spread * np.sqrt(farm.batch_part), farm.batches)[batch]
    eta += random.normal(0, spread * np.sqrt(1 - farm.batch_part), len(pen))
    own = random.normal(0, plan.pen_months, (int(unit.max()) + 1, plan.months))
    own += np.cumsum(random.normal(0, plan.drift, own.shape), axis=1)
    eta += own[unit, month]
    without = 1 / (1 + np.exp(-eta))
    rate = 1 / (1 + np.exp(-eta - plan.effect * (touched & after)))
    hit = touched & after
    points = float(np.average((rate - without)[hit], weights=eggs[hit])) if hit.any() else 0.0
    held = {"month": month, "pen": pen} if plan.machine else {"batch": batch}
    layout = Layout(touched, after, unit, held, unit * plan.months + month)
    return ChangeFarm(random.binomial(eggs.astype(int), rate).astype(float), eggs, layout, points)
