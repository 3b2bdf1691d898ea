"""How often the watch of pens and machines cries wolf, and how soon it sees a real drop.

    python tests/simulation/monitoring.py [--runs N] [--only TEXT ...] [--write]

Whole farms by month: every pen sets the same trays a month, spread over weekly batches that take turns in
the machines, five steps of the ladder, pens and machines truly different. A year of baseline, then reviews.
Everything is as in the program: how alike eggs of a tray and of a batch are is estimated from the farm's own
trays, up to the half-year before. Exits 1 when a figure misses its limits by more than chance allows; the
limits stand beside the committed figures in monitoring.csv; `--write` puts the figures found there. Figures
without limits are for contrast: there the farm asks more than the watch can give, and the figure says how
much it gives.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.measures.clustering import estimate_clustering  # isort: skip
from analytics.monitoring.distance import smallest_drop  # isort: skip
from analytics.monitoring.records import Charts, MonthlyCounts  # isort: skip
from analytics.monitoring.watch import watch  # isort: skip

import numpy as np
from figures import Figures, Row, run
from interval_farms import _beta as beta_chance
from interval_farms import cluster_sums

SEED = 20261125
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "value", "error", "runs", "lowest", "highest"),
    figure="value",
    about=f"seed {SEED}",
)
STEPS = ("fertility", "early_loss", "mid_loss", "late_loss", "shell_loss")
HALF_YEAR = 6
BASE = np.array([0.90, 0.95, 0.98, 0.95, 0.96])


@dataclass(frozen=True, slots=True)
class Plan:
    """A kind of farm.

    Attributes:
        pens: pens.
        machines: machines.
        batches: batches a month, taken by the machines in turn.
        trays: trays of a pen in a month, a multiple of the batches.
        size: eggs of a tray.
        likeness: correlation of two eggs of a tray.
        of_batch: part of it that all trays of the batch share, fertility aside.
        spread: standard deviation of pens and of machines in every step, log odds.
        before: months before the first review.
        reviews: months reviewed.
        change: what changes in the last two months: "", "pen" (fertility of the first pen), "machine" (early
            and late deaths in the first machine), "seen" (as pen, by the drop the watch says it could see).
        size_of_change: fall of fertility as a share, or log odds for a machine.
        late_pens: pens that begin only with the first review.
        restless: standard deviation of a pen's months in every step besides, log odds.
    """

    pens: int = 5
    machines: int = 2
    batches: int = 4
    trays: int = 8
    size: int = 20
    likeness: float = 0.02
    of_batch: float = 0.5
    spread: float = 0.25
    before: int = 12
    reviews: int = 12
    change: str = ""
    size_of_change: float = 0.0
    late_pens: int = 0
    restless: float = 0.0

    @property
    def months(self) -> int:
        """All months."""
        return self.before + self.reviews


def cells() -> dict[str, Plan]:
    """Every kind of farm by name."""
    five, twelve = Plan(), Plan(pens=12, machines=3)
    two = {"reviews": 2}
    found = {
        f"no change, {name}, r {r:.2f}": replace(plan, likeness=r)
        for name, plan in (("5 pens", five), ("12 pens", twelve))
        for r in (0.0, 0.02, 0.05, 0.10)
    }
    found |= {
        "no change, 5 pens, 3 trays a month": replace(five, batches=3, trays=3, likeness=0.05),
        "no change, 30 pens": replace(twelve, pens=30, likeness=0.05, trays=4),
        "no change, 5 pens, 6 months before": replace(five, before=6, likeness=0.05),
        "no change, 5 pens, all alike": replace(five, spread=0.0, likeness=0.05),
        "no change, 5 pens, 2 of them new": replace(five, late_pens=2, likeness=0.05),
        "no change, 5 pens whose months differ": replace(five, restless=0.25),
        "no change, 5 pens whose months differ a little": replace(five, restless=0.15),
        "no change, 12 pens whose months differ": replace(twelve, restless=0.25, likeness=0.05),
        "no change, one pen and machine": replace(five, pens=1, machines=1, likeness=0.05),
    }
    for name, plan in (("5 pens", five), ("12 pens", twelve)):
        for r in (0.0, 0.02, 0.03, 0.05):
            drop = replace(plan, likeness=r, change="pen", size_of_change=0.10, **two)
            found[f"fertility down 10 points, {name}, r {r:.2f}"] = drop
    found |= {
        "the drop it says it sees, 3 trays": replace(
            five, batches=3, trays=3, change="seen", likeness=0.05, **two
        ),
        "the drop it says it sees, 8 trays": replace(five, change="seen", likeness=0.05, **two),
        "the drop it says it sees, 8 trays, 12 pens": replace(twelve, change="seen", likeness=0.05, **two),
        "the drop it says it sees, 8 trays, r 0.10": replace(five, change="seen", likeness=0.10, **two),
        "a machine's bad months, 12 pens": replace(
            twelve, machines=2, batches=8, change="machine", size_of_change=-1.2, of_batch=0.3, **two
        ),
    }
    return found


def counts_of(plan: Plan, random: np.random.Generator, farms: int, drops: np.ndarray) -> list[MonthlyCounts]:
    """Farms of the plan as the store would sum them.

    Args:
        plan: the kind.
        random: its chance.
        farms: how many.
        drops: fall of the first pen's fertility in the last two months, one a farm.
    """
    weeks = plan.batches
    trays = plan.trays // weeks
    batches = plan.months * weeks
    machine = np.arange(batches) % plan.machines
    shape = (farms, len(STEPS), batches, plan.pens, trays)
    eta = np.log(BASE / (1 - BASE))[:, None, None, None] + np.zeros(shape)
    eta += random.normal(0, 1, (farms, len(STEPS), 1, plan.pens, 1)) * plan.spread
    if plan.restless:
        months = random.normal(0, plan.restless, (farms, len(STEPS), plan.months, plan.pens, 1))
        eta += np.repeat(months, weeks, axis=2)
    machines = random.normal(0, 1, (farms, len(STEPS), plan.machines)) * plan.spread
    machines[:, 0] = 0
    eta += machines[:, :, machine][..., None, None]
    late = np.arange(batches) >= batches - 2 * weeks
    if plan.change == "machine":
        eta[:, 1::2, late & (machine == 0)] += plan.size_of_change
    chance = 1 / (1 + np.exp(-eta))
    chance[:, 0, late, 0] = np.maximum(chance[:, 0, late, 0] - drops[:, None, None], 0.01)
    if plan.likeness:
        chance = np.stack([_alike(plan, step, chance[:, step], random) for step in range(len(STEPS))], axis=1)
    eggs = np.full(shape[:1] + shape[2:], plan.size)
    if plan.late_pens:
        eggs[:, : plan.before * weeks, : plan.late_pens] = 0
    entered, passed = [], []
    for step in range(len(STEPS)):
        entered.append(eggs)
        eggs = random.binomial(eggs, chance[:, step])
        passed.append(eggs)
    both = np.array([entered, passed], dtype=float)
    return [_summed(plan, both[:, :, farm], machine, weeks) for farm in range(farms)]


def _alike(plan: Plan, step: int, chance: np.ndarray, random: np.random.Generator) -> np.ndarray:
    """Chances of trays about expected ones, shape (farms, batches, pens, trays): by batch, then by tray."""
    of_batch = plan.likeness * plan.of_batch if step else 0.0
    if of_batch:
        latent = random.normal(0, 1, (*chance.shape[:2], 1, 1))
        chance = beta_chance(chance[..., :1], of_batch, latent) * np.ones(chance.shape)
    chance = np.clip(chance, 1e-4, 1 - 1e-4)
    total = (1 - of_batch) / (plan.likeness - of_batch) - 1
    return random.beta(chance * total, (1 - chance) * total)


def _summed(plan: Plan, both: np.ndarray, machine: np.ndarray, weeks: int) -> MonthlyCounts:
    """One farm's trays, shape (entered and passed, steps, batches, pens, trays), summed by month."""
    steps, batches, pens, trays = both.shape[1:]
    batch, pen = (np.repeat(*at) for at in ((np.arange(batches), pens * trays), (np.arange(pens), trays)))
    pen = np.tile(pen, batches)
    likeness = np.zeros((2, steps, plan.months))
    for first in range(0, plan.reviews, HALF_YEAR):
        known = batch < (plan.before + first) * weeks
        for step in range(steps):
            n, y = both[0, step].ravel()[known], both[1, step].ravel()[known]
            found = estimate_clustering(cluster_sums(batch[known], pen[known], y, n))
            likeness[:, step, plan.before + first if first else 0 :] = [[found.rho_tray], [found.rho_batch]]
    in_machine = (machine == np.arange(plan.machines)[:, None]).astype(float)

    def monthly(values: np.ndarray) -> np.ndarray:
        """Sums (steps, batches, ...) to (steps, months, ..., machines)."""
        split = values.reshape(steps, plan.months, weeks, *values.shape[2:])
        there = in_machine.reshape(plan.machines, plan.months, weeks)
        return np.einsum("stw...,mtw->st...m", split, there)

    by_batch = both.sum(axis=-1)
    cells_of = [monthly(values) for values in by_batch]
    return MonthlyCounts(
        steps=STEPS,
        machines=tuple(f"M{i}" for i in range(plan.machines)),
        pens=tuple(f"P{i}" for i in range(pens)),
        entered=cells_of[0][None],
        passed=cells_of[1][None],
        tray_squares=monthly((both[0] ** 2).sum(axis=-1)),
        batch_squares=monthly(by_batch[0] ** 2),
        machine_squares=monthly(by_batch[0].sum(axis=-1) ** 2),
        likeness=likeness,
        part=np.ones(plan.months),
    )


def seen(charts: Charts, month: int, unit: int) -> float:
    """The fall of fertility that the watch says it could have seen."""
    asked = (charts.reach[0, 0], charts.worth, charts.expected, charts.base_worth, charts.clustered)
    return float(smallest_drop(*(values[0, month, unit] for values in asked)))


def outcomes(plan: Plan, random: np.random.Generator, farms: int) -> dict[str, list[float]]:
    """One number a farm, by figure."""
    drops = np.full(farms, plan.size_of_change if plan.change == "pen" else 0.0)
    pen = 1 + plan.machines
    if plan.change == "seen":
        quiet = [watch(one, plan.before) for one in counts_of(plan, random, 40, np.zeros(40))]
        drops[:] = np.nanmedian([seen(one, plan.months - 1, pen) for one in quiet])
    told: dict[str, list[float]] = {}
    for counts in counts_of(plan, random, farms, drops):
        new = np.abs(watch(counts, plan.before).state[:, plan.before :]) == 1
        if not plan.change:
            told.setdefault("false signals a year", []).append(float(new.sum()))
        elif plan.change == "machine":
            told.setdefault("machine signalled", []).append(float(new[1::2, :, 1].any()))
            told.setdefault("pens signalled", []).append(float(new[1::2, :, pen:].sum()))
        else:
            told.setdefault("pen signalled", []).append(float(new[0, :, pen].any()))
    return told


LIMITS = {
    "false signals a year": ("", "1.0"),
    "machine signalled": ("0.90", ""),
    "pens signalled": ("", "0.30"),
    "pen signalled": ("0.90", ""),
}
MOST_ALIKE = 0.02
"""Likeness of a tray's eggs up to which eight trays of 20 a month show a fall of ten points in two months."""
CHUNK = 50


def rows_of(name: str, plan: Plan, runs: int) -> list[Row]:
    """The figures of one kind of farm."""
    random = np.random.default_rng([SEED, *name.encode()])
    told: dict[str, list[float]] = {}
    for first in range(0, runs, CHUNK):
        for figure, values in outcomes(plan, random, min(CHUNK, runs - first)).items():
            told.setdefault(figure, []).extend(values)
    return [_row(name, plan, figure, values) for figure, values in told.items()]


def _row(name: str, plan: Plan, figure: str, values: list[float]) -> Row:
    mean, runs = float(np.mean(values)), len(values)
    error = sqrt(max(float(np.var(values)), 0.02) / runs)
    limits = ("", "") if plan.change == "pen" and plan.likeness > MOST_ALIKE else LIMITS[figure]
    told = (name, figure, f"{mean:.4f}", f"{error:.4f}", str(runs), *limits)
    return dict(zip(FIGURES.columns, told, strict=True))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, cells(), rows_of))
