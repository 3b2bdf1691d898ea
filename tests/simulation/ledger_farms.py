"""Farms whose ledger is known: trays on a ladder of steps, with true effects drawn from a seed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.attribution.draws import Draws
from analytics.attribution.ledger import SLOPE_PRIOR, Account, account
from analytics.attribution.terms import BETWEEN, Terms, Trays, terms_of

THREE = (("fertile", 0.90), ("early", 0.93), ("late", 0.92))
FIVE = (("fertile", 0.90), ("early", 0.95), ("mid", 0.98), ("late", 0.95), ("shell", 0.96))
NEAR_ALL = (("fertile", 0.99), ("early", 0.985), ("late", 0.985))
TARGET = 0.77
Sds = dict[str, float]


@dataclass(frozen=True, slots=True)
class LedgerPlan:
    """What a farm looks like, apart from chance.

    Attributes:
        pens: pens.
        machines: machines; batches take turns in them.
        batches: batches.
        per_month: batches a month.
        share: chance that a pen has eggs in a batch.
        home: whether each pen only ever goes into one machine.
        steps: step and typical rate.
        sizes: fewest and most eggs of a tray; None = very uneven (a few trays hold most eggs).
        sds: sd on the logit scale by factor ("" = any other); None = drawn from the half-normal(1) prior.
        slope: sd of the slopes per standard deviation of storage and hen age.
        far_pen: logit added to the first pen in the first step.
        failing: logit added to the first pen in the first step in the later half of the months.
    """

    pens: int = 5
    machines: int = 2
    batches: int = 14
    per_month: int = 2
    share: float = 0.55
    home: bool = False
    steps: tuple[tuple[str, float], ...] = THREE
    sizes: tuple[int, int] | None = (12, 40)
    sds: Sds | None = None
    slope: float = SLOPE_PRIOR
    far_pen: float = 0.0
    failing: float = 0.0


def lay_trays(plan: LedgerPlan, rng: np.random.Generator) -> Trays:
    """Who is where, how many eggs, how old; nothing has hatched yet."""
    machine_of = np.arange(plan.batches) % plan.machines
    batch, pen = np.nonzero(_there(plan, machine_of, rng))
    trays, month = len(pen), batch // plan.per_month
    eggs = rng.integers(*plan.sizes, trays, endpoint=True) if plan.sizes else _uneven(trays, rng)
    machine = np.char.add("M", machine_of[batch].astype(str))
    return Trays(
        steps=tuple(name for name, _ in plan.steps),
        eggs=eggs.astype(float),
        passed=np.zeros((trays, len(plan.steps))),
        pen=np.char.add("pen ", pen.astype(str)),
        setter=machine,
        hatcher=machine,
        batch=np.char.add("batch ", np.char.zfill(batch.astype(str), 3)),
        month=np.char.add("month ", np.char.zfill(month.astype(str), 2)),
        storage_days=rng.uniform(1, 6, plan.batches)[batch] + rng.uniform(0, 5, trays),
        hen_weeks=rng.uniform(10, 50, plan.pens)[pen] + 4.3 * month,
        diets={},
        parents={},
    )


def _there(plan: LedgerPlan, machine_of: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Batches x pens: whose eggs are in which batch; at least two pens, as far as there are two."""
    home = np.arange(plan.pens) % plan.machines
    able = (machine_of[:, None] == home[None, :]) if plan.home else np.ones((plan.batches, plan.pens), bool)
    there = able & (rng.random(able.shape) < min(1.0, plan.share * (1.6 if plan.home else 1.0)))
    for row in np.flatnonzero(there.sum(axis=1) < 2):
        those = np.flatnonzero(able[row])
        there[row, rng.choice(those, min(2, len(those)), replace=False)] = True
    return there


def _uneven(trays: int, rng: np.random.Generator) -> np.ndarray:
    return np.clip(np.exp(rng.normal(2.6, 1.0, trays)), 2, 200).astype(int)


def draw_truth(plan: LedgerPlan, trays: Trays, terms: Terms, at: int, rng: np.random.Generator) -> Draws:
    """True effects of a step, in the form of a single draw."""
    names = [each.factor.name for each in terms.groupings]
    sds = np.array([_sd(plan, name, rng) for name in (*names, "tray")])
    effects = [
        sd * rng.normal(size=len(each.factor.levels)) for sd, each in zip(sds, terms.groupings, strict=False)
    ]
    if at == 0 and plan.far_pen:
        effects[names.index("pen")][0] += plan.far_pen
    if at == 0 and plan.failing:
        effects[names.index("pen:month")] += plan.failing * _late_months(terms, trays)
    typical = plan.steps[at][1]
    middle = np.log(typical / (1 - typical)) + (0.3 * rng.normal() if plan.sds is None else 0.0)
    slopes = [plan.slope * rng.normal() / np.std(each.dose) for each in terms.covariates]
    b = np.array([[middle, *slopes]])
    return Draws(tuple(names), b, tuple(effect[None] for effect in effects), sds[None], 1.0, 1)


def _late_months(terms: Terms, trays: Trays) -> np.ndarray:
    """1 for the first pen's months in the later half of all, else 0."""
    (cells,) = (each.factor.levels for each in terms.groupings if each.factor.name == "pen:month")
    months = np.unique(trays.month)
    late = set(months[len(months) // 2 :].tolist())
    first = f"{np.unique(trays.pen)[0]}{BETWEEN}"
    return np.array([cell.startswith(first) and cell.removeprefix(first) in late for cell in cells])


def _sd(plan: LedgerPlan, name: str, rng: np.random.Generator) -> float:
    if plan.sds is None:
        return float(abs(rng.normal()))
    return plan.sds.get(name, plan.sds[""])


def hatch(trays: Trays, terms: list[Terms], truth: list[Draws], rng: np.random.Generator) -> Trays:
    """Lets the eggs pass the steps one after the other."""
    passed, left = np.zeros_like(trays.passed), trays.eggs.astype(int)
    for at, (term, true) in enumerate(zip(terms, truth, strict=True)):
        eta = true.b[0, 0] + true.sds[0, -1] * rng.normal(size=len(left))
        for each, slope in zip(term.covariates, true.b[0, 1:], strict=True):
            eta = eta + slope * each.dose
        for each in term.groupings:
            eta = eta + true.of(each.factor.name)[0][each.factor.codes]
        left = rng.binomial(left, 1 / (1 + np.exp(-eta)))
        passed[:, at] = left
    named = {name: getattr(trays, name) for name in Trays.__dataclass_fields__}
    return Trays(**{**named, "passed": passed})


def make_farm(plan: LedgerPlan, rng: np.random.Generator) -> tuple[Trays, Account]:
    """A farm, and its true ledger."""
    trays = lay_trays(plan, rng)
    terms = [terms_of(trays, step) for step in trays.steps]
    truth = [draw_truth(plan, trays, term, at, rng) for at, term in enumerate(terms)]
    trays = hatch(trays, terms, truth, rng)
    return trays, account(trays, TARGET, terms, truth)
