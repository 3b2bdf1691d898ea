"""How often slopes of a rate are called real when they are not, and how often their intervals hold the truth.

    python tests/simulation/slopes.py [--runs N] [--only TEXT ...] [--write]

Trays' expected rates are straight in x by construction, so the true slope is known exactly; trays and batches
are alike by a Beta chance that keeps those means. Prints a line per kind of farm and figure, and exits 1 when
a figure misses its limits by more than chance allows (99.9 % band of the runs made). The limits stand beside
the committed figures in slopes.csv; `--write` puts the figures found there. Figures without limits are for
contrast: the independent trend test calls chance a trend, or a poor pen that is stored long. The test of a
bend is conservative in places and has no lower limit.

Where x does nothing the odds ratio is 1 as well. Farms named by log odds have trays' expected log odds
straight in x, pens and machines on that scale; there only odds ratios have a truth. Intervals of odds are
careful in places (few losses, likeness of batches), as their lower limit says.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from math import exp, sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.comparisons.slope import clustered_slope  # isort: skip
from analytics.comparisons.slope_records import Slope  # isort: skip
from analytics.comparisons.trend import trend  # isort: skip

import numpy as np
from farms import SMALL, TINY, FarmPlan, draw, logit
from figures import Figures, Row, run
from interval_farms import _beta as beta_chance

ALPHA = 0.05
SEED = 20260412
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "share", "error", "runs", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; at {ALPHA}",
)
SLOPES = ("within", "same_batch", "between")
HIGHEST = 10


@dataclass(frozen=True, slots=True)
class XPlan:
    """A kind of farm with a number x from 0 to 10 on every tray.

    Attributes:
        farm: pens, machines, batches, eggs, likeness; machines and poor pens of it are not used.
        by: what x is drawn for: "tray", "batch", or "pen" (each pen has its own mean, trays vary about it).
        slope: true change of a tray's rate per unit of x.
        pen_spread: standard deviation of pens' rates.
        log_odds: true change of a tray's log odds per unit of x where rates are not straight in x.
        poor_stored: whether the pens of high mean x are the poor ones, x doing nothing.
        machine_spread: standard deviation of machines' rates.
    """

    farm: FarmPlan
    by: str = "tray"
    slope: float = 0.0
    log_odds: float = 0.0
    pen_spread: float = 0.03
    poor_stored: bool = False
    machine_spread: float = 0.02


def cells() -> dict[str, XPlan]:
    """Every kind of farm by name; tiny has 5 pens, 2 machines and 14 batches, small 12, 3 and 60."""
    made = {
        f"tiny, x by {by}, r {r:.2f}, rate {rate:.2f}": XPlan(replace(TINY, correlation=r, rate=rate), by)
        for by in ("tray", "batch")
        for r in (0.0, 0.05, 0.10)
        for rate in (0.6, 0.9)
    }
    made |= {
        "tiny, x by pen": XPlan(TINY, "pen"),
        "tiny, poor pens stored long": XPlan(TINY, "pen", pen_spread=0.06, poor_stored=True),
        "tiny, slope -0.01": XPlan(replace(TINY, rate=0.85), slope=-0.01),
        "tiny, slope -0.01 by batch": XPlan(replace(TINY, rate=0.85), "batch", slope=-0.01),
        "tiny, few losses, slope 0.003": XPlan(replace(TINY, rate=0.95), slope=0.003, pen_spread=0.01),
        "tiny, trays of 3 to 90": XPlan(replace(TINY, correlation=0.1, smallest=3, largest=90)),
        "tiny, likeness of batches only": XPlan(replace(TINY, correlation=0.1, batch_part=1.0)),
        "small, x by tray": XPlan(SMALL),
        "small, x by batch": XPlan(SMALL, "batch"),
        "small, x by pen": XPlan(SMALL, "pen"),
        "small, poor pens stored long": XPlan(SMALL, "pen", pen_spread=0.06, poor_stored=True),
        "small, slope -0.01": XPlan(replace(SMALL, rate=0.85), slope=-0.01),
        "small, slope 0.01 by batch, r 0.10": XPlan(
            replace(SMALL, rate=0.85, correlation=0.1), "batch", slope=0.01
        ),
        "tiny, log odds -0.10": XPlan(replace(TINY, rate=0.8), log_odds=-0.1),
        "tiny, log odds -0.25": XPlan(replace(TINY, rate=0.8), log_odds=-0.25),
        "tiny, log odds -0.10 by batch": XPlan(replace(TINY, rate=0.8), "batch", log_odds=-0.1),
        "tiny, log odds 0.10, rate 0.95": XPlan(replace(TINY, rate=0.95), log_odds=0.1, pen_spread=0.01),
        "small, log odds -0.10": XPlan(replace(SMALL, rate=0.8), log_odds=-0.1),
    }
    return made


@dataclass(frozen=True, slots=True)
class TrayFarm:
    """One farm, an entry a tray."""

    passed: np.ndarray
    eggs: np.ndarray
    x: np.ndarray
    pen: np.ndarray
    batch: np.ndarray
    machine: np.ndarray


def draw_with_x(plan: XPlan, random: np.random.Generator) -> TrayFarm:
    """One farm of the plan."""
    farm, pens = draw(plan.farm, random), plan.farm.pens
    own_mean = random.uniform(2, 8, pens)
    x = {
        "tray": lambda: random.integers(0, HIGHEST + 1, len(farm.eggs)).astype(float),
        "batch": lambda: random.uniform(0, HIGHEST, plan.farm.batches)[farm.batch],
        "pen": lambda: np.clip(own_mean[farm.pen] + random.normal(0, 1.5, len(farm.eggs)), 0, HIGHEST),
    }[plan.by]()
    pen = random.normal(0, plan.pen_spread, pens)
    if plan.poor_stored:
        pen = np.sort(pen)[np.argsort(np.argsort(-own_mean))]
    machine = random.normal(0, plan.machine_spread, plan.farm.machines)
    apart, far = pen[farm.pen] + machine[farm.machine], x - HIGHEST / 2
    mean = plan.farm.rate + apart + plan.slope * far
    if plan.log_odds:
        rate = plan.farm.rate
        mean = 1 / (1 + np.exp(-logit(rate) - apart / (rate * (1 - rate)) - plan.log_odds * far))
    passed = _passing(plan.farm, mean, farm.batch, farm.eggs, random)
    return TrayFarm(passed, farm.eggs, x, farm.pen, farm.batch, farm.machine)


def _passing(
    plan: FarmPlan, mean: np.ndarray, batch: np.ndarray, eggs: np.ndarray, random: np.random.Generator
) -> np.ndarray:
    mean = np.clip(mean, 0.02, 0.99)
    if plan.correlation == 0:
        return random.binomial(eggs, mean)
    latent = np.sqrt(plan.batch_part) * random.standard_normal(plan.batches)[batch]
    latent = latent + np.sqrt(1 - plan.batch_part) * random.standard_normal(len(batch))
    return random.binomial(eggs, beta_chance(mean, plan.correlation, latent))


def outcomes(plan: XPlan, farm: TrayFarm) -> dict[str, bool]:
    """For one farm, by figure: whether the truth was missed, or a slope called."""
    found = clustered_slope(farm.passed, farm.eggs, farm.x, farm.pen, farm.batch, (farm.machine,))
    said = {}
    for name in SLOPES:
        slope: Slope = getattr(found, name)
        if slope.estimate is None or (name == "between" and (plan.poor_stored or plan.log_odds)):
            continue
        if not plan.log_odds:
            said[f"{name}: truth missed"] = not slope.low <= plan.slope <= slope.high
        if not plan.slope and slope.odds:
            said[f"{name}: odds missed"] = not slope.odds.low <= exp(plan.log_odds) <= slope.odds.high
    if plan.slope:
        said["within: slope called"] = (found.within.p_value or 0) <= ALPHA
    if not plan.slope and not plan.log_odds and found.bend.p_value is not None:
        said["bend: called"] = found.bend.p_value <= ALPHA
    independent = trend(farm.passed, farm.eggs, np.round(farm.x)).test.p_value
    said["independent: slope called"] = independent is not None and independent <= ALPHA
    return said


def figures_of(name: str, plan: XPlan, runs: int) -> list[Row]:
    """The share of farms for every figure, one row each."""
    random = np.random.default_rng([SEED, *name.encode()])
    told: dict[str, list[bool]] = {}
    for _ in range(runs):
        for figure, value in outcomes(plan, draw_with_x(plan, random)).items():
            told.setdefault(figure, []).append(value)
    widest = 0.02 if plan.log_odds or plan.slope else 0.01
    return [_row(name, figure, values, widest) for figure, values in told.items()]


def _row(name: str, figure: str, values: list[bool], widest: float) -> Row:
    share, runs = float(np.mean(values)), len(values)
    error = sqrt(max(share * (1 - share), ALPHA * (1 - ALPHA)) / runs)
    limits = (
        (f"{ALPHA - widest:.2f}", f"{ALPHA + widest:.2f}") if figure.endswith("truth missed") else ("", "")
    )
    if figure.endswith("odds missed"):
        limits = ("0.02", f"{ALPHA + widest:.2f}")
    told = (name, figure, f"{share:.4f}", f"{error:.4f}", str(runs), *limits)
    return dict(zip(FIGURES.columns, told, strict=True))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, cells(), figures_of))
