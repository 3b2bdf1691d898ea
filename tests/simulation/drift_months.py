"""How often a machine without a drift is given months, and how often a drift is found with its own.

    python tests/simulation/drift_months.py [--runs N] [--only TEXT ...] [--write]

A farm of two years has a machine and two others. Batches are set at even distances, each is counted with a
chance of 65 % at 7, 13 and 20 o'clock; their middle hours lie around the machine's own, and storage of 1 to 8
days moves them by a rate drawn over its published range. For some months the machine, or every machine, is
moved by some hours. Logged air is a daily mean with noise that lasts for days. Prints a line per kind of farm
and figure, and exits 1 when a figure misses its limits by more than chance allows (99.9 % band of the runs
made). The limits stand beside the committed figures in drift_months.csv; `--write` puts the figures found
there. Figures without limits are for contrast. So are the months given where neighbouring batches are alike
by .3: 7 % of machines, more than the 5 % wanted, because the search takes batches for independent. Rates are
of one machine; of a farm with several any one of them is given months more often.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.incubation.hour_shifts import HourShift, TimedBatch, hour_shifts  # isort: skip
from analytics.incubation.machine_air import LevelShift, Reading, weekly_shifts  # isort: skip
from analytics.measures.hatch_timing import hatch_window  # isort: skip
from analytics.reference.hatch_shifts import storage_hours_a_day  # isort: skip

import numpy as np
from figures import Figures, Row, run
from hatch_timing import counted

SEED = 20260704
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "share", "error", "runs", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; a drift is found where a shift of its sign overlaps it; a month is 31 days",
)
SPECIES, DAYS, MONTH, COUNTED = "coturnix_quail", 730, 31, 0.65
MOST_GIVEN, LEAST_FOUND, LEAST_COVERED = "0.05", "0.60", "0.93"


@dataclass(frozen=True, slots=True)
class DriftPlan:
    """A kind of farm.

    Attributes:
        every: days from one setting of a machine to its next.
        spread: standard deviation of a machine's batches, hours.
        tails: degrees of freedom of their Student distribution; 0 = normal.
        alike: correlation of one batch with the next.
        hours: by how much the machine is moved for some months; 0 = no drift.
        months: for how many; 0 = to the end.
        shared: whether the other machines are moved too.
        least: least share found within a month at both ends.
    """

    every: int = 14
    spread: float = 2.5
    tails: int = 0
    alike: float = 0.0
    hours: float = 0.0
    months: int = 3
    shared: bool = False
    least: str = LEAST_FOUND


@dataclass(frozen=True, slots=True)
class AirPlan:
    """A kind of logger.

    Attributes:
        lasting: correlation of one day's noise with the next.
        celsius: by how much the air is warmer for three months; 0 = no drift.
    """

    lasting: float
    celsius: float = 0.0


CELLS: dict[str, DriftPlan | AirPlan] = {
    "steady, fortnightly batches": DriftPlan(),
    "steady, weekly batches": DriftPlan(every=7),
    "steady, monthly batches": DriftPlan(every=30),
    "steady, batches 6 h apart": DriftPlan(spread=6.0),
    "steady, heavy tails": DriftPlan(tails=4),
    "steady, neighbours alike by .3": DriftPlan(alike=0.3),
    "10 h early for 3 months": DriftPlan(hours=-10.0),
    "10 h early for 2 months": DriftPlan(hours=-10.0, months=2),
    "10 h late to the end": DriftPlan(hours=10.0, months=0),
    "10 h early, batches 4 h apart": DriftPlan(hours=-10.0, spread=4.0, least=""),
    "6 h early for 4 months": DriftPlan(hours=-6.0, months=4, least=""),
    "all machines 10 h early": DriftPlan(hours=-10.0, shared=True),
    "air steady": AirPlan(0.5),
    "air steady, noise lasts": AirPlan(0.9),
    "air 0.5 degrees warmer": AirPlan(0.9, 0.5),
    "air 1 degree warmer": AirPlan(0.9, 1.0),
}


def rows_of(name: str, plan: DriftPlan | AirPlan, runs: int) -> Iterator[Row]:
    """Rows of one kind of farm."""
    rng = np.random.default_rng([SEED, *name.encode()])
    marks = _air_marks(plan, runs, rng) if isinstance(plan, AirPlan) else _hour_marks(plan, runs, rng)
    for figure, (hits, lowest, highest) in marks.items():
        share = float(np.mean(hits)) if hits else float("nan")
        error = sqrt(max(share * (1 - share), 1 / max(len(hits), 1)) / max(len(hits), 1))
        yield {
            "farms": name, "figure": figure, "share": f"{share:.4f}", "error": f"{error:.4f}",
            "runs": str(len(hits)), "lowest": lowest, "highest": highest,
        }  # fmt: skip


def _hour_marks(
    plan: DriftPlan, runs: int, rng: np.random.Generator
) -> dict[str, tuple[list[bool], str, str]]:
    given: list[bool] = []
    found: list[bool] = []
    dated: list[bool] = []
    held: list[bool] = []
    for _ in range(runs):
        start, end, own, others = _farm(plan, rng)
        shifts = hour_shifts(own, others, SPECIES)
        given.append(any(one.verdict == "machine" for one in shifts) if plan.shared else bool(shifts))
        right = [one for one in shifts if _is_it(one, own, start, end, plan.hours)]
        found.append(bool(right))
        dated.append(any(_is_dated(own[one.first].day, own[one.last].day, start, end) for one in right))
        held += [one.offset.interval.low <= plan.hours <= one.offset.interval.high for one in right[:1]]
    if plan.shared or not plan.hours:
        limits = ("", "") if plan.alike else ("0.0", MOST_GIVEN)
        return {"one machine blamed" if plan.shared else "given months": (given, *limits)}
    return {
        "found": (found, plan.least, "1.0" if plan.least else ""),
        "found within a month": (dated, plan.least, "1.0" if plan.least else ""),
        "hours covered where found": (held, LEAST_COVERED, "1.0"),
    }


def _is_it(one: HourShift, own: list[TimedBatch], start: float, end: float, hours: float) -> bool:
    return one.offset.hours * hours > 0 and own[one.first].day <= end and own[one.last].day >= start


def _is_dated(first: float, last: float, start: float, end: float) -> bool:
    """Whether both ends are within a month of the true ones; the last one never before the records end."""
    return abs(first - start) <= MONTH and abs(last - min(end, DAYS)) <= MONTH


def _farm(
    plan: DriftPlan, rng: np.random.Generator
) -> tuple[float, float, list[TimedBatch], list[TimedBatch]]:
    """Days of the drift, the machine's counted batches, and those of the two others."""
    start = rng.uniform(90, DAYS - 180)
    end = start + 30.4 * plan.months if plan.months else float(DAYS)
    rate, line = rng.uniform(*storage_hours_a_day()), rng.uniform(395, 415)

    def machine(moved: bool, looked_at: bool) -> list[TimedBatch]:
        days = np.arange(rng.uniform(0, plan.every), DAYS, plan.every)
        off = _around(plan, len(days), rng)
        chicks_apart = np.exp(rng.uniform(*np.log([4.0, 10.0])))
        made = []
        for day, apart in zip(days, off, strict=True):
            if rng.uniform() > COUNTED:
                continue
            stored = rng.uniform(1, 8)
            middle = line + apart + rate * stored + (plan.hours if moved and start <= day <= end else 0.0)
            counts = counted(middle, chicks_apart, 0.0, stored, rng)
            made.append(TimedBatch(day, hatch_window(counts).median if looked_at else middle, counts))
        return made

    own = machine(moved=True, looked_at=True)
    others = [batch for _ in range(2) for batch in machine(moved=plan.shared, looked_at=False)]
    return start, end, own, others


def _around(plan: DriftPlan, many: int, rng: np.random.Generator) -> np.ndarray:
    noise = rng.standard_t(plan.tails, many) / sqrt(2) if plan.tails else rng.normal(size=many)
    for at in range(1, many):
        noise[at] = plan.alike * noise[at - 1] + sqrt(1 - plan.alike**2) * noise[at]
    return plan.spread * noise


def _air_marks(plan: AirPlan, runs: int, rng: np.random.Generator) -> dict[str, tuple[list[bool], str, str]]:
    given, dated = [], []
    first = date(2024, 1, 1)
    for _ in range(runs):
        start = int(rng.uniform(90, DAYS - 180))
        noise = rng.normal(size=DAYS)
        for at in range(1, DAYS):
            noise[at] = plan.lasting * noise[at - 1] + sqrt(1 - plan.lasting**2) * noise[at]
        season = 0.05 * np.cos(2 * np.pi * (np.arange(DAYS) - rng.uniform(0, 365)) / 365)
        air = 37.6 + 0.1 * noise + season
        air[start : start + 91] += plan.celsius
        shifts = weekly_shifts([
            Reading(first + timedelta(days=at), float(value), 24) for at, value in enumerate(air)
        ])  # fmt: skip
        given.append(bool(shifts))
        dated.append(any(_is_day(one, first, start) for one in shifts))
    if not plan.celsius:
        return {"given weeks": (given, "0.0", MOST_GIVEN)}
    return {"found within a week": (dated, "0.90", "1.0")}


def _is_day(one: LevelShift, first: date, start: int) -> bool:
    begins, ends = (one.first_day - first).days, (one.last_day - first).days
    return abs(begins - start) <= 7 and abs(ends - (start + 90)) <= 7


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, CELLS, rows_of, runs=400))
