"""How often a change that does nothing is called one, and how often its intervals hold the truth.

    python tests/simulation/changes.py [--runs N] [--only TEXT ...] [--write]

Prints a line per kind of farm and figure, and exits 1 when a figure misses its limits by more than chance
allows (99.9 % band of the runs made). The limits stand beside the committed figures in changes.csv; `--write`
puts the figures found there. A change is looked at in five steps, each with trays of its own: `called` is the
test of a step at 5 % (wanted: 4 to 6 %), `any of five steps` the verdicts of the change after Holm (at most
6 %); `points missed` and `odds missed` are intervals that do not hold the truth (3 to 7 %; odds of the first
step, careful where hardly any egg is lost). Without an untouched pen nothing may ever be called. Figures
without limits are for contrast: eggs taken for independent, and pens that drift for months on end, which no
test against other pens can tell from a change.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from math import exp, sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.changes.effect import step_effect  # isort: skip
from analytics.changes.verdict import judged  # isort: skip

import numpy as np
from changes_farms import ChangeFarm, ChangePlan, draw_change
from farms import SMALL, TINY
from figures import Figures, Row, run

ALPHA = 0.05
SEED = 20260719
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "share", "error", "runs", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; at {ALPHA}",
)
NONE_LEFT = "no untouched pen"
DRIFT = "drift"
STEPS = 5
LIMITS = {
    "called": ("0.04", "0.06"),
    "any of five steps": ("", "0.06"),
    "points missed": ("0.03", "0.07"),
    "odds missed": ("0.03", "0.07"),
}


def cells() -> dict[str, ChangePlan]:
    """Every kind of farm by name; tiny has 5 pens, 2 machines and 14 batches, small 12, 3 and 60."""
    made = {
        f"tiny, r {r:.2f}, rate {rate:.2f}": ChangePlan(replace(TINY, correlation=r, rate=rate))
        for r in (0.0, 0.05, 0.10)
        for rate in (0.7, 0.9, 0.97)
    }
    small = ChangePlan(SMALL, touched=2, months=12)
    made |= {
        "tiny, 2 pens changed": ChangePlan(touched=2),
        "tiny, 1 pen untouched": ChangePlan(touched=4),
        "tiny, 3 pens": ChangePlan(replace(TINY, pens=3)),
        "tiny, changed late": ChangePlan(since=0.7),
        "tiny, months of pens 0.4": ChangePlan(pen_months=0.4),
        "tiny, trays of 3 to 90": ChangePlan(replace(TINY, correlation=0.1, smallest=3, largest=90)),
        f"tiny, {NONE_LEFT}": ChangePlan(touched=5, effect=-1.0),
        "tiny, effect -0.8": ChangePlan(touched=2, effect=-0.8),
        "tiny, effect -1.2, rate 0.97": ChangePlan(replace(TINY, rate=0.97), touched=2, effect=-1.2),
        f"tiny, pens {DRIFT} 0.2 a month": ChangePlan(drift=0.2),
        "small": small,
        "small, r 0.10, rate 0.97": replace(small, farm=replace(SMALL, correlation=0.1, rate=0.97)),
        "small, months of pens 0.4": replace(small, pen_months=0.4),
        "small, home machines": replace(small, farm=replace(SMALL, home=True)),
        f"small, {NONE_LEFT}": replace(small, touched=12, effect=-1.0),
        "small, effect -0.5": replace(small, effect=-0.5),
        "a machine of 2": ChangePlan(replace(SMALL, pens=6, machines=2), months=10, machine=True),
        "a machine of 3, its months 0.3": ChangePlan(SMALL, months=12, machine=True, pen_months=0.3),
        "a machine of 3, effect -0.8": ChangePlan(SMALL, months=12, machine=True, effect=-0.8),
    }
    return made


def outcomes(name: str, plan: ChangePlan, random: np.random.Generator) -> list[tuple[str, bool]]:
    """For one change in five steps, by figure: whether something was called, or the truth was missed."""
    farms = [draw_change(plan, random) for _ in range(STEPS)]
    found = [
        step_effect(farm.passed, farm.eggs, farm.layout, odds=not place) for place, farm in enumerate(farms)
    ]
    verdicts = judged(found)
    if NONE_LEFT in name:
        spoken = any(one.p_value is not None for one in found)
        return [("ever called", spoken or any(one.verdict != "cannot_tell" for one in verdicts))]
    told: list[tuple[str, bool]] = []
    for farm, effect in zip(farms, found, strict=True):
        if effect.p_value is not None:
            low, _, high, p_value = effect.known()
            told.append(("called", p_value < ALPHA))
            told.append(("points missed", not low <= farm.points <= high))
    if found[0].p_value is not None:
        told.append(("eggs independent: called", _independent(farms[0]) < ALPHA))
    if found[0].odds:
        told.append(("odds missed", not found[0].odds.low <= exp(plan.effect) <= found[0].odds.high))
    if not plan.effect:
        told.append(("any of five steps", any(one.verdict in ("better", "worse") for one in verdicts)))
    return told


def _independent(farm: ChangeFarm) -> float:
    """Two-sided p of the pooled log odds ratio of ratios, as if every egg were independent."""
    from scipy.special import ndtr

    log_ratio, variance = 0.0, 0.0
    for touched in (True, False):
        for after in (True, False):
            own = (farm.layout.touched == touched) & (farm.layout.after == after)
            came, entered = farm.passed[own].sum() + 0.5, farm.eggs[own].sum() + 1.0
            log_ratio += (1 if touched == after else -1) * np.log(came / (entered - came))
            variance += 1 / came + 1 / (entered - came)
    return float(2 * ndtr(-abs(log_ratio) / sqrt(variance)))


def figures_of(name: str, plan: ChangePlan, runs: int) -> list[Row]:
    """The share of farms for every figure, one row each."""
    random = np.random.default_rng([SEED, *name.encode()])
    told: dict[str, list[bool]] = {}
    for _ in range(runs):
        for figure, value in outcomes(name, plan, random):
            told.setdefault(figure, []).append(value)
    return [_row(name, plan, figure, values) for figure, values in told.items()]


def _row(name: str, plan: ChangePlan, figure: str, values: list[bool]) -> Row:
    share, runs = float(np.mean(values)), len(values)
    error = sqrt(max(share * (1 - share), ALPHA * (1 - ALPHA)) / runs)
    limits = LIMITS.get(figure, ("", ""))
    if plan.drift or (figure == "called" and plan.effect):
        limits = ("", "")
    if figure == "ever called":
        limits, error = ("", "0"), 0.0
    told = (name, figure, f"{share:.4f}", f"{error:.4f}", str(runs), *limits)
    return dict(zip(FIGURES.columns, told, strict=True))


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, cells(), figures_of))
