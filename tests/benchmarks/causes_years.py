"""Whose loss it is on a large farm: 30 pens, 6 machines, ten years, some 40,000 trays.

Run by hand: `python tests/benchmarks/causes_years.py [YEARS]`. Prints how many trays were learnt from, the
time, wall and processor, of the first answer and of one about the last month, and the most memory held. Exits
1 when the processor time of an answer passes LIMIT seconds: old trays must be left aside, and said to be.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import resource
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from analytics.options import Selection
from analytics.sheets.load import load
from analytics.studies.causes import causes
from analytics.values import Month

LIMIT = 60.0
PENS, MACHINES, EGGS = 30, 6, 25
TRAYS_A_WEEK = 78
PASSING = (0.90, 0.95, 0.98, 0.95, 0.96)
COLUMNS = ("infertile", "early_dead", "mid_dead", "late_dead", "internal_pip")


def write_sheets(folder: Path, years: int) -> None:
    """Invented sheets: a batch a machine and week, 13 trays in each; pens differ by .3 on the logit scale."""
    random = np.random.default_rng(1)
    names = [f"Pen {number:02d}" for number in range(PENS)]
    effect = random.normal(0, 0.3, (len(PASSING), PENS))
    logit = np.log(np.array(PASSING) / (1 - np.array(PASSING)))
    (folder / "pens.csv").write_text("pen,species\n" + "".join(f"{name},chicken\n" for name in names))
    machines = "".join(f"M{number}\n" for number in range(MACHINES))
    (folder / "incubators.csv").write_text("incubator\n" + machines)
    with (folder / "batches.csv").open("w") as batches, (folder / "trays.csv").open("w") as out:
        batches.write("batch,incubator,set_on,pulled_on\n")
        out.write(f"batch,tray,pen,storage_days,eggs_set,hatched,{','.join(COLUMNS)}\n")
        for week in range(52 * years):
            day = date(2016, 1, 4) + timedelta(days=7 * week)
            for machine in range(MACHINES):
                batches.write(f"W{week:03d}M{machine},M{machine},{day},{day + timedelta(days=21)}\n")
            for number in range(TRAYS_A_WEEK):
                pen = (number * 7 + week) % PENS
                left, counts = EGGS, []
                for step in range(len(PASSING)):
                    rate = 1 / (1 + np.exp(-(logit[step] + effect[step, pen] + random.normal(0, 0.25))))
                    passed = int(random.binomial(left, rate))
                    counts.append(left - passed)
                    left = passed
                batch = f"W{week:03d}M{number % MACHINES}"
                tray = f"{batch},T{number:02d},{names[pen]},{number % 9},{EGGS},{left}"
                out.write(f"{tray},{','.join(map(str, counts))}\n")


def timed(store: Path, selection: Selection) -> float:
    """Asks, prints, and returns the processor time."""
    wall, processor = time.perf_counter(), time.process_time()
    answer = causes(store, selection, target=0.8).answers[0]
    wall, processor = time.perf_counter() - wall, time.process_time() - processor
    print(f"{answer.words.fitted}")
    print(f"  counted {answer.counted.trays:,} trays: {wall:.1f} s, {processor:.1f} s of processor")
    return processor


def main(years: int) -> int:
    """Loads, asks twice, prints."""
    with tempfile.TemporaryDirectory(prefix="causes-") as name:
        folder = Path(name)
        write_sheets(folder, years)
        store = folder / "farm.duckdb"
        load(store, [folder / f"{sheet}.csv" for sheet in ("pens", "incubators", "batches", "trays")])
        last = (date(2016, 1, 4) + timedelta(days=7 * (52 * years - 1) + 21)).replace(day=1)
        spent = [timed(store, Selection())]
        spent.append(timed(store, Selection(period=Month(last.year, last.month).period())))
    print(f"  {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most")
    return int(max(spent) > LIMIT)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 10))
