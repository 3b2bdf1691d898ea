"""How often the tests of pens raise a false alarm, and how often they find one poor pen.

    python tests/simulation/pen_tests.py [--runs N] [--only TEXT ...] [--write]

Prints a line per kind of farm and test, and exits 1 when a figure misses its limits by more than chance
allows (99.9 % band of the runs made). The limits stand beside the committed figures in pen_tests.csv;
`--write` puts the figures found there. Tests without limits are shown for contrast: pooled eggs, and
Rao-Scott with a few trays a pen, call too many differences, so their power means nothing. At rate 0.97
with alike trays the clustered F test is conservative (its lower limit says so): few trays hold nearly all
losses there.
"""

from __future__ import annotations

import argparse
import csv
import sys
from dataclasses import replace
from datetime import UTC, datetime
from math import sqrt
from pathlib import Path

import numpy as np
import scipy

sys.path.insert(0, str(Path(__file__).parent))

from farms import SMALL, TINY, Farm, FarmPlan, draw

from analytics.comparisons.clustered import clustered_test
from analytics.comparisons.overdispersion import rao_scott
from analytics.comparisons.permutation import permute_within

TABLE = Path(__file__).with_suffix(".csv")
SEED = 20260321
BAND = 3.29
ALPHA = 0.05
DRAWS = 199
COLUMNS = ("farms", "asks", "test", "share", "error", "runs", "lowest", "highest")
Row = dict[str, str]


def cells() -> dict[str, FarmPlan]:
    """Every kind of farm by name; tiny has 14 batches and 2 machines, small 60 and 3."""
    made = {
        f"tiny, r {r:.2f}, rate {rate:.2f}": replace(TINY, correlation=r, rate=rate)
        for r in (0.0, 0.05, 0.10)
        for rate in (0.5, 0.7, 0.9, 0.97)
    }
    made |= {
        "tiny, 4 pens": replace(TINY, pens=4),
        "tiny, all pens in every batch": replace(TINY, share=1.0),
        "tiny, few pens a batch": replace(TINY, share=0.3),
        "tiny, likeness of trays only": replace(TINY, correlation=0.1, batch_part=0.0),
        "tiny, likeness of batches only": replace(TINY, correlation=0.1, batch_part=1.0),
        "tiny, trays of 3 to 90": replace(TINY, correlation=0.1, smallest=3, largest=90),
        "tiny, home machines": replace(TINY, home=True),
        "tiny, 4 pens, 1 machine, 10 batches": replace(TINY, pens=4, machines=1, batches=10),
        "tiny, a pen of 0.70 for 0.90": replace(TINY, poor_pen=0.7),
        "tiny, a pen of 0.85 for 0.97": replace(TINY, rate=0.97, poor_pen=0.85),
        "small, r 0.02": replace(SMALL, correlation=0.02),
        "small, r 0.10": replace(SMALL, correlation=0.10),
        "small, rate 0.97": replace(SMALL, rate=0.97),
        "small, trays of 3 to 90": replace(SMALL, smallest=3, largest=90),
        "small, home machines": replace(SMALL, home=True),
        "small, a pen of 0.80 for 0.90": replace(SMALL, poor_pen=0.8),
    }
    return made


def p_values(farm: Farm, random: np.random.Generator) -> dict[str, float]:
    """The p-value of each test, 1 where the test could not be made."""
    table = [np.bincount(farm.pen, weights=w) for w in (farm.passed, farm.eggs - farm.passed)]
    table = np.array(table)[:, np.bincount(farm.pen) > 0]
    whole = table.sum(axis=1).all()
    found = {
        "clustered F": clustered_test(
            farm.passed, farm.eggs, farm.pen, farm.batch, farm.machine
        ).test.p_value,
        "permutation": permute_within(farm.passed, farm.eggs, farm.pen, farm.batch, random, DRAWS).p_value,
        "Rao-Scott": rao_scott(farm.passed, farm.eggs, farm.pen).test.p_value,
        "pooled chi-square": scipy.stats.chi2_contingency(table, correction=False).pvalue if whole else None,
    }
    return {name: 1.0 if value is None else float(value) for name, value in found.items()}


def alarms(name: str, plan: FarmPlan, runs: int) -> list[Row]:
    """How often each test calls a difference, one row a test."""
    random = np.random.default_rng([SEED, *name.encode()])
    called: dict[str, list[bool]] = {}
    for _ in range(runs):
        for test, p_value in p_values(draw(plan, random), random).items():
            called.setdefault(test, []).append(p_value <= ALPHA)
    asks = "level" if plan.poor_pen is None else "power"
    return [_row(name, asks, test, float(np.mean(calls)), runs) for test, calls in called.items()]


def _row(name: str, asks: str, test: str, share: float, runs: int) -> Row:
    error = sqrt(max(share * (1 - share), ALPHA * (1 - ALPHA)) / runs)
    values = (name, asks, test, f"{share:.4f}", f"{error:.4f}", str(runs), "", "")
    return dict(zip(COLUMNS, values, strict=True))


def read_table() -> dict[tuple[str, str], Row]:
    """The committed figures and their limits."""
    if not TABLE.exists():
        return {}
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {(row["farms"], row["test"]): row for row in rows}


def misses(row: Row) -> bool:
    """Whether a figure misses its limits by more than chance allows; no limits, no miss."""
    slack, share = BAND * float(row["error"]), float(row["share"])
    low, high = float(row["lowest"] or 0), float(row["highest"] or 1)
    return not low - slack <= share <= high + slack


def main() -> int:
    """Runs the cells, prints the table, and says with the exit code whether every figure holds."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--runs", type=int, default=1000)
    asked.add_argument("--only", nargs="*", default=[""], metavar="TEXT")
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    table, missed = read_table(), 0
    for name, plan in cells().items():
        if any(text in name for text in options.only):
            for row in alarms(name, plan, options.runs):
                limits = table.get((row["farms"], row["test"]), row)
                row |= {"lowest": limits["lowest"], "highest": limits["highest"]}
                missed += misses(row)
                table[row["farms"], row["test"]] = row
                sys.stdout.write(_line(row) + "\n")
                sys.stdout.flush()
    if options.write:
        _write(table)
    sys.stdout.write(f"{missed} figures miss their limits\n")
    return int(missed > 0)


def _line(row: Row) -> str:
    limits = f"limits {row['lowest'] or 'none'} to {row['highest'] or 'none'}"
    mark = "  MISSED" if misses(row) else ""
    return (
        f"{row['farms']:<38}{row['asks']:<7}{row['test']:<19}{row['share']} +- {row['error']}  {limits}{mark}"
    )


def _write(table: dict[tuple[str, str], Row]) -> None:
    versions = f"numpy {np.__version__}, scipy {scipy.__version__}"
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        file.write(
            f"# seed {SEED}, {datetime.now(UTC):%Y-%m-%d}, {versions}; tests at {ALPHA}, {DRAWS} draws\n"
        )
        out = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        out.writeheader()
        out.writerows(table.values())


if __name__ == "__main__":
    sys.exit(main())
