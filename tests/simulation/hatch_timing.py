"""How often the intervals of a machine's hours and warmth hold the truth, and how often they see a degree.

    python tests/simulation/hatch_timing.py [--runs N] [--only TEXT ...] [--write]

A farm has a machine and others, each with batches around its own middle hour; chicks come out around their
tray's and batch's middle and are counted at 7, 13 and 20 o'clock. The true warmth moves a machine's hours by
a slope drawn over the whole published range; storage moves them by a rate drawn over its published range;
against published hours the farm's own line lies anywhere within them. Prints a line per kind of farm and
figure, and exits 1 when a figure misses its limits by more than chance allows (99.9 % band of the runs made).
The limits stand beside the committed figures in hatch_timing.csv; `--write` puts the figures found there.
Figures without limits are for contrast: against published hours a degree is seen less often.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.measures.hatch_timing import (  # isort: skip
    BATCH_SPREAD,
    SPREADS,
    HatchCounts,
    HatchOffset,
    offset_from_others,
    offset_from_published,
)
from analytics.reference.hatch_shifts import (  # isort: skip
    hours_earlier_a_degree,
    published_hours,
    storage_hours_a_day,
)

import numpy as np
from figures import Figures, Row, run

SEED = 20260613
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "share", "error", "runs", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; intervals of 95 %",
)
LOOKS = (7.0, 13.0, 20.0)
SET_AT = 18.0
DRAWN = None
FIGURE_NAMES = ("hours covered", "warmth covered", "warmth told")


@dataclass(frozen=True, slots=True)
class TimingPlan:
    """A kind of farm.

    Attributes:
        species: the bird.
        batches: batches of each machine.
        warmth: true warmth of the machine beyond the others, °C, either way; 0 to 1.5 where drawn.
        batch_spread: standard deviation between batches, hours; from its prior where drawn.
        storage: most days of storage of the machine's batches and of the others'.
        tray_spread: standard deviation between the three trays of a batch, hours, unknown to the fit.
        lowest: least share of hours covered.
        highest: most share.
        is_held_to_print: whether the machine is held against published hours as well.
    """

    species: str = "coturnix_quail"
    batches: int = 10
    warmth: float | None = DRAWN
    batch_spread: float | None = DRAWN
    storage: tuple[float, float] = (7.0, 7.0)
    tray_spread: float = 0.0
    lowest: str = "0.93"
    highest: str = "0.97"
    is_held_to_print: bool = False


USUAL = TimingPlan(is_held_to_print=True)
FIXED = TimingPlan(highest="1.0")
CELLS = {
    "quail, 10 batches": USUAL,
    "quail, 3 batches": TimingPlan(batches=3),
    "chicken, 10 batches": replace(USUAL, species="chicken"),
    "quail, stored unlike": TimingPlan(storage=(14.0, 2.0)),
    "quail, batches all alike": replace(FIXED, batch_spread=0.0),
    "quail, batches 8 h apart": replace(FIXED, batch_spread=8.0),
    "quail, trays 3 h apart": replace(FIXED, tray_spread=3.0),
    "quail, 10 batches, 1 degree": replace(USUAL, warmth=1.0),
}


@dataclass(frozen=True, slots=True)
class Farm:
    """One farm drawn.

    Attributes:
        machine: batches of the machine.
        others: batches of the other machines.
        line: true middle hour of the farm's eggs, not stored, in the other machines.
        later: true hours by which the machine is later.
        warmth: true warmth of the machine, °C.
    """

    machine: list[HatchCounts]
    others: list[HatchCounts]
    line: float
    later: float
    warmth: float


def farm(plan: TimingPlan, rng: np.random.Generator) -> Farm:
    """A farm of a kind."""
    low, high = published_hours(plan.species)
    line, slope = rng.uniform(low, high), rng.uniform(*hours_earlier_a_degree(plan.species))
    warmth = rng.choice([-1, 1]) * (rng.uniform(0, 1.5) if plan.warmth is None else plan.warmth)
    between = abs(rng.normal(0, BATCH_SPREAD)) if plan.batch_spread is None else plan.batch_spread
    rate = rng.uniform(*storage_hours_a_day())
    spread = np.exp(rng.uniform(*np.log([SPREADS[0], SPREADS[-1]])))

    def batches(middle: float, most_days: float) -> list[HatchCounts]:
        made = []
        for _ in range(plan.batches):
            days = rng.uniform(0, most_days)
            at = middle + rng.normal(0, between) + rate * days
            made.append(counted(at, spread, plan.tray_spread, days, rng))
        return made

    later = -slope * warmth
    return Farm(
        batches(line + later, plan.storage[0]), batches(line, plan.storage[1]), line, later, float(warmth)
    )


def counted(middle: float, spread: float, trays: float, days: float, rng: np.random.Generator) -> HatchCounts:
    """Counts of one batch of 15 to 80 chicks on three trays, from the day before to the last."""
    chicks = int(rng.integers(15, 81))
    out = middle + rng.normal(0, trays, 3)[rng.integers(0, 3, chicks)] + rng.normal(0, spread, chicks)
    first_day, last_day = int(out.min() // 24) - 1, int(out.max() // 24) + 2
    hours = np.array([24 * day + look - SET_AT for day in range(first_day, last_day + 1) for look in LOOKS])
    hours = hours[hours > 0]
    hours = hours[: int(np.searchsorted(hours, out.max())) + 1]
    so_far = (out[:, None] <= hours).sum(axis=0)
    return HatchCounts(tuple(map(float, hours)), tuple(map(int, so_far)), chicks, float(days))


def rows_of(name: str, plan: TimingPlan, runs: int) -> Iterator[Row]:
    """Rows of one kind of farm."""
    rng = np.random.default_rng([SEED, *name.encode()])
    found: dict[str, list[tuple[bool, bool, bool]]] = {"own machines": [], "published hours": []}
    for _ in range(runs):
        drawn = farm(plan, rng)
        own = offset_from_others(drawn.machine, drawn.others, plan.species)
        found["own machines"].append(_marks(own, drawn))
        if plan.is_held_to_print:
            found["published hours"].append(_marks(offset_from_published(drawn.machine, plan.species), drawn))
    for against, marks in found.items():
        for figure, hits in zip(FIGURE_NAMES, zip(*marks, strict=True), strict=False):
            share = float(np.mean(hits))
            error = sqrt(max(share * (1 - share), 1 / runs) / runs)
            lowest, highest = _limits(plan, against, figure)
            yield {
                "farms": name, "figure": f"{against}: {figure}", "share": f"{share:.4f}",
                "error": f"{error:.4f}", "runs": str(runs), "lowest": lowest, "highest": highest,
            }  # fmt: skip


def _marks(found: HatchOffset, drawn: Farm) -> tuple[bool, bool, bool]:
    """Whether hours and warmth are within their intervals, and whether the warmth is told from none."""
    hours, warmth = found.interval, found.warmth_interval
    return (
        hours.low <= drawn.later <= hours.high,
        warmth.low <= drawn.warmth <= warmth.high,
        not warmth.low <= 0 <= warmth.high,
    )


def _limits(plan: TimingPlan, against: str, figure: str) -> tuple[str, str]:
    if figure == "hours covered":
        return plan.lowest, plan.highest
    if figure == "warmth covered":
        return "0.93", "1.0"
    asked = plan.warmth is not None and against == "own machines"
    return ("0.80", "1.0") if asked else ("", "")


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, CELLS, rows_of))
