"""How often the tests of pens raise a false alarm, and how often they find one poor pen.

    python tests/simulation/pen_tests.py [--runs N] [--contrast N] [--only TEXT ...] [--write]

Prints a line per kind of farm and test, and exits 1 when a figure misses its limits. The limits follow from
one rule (`limits`): the test that decides calls at most 6 % where no pen differs; and at least 4 % where a
pen is expected to lose 5 eggs and to have 4 trays or more; elsewhere it may be conservative. Its power has a
least figure (`POWER`). Figures of 10,000 runs and more must lie within the limits themselves, fewer runs
within the 99.9 % band of chance about them. `--write` puts the figures found into pen_tests.csv. The other
tests are shown for contrast with fewer runs, for they are slow: pooled eggs, and Rao-Scott with a few trays a
pen, call too many differences, so their power means nothing.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from analytics.comparisons.clustered import clustered_test  # isort: skip  (before numpy: one BLAS thread)
from analytics.comparisons.overdispersion import rao_scott
from analytics.comparisons.permutation import permute_within

import numpy as np  # isort: skip
import scipy
from farms import SMALL, TINY, Farm, FarmPlan, draw
from figures import BAND, Figures, Row

SEED = 20260321
ALPHA, LOWEST, HIGHEST = 0.05, 0.04, 0.06
LOSSES, TRAYS = 5, 4
"""A pen expected to lose so many eggs, in so many trays, must not make the test conservative."""
ENOUGH = 10_000
DRAWS = 199
DECIDES = "clustered F"
POWER = {"tiny, a pen of 0.70 for 0.90": 0.81, "tiny, a pen of 0.85 for 0.97": 0.65}
POWER |= {"small, a pen of 0.80 for 0.90": 0.75}
COLUMNS = ("farms", "asks", "test", "share", "error", "runs", "losses", "trays", "lowest", "highest")
FIGURES = Figures(
    Path(__file__).with_suffix(".csv"),
    ("farms", "test"),
    COLUMNS,
    "share",
    f"seed {SEED}; tests at {ALPHA}, {DRAWS} draws; losses and trays = expected per pen",
)


def cells() -> dict[str, FarmPlan]:
    """Every kind of farm by name; tiny has 14 batches and 2 machines, small 60 and 3."""
    made = {
        f"tiny, r {r:.2f}, rate {rate:.2f}": replace(TINY, correlation=r, rate=rate)
        for r in (0.05, 0.10, 0.0)
        for rate in (0.97, 0.7, 0.9, 0.5)
    }
    made |= {
        "tiny, a pen of 0.70 for 0.90": replace(TINY, poor_pen=0.7),
        "small, r 0.02": replace(SMALL, correlation=0.02),
        "small, r 0.10": replace(SMALL, correlation=0.10),
        "tiny, 3 pens": replace(TINY, pens=3),
        "tiny, 3 pens, r 0.10, rate 0.97": replace(TINY, pens=3, correlation=0.1, rate=0.97),
        "tiny, 4 pens": replace(TINY, pens=4),
        "tiny, 12 pens": replace(TINY, pens=12),
        "tiny, 3 machines": replace(TINY, machines=3),
        "tiny, 1 machine": replace(TINY, machines=1),
        "tiny, 4 pens, 1 machine, 10 batches": replace(TINY, pens=4, machines=1, batches=10),
        "tiny, 4 pens, 1 machine, 10 batches, r 0.10": replace(
            TINY, pens=4, machines=1, batches=10, correlation=0.1
        ),
        "tiny, 4 pens, 1 machine, 10 batches, r 0.10, rate 0.50": replace(
            TINY, pens=4, machines=1, batches=10, correlation=0.1, rate=0.5
        ),
        "small, 1 machine": replace(SMALL, machines=1),
        "tiny, trays of 3 to 90": replace(TINY, correlation=0.1, smallest=3, largest=90),
        "tiny, home machines": replace(TINY, home=True),
        "tiny, likeness of trays only": replace(TINY, correlation=0.1, batch_part=0.0),
        "tiny, likeness of batches only": replace(TINY, correlation=0.1, batch_part=1.0),
        "tiny, all pens in every batch": replace(TINY, share=1.0),
        "tiny, few pens a batch": replace(TINY, share=0.3),
        "tiny, a pen of 0.85 for 0.97": replace(TINY, rate=0.97, poor_pen=0.85),
        "small, rate 0.97": replace(SMALL, rate=0.97),
        "small, trays of 3 to 90": replace(SMALL, smallest=3, largest=90),
        "small, home machines": replace(SMALL, home=True),
        "small, r 0.00": replace(SMALL, correlation=0.0),
        "small, r 0.10, rate 0.97": replace(SMALL, correlation=0.1, rate=0.97),
        "small, rate 0.50": replace(SMALL, rate=0.5),
        "tiny, trays of 4 to 10, rate 0.97": replace(
            TINY, correlation=0.0, rate=0.97, smallest=4, largest=10
        ),
        "small, a pen of 0.80 for 0.90": replace(SMALL, poor_pen=0.8),
    }
    return made


def clustered(farm: Farm) -> float:
    """The p-value of the test that decides, 1 where it could not be made."""
    found = clustered_test(farm.passed, farm.eggs, farm.pen, farm.batch, farm.machine).test.p_value
    return 1.0 if found is None else found


def for_contrast(farm: Farm, random: np.random.Generator) -> dict[str, float]:
    """The p-values of the other tests, 1 where a test could not be made."""
    table = [np.bincount(farm.pen, weights=w) for w in (farm.passed, farm.eggs - farm.passed)]
    table = np.array(table)[:, np.bincount(farm.pen) > 0]
    whole = table.sum(axis=1).all()
    found = {
        "permutation": permute_within(farm.passed, farm.eggs, farm.pen, farm.batch, random, DRAWS).p_value,
        "Rao-Scott": rao_scott(farm.passed, farm.eggs, farm.pen).test.p_value,
        "pooled chi-square": scipy.stats.chi2_contingency(table, correction=False).pvalue if whole else None,
    }
    return {name: 1.0 if value is None else float(value) for name, value in found.items()}


def alarms(name: str, plan: FarmPlan, runs: int, contrast: int) -> list[Row]:
    """How often each test calls a difference, one row a test."""
    random = np.random.default_rng([SEED, *name.encode()])
    called: dict[str, list[bool]] = {DECIDES: []}
    lost = trays = 0.0
    for _ in range(runs):
        farm = draw(plan, random)
        called[DECIDES].append(clustered(farm) <= ALPHA)
        lost += float((farm.eggs - farm.passed).sum()) / plan.pens / runs
        trays += len(farm.eggs) / plan.pens / runs
    for _ in range(contrast):
        for test, p_value in for_contrast(draw(plan, random), random).items():
            called.setdefault(test, []).append(p_value <= ALPHA)
    asks = "level" if plan.poor_pen is None else "power"
    told = [(name, asks, test, float(np.mean(calls)), len(calls)) for test, calls in called.items()]
    return [_row(*one, lost, trays) for one in told]


def limits(name: str, asks: str, test: str, losses: float, trays: float) -> tuple[str, str]:
    """Lowest and highest figure allowed, "" without a limit."""
    if test != DECIDES:
        return "", ""
    if asks == "power":
        return f"{POWER[name]}", ""
    return (f"{LOWEST}" if losses >= LOSSES and trays >= TRAYS else ""), f"{HIGHEST}"


def _row(name: str, asks: str, test: str, share: float, runs: int, losses: float, trays: float) -> Row:
    error = sqrt(max(share * (1 - share), ALPHA * (1 - ALPHA)) / runs)
    numbers = (f"{share:.4f}", f"{error:.4f}", str(runs), f"{losses:.1f}", f"{trays:.1f}")
    return dict(
        zip(COLUMNS, (name, asks, test, *numbers, *limits(name, asks, test, losses, trays)), strict=True)
    )


def misses(row: Row) -> bool:
    """Whether a figure misses its limits; no limits, no miss."""
    slack = BAND * float(row["error"]) if int(row["runs"]) < ENOUGH else 0.0
    low, high = float(row["lowest"] or 0), float(row["highest"] or 1)
    return not low - slack <= float(row["share"]) <= high + slack


def main() -> int:
    """Runs the cells, prints the table, and says with the exit code whether every figure holds."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--runs", type=int, default=ENOUGH)
    asked.add_argument("--contrast", type=int, default=1000, help="runs of the tests that decide nothing")
    asked.add_argument("--only", nargs="*", default=[""], metavar="TEXT")
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    missed, table = 0, FIGURES.read()
    for name, plan in cells().items():
        if any(text in name for text in options.only):
            rows = alarms(name, plan, options.runs, options.contrast)
            table |= {FIGURES.key(row): row for row in rows}
            missed += sum(misses(row) for row in rows)
            sys.stdout.write("".join(map(_line, rows)))
            sys.stdout.flush()
            if options.write:
                FIGURES.write(table[key] for key in _order(table))
    sys.stdout.write(f"{missed} figures miss their limits\n")
    return int(missed > 0)


def _order(table: dict[tuple[str, ...], Row]) -> list[tuple[str, ...]]:
    places = list(cells())
    return sorted((key for key in table if key[0] in places), key=lambda key: places.index(key[0]))


def _line(row: Row) -> str:
    allowed = f"limits {row['lowest'] or 'none'} to {row['highest'] or 'none'}"
    mark = "  MISSED" if misses(row) else ""
    pen = f"a pen loses {row['losses']} in {row['trays']} trays"
    return f"{row['farms']:<38}{row['test']:<19}{row['share']} +- {row['error']}  {pen}; {allowed}{mark}\n"


if __name__ == "__main__":
    sys.exit(main())
