"""How often the ledger's 95 % intervals hold the true parts, over made-up farms whose ledger is known.

    python tests/simulation/ledger_coverage.py [--farms N] [--only TEXT ...] [--write]

Prints a line per kind of farm and line of the ledger, and exits 1 when a figure misses its limits by more
than chance allows (99.9 % band of the farms made). The limits stand beside the committed figures in
ledger_coverage.csv; `--write` puts the figures found there. `causes` is flock, handling, incubator, season
and shared together, and `bias` the mean error as a share of the mean truth of the causes. `pens` counts
every pen of every farm, over all steps. A line that the design leaves at zero has no row; `chance` is the
remainder.

Farms named `prior` have their sds and slopes drawn from the priors that the model states; there the truth
should be held in 93 to 98 of 100, and the causes together may be off by a tenth at most. The others have
fixed sds, which is not what the prior says: there at least 93.

What the figures do not support, although none misses by more than chance at the farms made:
- rates near 100 %: the causes together are overstated (11 of 980 eggs, where the truth is 8), and over 420
  farms of two seeds their interval held the truth in 88 of 100. Few losses leave the sds to their prior.
- two trays of one batch correlated at .05: with two batches a month, batches' loss is partly called season
  (11 to 13 chicks of 980 eggs too much there, as many too few for the incubator, held in 91 of 100).
- where sds are near 1 the baseline is 1 to 3 % of the eggs too high, held in 91 to 93 of 100, and the causes
  are 3 to 13 % too low, most with uneven trays.
- where nothing differs the causes still come to 1.3 % of the eggs; their intervals hold zero.
"""

from __future__ import annotations

import argparse
import csv
import sys
from datetime import UTC, datetime
from math import sqrt
from pathlib import Path

import numpy as np
import scipy

sys.path.insert(0, str(Path(__file__).parent))

from ledger_farms import FIVE, NEAR_ALL, TARGET, LedgerPlan, make_farm

from analytics.attribution.ledger import CAUSES, Account, LossLedger, ledger

TABLE = Path(__file__).with_suffix(".csv")
SEED = 20260419
BAND = 3.29
BIAS = "0.10"
LINES = (*CAUSES, "baseline")
MILD = {"": 0.3, "batch": 0.2, "tray": 0.3}
# .05 of the tray's correlation .10 between all trays of a batch, .05 within the tray, at a rate near .92
CORRELATED = {"": 0.3, "batch": 0.82, "tray": 0.82, "month": 0.0}
Table = dict[tuple[str, str], dict[str, str]]
Look = tuple[float, float, float, float]

PLANS = {
    "tiny, prior": LedgerPlan(),
    "tiny with home machines, prior": LedgerPlan(home=True),
    "one machine, prior": LedgerPlan(pens=4, machines=1, batches=10),
    "small, prior": LedgerPlan(pens=12, machines=3, batches=60, per_month=4, share=0.33),
    "five steps, prior": LedgerPlan(steps=FIVE),
    "uneven trays, prior": LedgerPlan(sizes=None),
    "tray correlation .10": LedgerPlan(sds=CORRELATED, slope=0.2),
    "one pen far off": LedgerPlan(sds=MILD, slope=0.2, far_pen=-1.9),
    "steep storage and age": LedgerPlan(sds=MILD, slope=1.0),
    "rates near 100 %": LedgerPlan(sds=MILD, slope=0.2, steps=NEAR_ALL),
    "nothing differs": LedgerPlan(sds={"": 0.0}, slope=0.0),
}


def look(found: LossLedger, truth: Account) -> dict[str, list[Look]]:
    """Truth held, estimate, truth and width, of every line that has a part in this farm."""
    rows = [(line, float(truth.groups[line.group][0])) for line in found.lines if line.group in LINES]
    rows.append((found.causes, sum(true for line, true in rows if line.group in CAUSES)))
    looks = {
        line.group: [(float(line.low <= true <= line.high), line.eggs, true, line.high - line.low)]
        for line, true in rows
        if line.high > line.low
    }
    levels, by_step = truth.items["flock", "pen"]
    true = dict(zip(levels, np.sum(list(by_step.values()), axis=0)[0], strict=True))
    looks["pens"] = [
        (float(item.low <= true[item.level] <= item.high), item.eggs, true[item.level], item.high - item.low)
        for item in found.items
        if item.factor == "pen" and item.step == "all" and item.high > item.low
    ]
    return looks


def coverage(name: str, plan: LedgerPlan, farms: int) -> list[dict[str, str]]:
    """The figures of one kind of farm, one row a line, as text for the table."""
    rng = np.random.default_rng([SEED, *name.encode()])
    seen: dict[str, list[Look]] = {}
    for farm in range(farms):
        trays, truth = make_farm(plan, rng)
        for line, looks in look(ledger(trays, TARGET, seed=farm + 1), truth).items():
            seen.setdefault(line, []).extend(looks)
    # a chance island in a farm or two makes no figure
    enough = {line: looks for line, looks in seen.items() if len(looks) > farms / 2}
    return [_row(name, line, farms, np.array(looks)) for line, looks in enough.items()]


def _row(name: str, line: str, farms: int, looks: np.ndarray) -> dict[str, str]:
    held, found, true, width = looks.T
    share = held.mean()
    # the pens of a farm hang together: farms are counted, not pens, for the chance error
    error = sqrt(max(share * (1 - share), 0.02) / min(len(held), farms))
    gap = found - true
    scale = true.mean() if line == "causes" and abs(true.mean()) > 1 else np.nan
    return {
        "farms": name,
        "line": line,
        "coverage": f"{share:.4f}",
        "error": f"{error:.4f}",
        "width": f"{width.mean():.1f}",
        "gap": f"{gap.mean():.2f}",
        "gap_error": f"{gap.std() / sqrt(len(gap)):.2f}",
        "bias": f"{gap.mean() / scale:.3f}" if np.isfinite(scale) else "",
        "runs": str(farms),
    }


def read_table() -> Table:
    """The committed figures and their limits."""
    if not TABLE.exists():
        return {}
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {(row["farms"], row["line"]): row for row in rows}


def limits_of(name: str, line: str) -> dict[str, str]:
    """The limits that a new row gets."""
    prior = "prior" in name
    bias = BIAS if prior and line == "causes" else ""
    return {"lowest": "0.93", "highest": "0.98" if prior else "1.00", "bias_limit": bias}


def misses(row: dict[str, str], limits: dict[str, str]) -> bool:
    """Whether a coverage, or a bias that has a limit, misses it by more than chance allows."""
    slack = BAND * float(row["error"])
    held = float(limits["lowest"]) - slack <= float(row["coverage"]) <= float(limits["highest"]) + slack
    return not held or (bool(limits.get("bias_limit")) and _biased(row, float(limits["bias_limit"])))


def _biased(row: dict[str, str], limit: float) -> bool:
    bias, gap = abs(float(row["bias"])), abs(float(row["gap"]))
    return bias > limit and bias * (1 - BAND * float(row["gap_error"]) / gap) > limit


def main() -> int:
    """Runs the farms, prints the table, and says with the exit code whether every figure holds."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--farms", type=int, default=1000)
    asked.add_argument("--only", nargs="*", default=[""], metavar="TEXT")
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    table, missed, count = read_table(), 0, 0
    for name, plan in PLANS.items():
        if not any(text in name for text in options.only):
            continue
        for row in coverage(name, plan, options.farms):
            key = row["farms"], row["line"]
            limits = {**limits_of(*key), **table.get(key, {})}
            bad = misses(row, limits)
            missed, count = missed + bad, count + 1
            table[key] = {**limits, **row}
            sys.stdout.write(_line(table[key], bad) + "\n")
        sys.stdout.flush()
        if options.write:
            _write(table)
    sys.stdout.write(f"{missed} of {count} figures miss their limits\n")
    return int(missed > 0)


def _line(row: dict[str, str], bad: bool) -> str:
    bias = f"  bias {float(row['bias']):+.1%}" if row["bias"] else ""
    return (
        f"{row['farms']:<32}{row['line']:<10}{row['coverage']} +- {row['error']}  limits {row['lowest']} to "
        f"{row['highest']}  width {row['width']:>7}  gap {row['gap']:>6} +- {row['gap_error']}{bias}"
        f"{'  MISSED' if bad else ''}"
    )


def _write(table: Table) -> None:
    fields = [
        "farms",
        "line",
        "lowest",
        "highest",
        "bias_limit",
        "coverage",
        "error",
        "width",
        "gap",
        "gap_error",
    ]
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        file.write(
            f"# coverage of the ledger's 95 % intervals; seed {SEED}; {datetime.now(UTC):%Y-%m-%d}; "
            f"numpy {np.__version__}, scipy {scipy.__version__}; error = Monte-Carlo standard error; "
            "width and gap (estimate less truth) in chicks\n"
        )
        writer = csv.DictWriter(file, [*fields, "bias", "runs"], lineterminator="\n")
        writer.writeheader()
        writer.writerows(table.values())


if __name__ == "__main__":
    sys.exit(main())
