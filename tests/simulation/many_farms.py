"""Many farms whose true effects are known: is their line held, their sd found, is a farm called wrongly?

    python tests/simulation/many_farms.py [--runs N] [--only TEXT ...] [--write]

Strata of several farms with their own pens and machines, through the same terms, draws and ledger as a set.
Printed are, by kind, how often 95 % intervals hold the truth for every line, for every farm's own part and
for the sd of farms in a step; the mean of that sd beside the true one; and how often a farm's test in one
step has p at most .05 where farms are alike. Exits 1 when a figure misses its limit by more than chance
allows (99.9 % band); limits stand beside the figures in many_farms.csv, which `--write` writes.
"""

from __future__ import annotations

import argparse
import csv
import sys
from dataclasses import dataclass
from datetime import UTC, datetime
from math import sqrt
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from ledger_farms import TARGET, THREE, LedgerPlan, draw_truth, hatch

from analytics.attribution.farms import FARM, FARMS, with_farms
from analytics.attribution.ledger import POINTS, account, draw_steps, summary
from analytics.attribution.terms import Trays, terms_of

TABLE = Path(__file__).with_suffix(".csv")
SEED, SIZE, BAND = 20261125, 400, 3.29
MONTHS = 6
ALIKE = 0.05
PRIOR = LedgerPlan()


@dataclass(frozen=True, slots=True)
class SetPlan:
    """What a set looks like, apart from chance.

    Attributes:
        farms: farms.
        pens: of each.
        machines: of each.
        truth: steps, sds and slopes; sds None = drawn from the prior.
    """

    farms: int
    pens: int = 4
    machines: int = 2
    truth: LedgerPlan = PRIOR


FIXED = {"": 0.2, FARM: 0.5, "pen": 0.4, "incubator": 0.3, "tray": 0.3}
PLANS = {
    "4 farms, prior": SetPlan(4),
    "8 farms, prior": SetPlan(8),
    "8 farms, farm .5, pen .4, machine .3": SetPlan(8, truth=LedgerPlan(sds=FIXED, slope=0.2)),
    "8 farms alike, pen .4, machine .3": SetPlan(8, truth=LedgerPlan(sds={**FIXED, FARM: 0.0}, slope=0.2)),
}
LIMITS = {"sd of farms": (0.90, 1.0), "called though alike": (0.0, 0.06)}
Row = dict[str, str]


def lay_strata(plan: SetPlan, rng: np.random.Generator) -> tuple[Trays, np.ndarray]:
    """Every pen of a farm in every machine of it, every month; some meetings are missing."""
    shape = plan.farms, plan.pens, plan.machines, MONTHS
    farm, pen, machine, month = (part.ravel() for part in np.indices(shape))
    kept = rng.random(len(farm)) < 0.8
    farm, pen, machine, month = farm[kept], pen[kept], machine[kept], month[kept]
    names = np.char.add("Farm ", farm.astype(str))
    setter = np.char.add(np.char.add(names, ": M"), machine.astype(str))
    when = np.char.add("2026-0", (month + 1).astype(str))
    ages = rng.uniform(10, 50, (plan.farms, plan.pens))
    return Trays(
        steps=tuple(name for name, _ in THREE),
        eggs=rng.integers(20, 120, len(farm)).astype(float),
        passed=np.zeros((len(farm), len(THREE))),
        pen=np.char.add(np.char.add(names, ": P"), pen.astype(str)),
        setter=setter,
        hatcher=setter,
        batch=np.char.add(np.char.add(setter, ", "), when),
        month=when,
        storage_days=rng.uniform(1, 10, len(farm)),
        hen_weeks=ages[farm, pen] + 4.3 * month,
        diets={},
        parents={},
    ), names  # fmt: skip


def look(
    plan: SetPlan, rng: np.random.Generator, seed: int
) -> dict[str, list[tuple[float, float, float, float]]]:
    """Held, estimate, truth and width of every figure of one set."""
    trays, farm = lay_strata(plan, rng)
    terms = [with_farms(terms_of(trays, step), farm, trays.eggs > 0) for step in trays.steps]
    truth = [draw_truth(plan.truth, trays, term, at, rng) for at, term in enumerate(terms)]
    trays = hatch(trays, terms, truth, rng)
    true = account(trays, TARGET, terms, truth)
    drawn, judged = draw_steps(trays, terms, SIZE, POINTS, seed)
    book = summary(trays, TARGET, terms, account(trays, TARGET, terms, drawn), judged)
    found = {
        line.group: [_look(line.eggs, line.low, line.high, float(true.groups[line.group][0]))]
        for line in book.lines
        if line.group != "chance" and line.high > line.low
    }
    levels, by_step = true.items[FARMS, FARM]
    owns = dict(zip(levels, np.sum(list(by_step.values()), axis=0)[0], strict=True))
    found["each farm"] = [
        _look(item.eggs, item.low, item.high, float(owns[item.level]))
        for item in book.items
        if item.factor == FARM and item.step == "all"
    ]
    found["sd of farms"] = [_sd(one.sds[:, one.names.index(FARM)], float(of.sds[0, of.names.index(FARM)]))
                            for one, of in zip(drawn, truth, strict=True)]  # fmt: skip
    if (plan.truth.sds or {}).get(FARM) == 0:
        found["sd of farms"] = [(1.0, *one[1:]) for one in found["sd of farms"]]
        found["called though alike"] = [
            (float(p <= ALIKE), p, ALIKE, 0.0)
            for tests in judged.evidence.values()
            for (factor, _), p in tests.p_values.items()
            if factor == FARM
        ]
    return found


def _look(eggs: float, low: float, high: float, true: float) -> tuple[float, float, float, float]:
    return float(low <= true <= high), eggs, true, high - low


def _sd(draws: np.ndarray, true: float) -> tuple[float, float, float, float]:
    low, high = np.quantile(draws, [0.025, 0.975], method="weibull")
    return _look(float(draws.mean()), float(low), float(high), true)


def figures(name: str, plan: SetPlan, runs: int) -> list[Row]:
    """The figures of one kind, one row each."""
    rng = np.random.default_rng([SEED, *name.encode()])
    seen: dict[str, list[tuple[float, float, float, float]]] = {}
    for run in range(runs):
        for line, looks in look(plan, rng, run + 1).items():
            seen.setdefault(line, []).extend(looks)
    return [_row(name, line, runs, np.array(looks)) for line, looks in seen.items() if len(looks) > runs / 2]


def _row(name: str, line: str, runs: int, looks: np.ndarray) -> Row:
    held, found, true, width = looks.T
    share = float(held.mean())
    lowest, highest = LIMITS.get(line, (0.93, 0.99 if "prior" in name else 1.0))
    error = sqrt(max(share * (1 - share), 0.02) / min(len(held), runs))
    return {
        "kind": name, "line": line, "lowest": f"{lowest}", "highest": f"{highest}", "share": f"{share:.4f}",
        "error": f"{error:.4f}", "width": f"{width.mean():.2f}", "mean": f"{found.mean():.3f}",
        "truth": f"{true.mean():.3f}", "runs": str(runs),
    }  # fmt: skip


def missed(row: Row) -> bool:
    """Whether a share misses its limits by more than chance allows."""
    slack = BAND * float(row["error"])
    return not float(row["lowest"]) - slack <= float(row["share"]) <= float(row["highest"]) + slack


def main() -> int:
    """Runs, prints, and says with the exit code whether every figure holds."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--runs", type=int, default=200)
    asked.add_argument("--only", nargs="*", default=[""], metavar="TEXT")
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    rows: list[Row] = []
    for name, plan in PLANS.items():
        if any(text in name for text in options.only):
            for row in figures(name, plan, options.runs):
                rows.append(row)
                sys.stdout.write("  ".join(row.values()) + ("  MISSED" if missed(row) else "") + "\n")
            sys.stdout.flush()
            if options.write:
                _write(rows)
    return int(any(missed(row) for row in rows))


def _write(rows: list[Row]) -> None:
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        file.write(
            f"# seed {SEED}; {datetime.now(UTC):%Y-%m-%d}; numpy {np.__version__}; {SIZE} draws a set\n"
        )
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


if __name__ == "__main__":
    sys.exit(main())
