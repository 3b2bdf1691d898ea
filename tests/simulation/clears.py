"""How often the intervals of fertility and of infertile ones among clear eggs hold the truth.

    python tests/simulation/clears.py [--runs N] [--only TEXT ...] [--write]

Made-up farms of 5 pens with alike trays and batches, whose fertility, very early deaths and misreadings are
known. Prints a line per kind of farm and figure, and exits 1 when a figure misses its limits by more than
chance allows (99.9 % band of the runs made). The limits stand beside the committed figures in clears.csv;
`--write` puts the figures found there. Where nothing tells infertile from very early dead, the interval must
hold the truth nearly always, and its width says how much is left open; widths have no limits.
"""

from __future__ import annotations

import argparse
import csv
import sys
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.measures.clear_records import ClearShare, ClearTrays, FreshEggs  # isort: skip
from analytics.measures.clears import split_clears  # isort: skip

import numpy as np
import scipy
from interval_farms import _beta as beta_chance
from pen_tests import misses

TABLE = Path(__file__).with_suffix(".csv")
SEED = 20260418
COLUMNS = ("farms", "figure", "value", "share", "error", "runs", "lowest", "highest")
PENS = 5
Row = dict[str, str]


@dataclass(frozen=True, slots=True)
class ClearPlan:
    """A kind of farm.

    Attributes:
        batches: batches; four of five pens have a tray in each.
        storage: shortest and longest storage, days; every tray its own.
        fresh_survive: chance of a fertile egg set at once to be seen developing.
        kill: exponent of very early death a day (or of days**shape / 10**(shape - 1)).
        shape: power of the days.
        left_clear: share of trays whose silent eggs are left as clear; the others are opened.
        opened_on: day of incubation on which they are.
        misread: share of opened very early dead that are read as infertile.
        fresh: fresh eggs opened a pen, ten a day.
        likeness: correlation of the fertility of two eggs of a tray; half of it is the batch's.
        rates: lowest and highest fertility of a pen.
        seen_early: share of those seen developing that are dead early.
        asked: batches asked about, the last ones; the others only tell what storage does.
    """

    batches: int = 14
    storage: tuple[int, int] = (2, 12)
    fresh_survive: float = 0.975
    kill: float = 0.015
    shape: float = 1.0
    left_clear: float = 1.0
    opened_on: float = 18.0
    misread: float = 0.5
    fresh: int = 0
    likeness: float = 0.05
    rates: tuple[float, float] = (0.7, 0.98)
    seen_early: float = 0.04
    asked: int = field(default=14)


def plans() -> dict[str, ClearPlan]:
    """Every kind of farm by name."""
    usual, alike = ClearPlan(), ClearPlan(storage=(4, 4))
    return {
        "storage 2 to 12 days": usual,
        "storage 2 to 12 days, s0 0.95": replace(usual, fresh_survive=0.95),
        "storage 2 to 12 days, s0 1": replace(usual, fresh_survive=1.0),
        "storage 2 to 12 days, no harm": replace(usual, kill=0.0, fresh_survive=1.0),
        "storage 2 to 12 days, harm late": replace(usual, shape=3.0),
        "storage 2 to 12 days, much harm": replace(usual, kill=0.05),
        "storage 2 to 12 days, eggs independent": replace(usual, likeness=0.0),
        "storage 2 to 12 days, fertile pens": replace(usual, rates=(0.93, 0.995)),
        "storage 2 to 12 days, one month asked": replace(usual, batches=24, asked=3),
        "fresh eggs, storage alike": replace(alike, fresh=30),
        "fresh eggs, storage alike, s0 0.95": replace(alike, fresh=30, fresh_survive=0.95),
        "fresh eggs, storage alike, s0 1": replace(alike, fresh=30, fresh_survive=1.0),
        "fresh eggs and storage": replace(usual, fresh=30),
        "half opened late, misread half": replace(usual, left_clear=0.5),
        "half opened late, misread all": replace(usual, left_clear=0.5, misread=1.0),
        "half opened late, misread none": replace(usual, left_clear=0.5, misread=0.0),
        "all opened on day 6, misread a third": replace(usual, left_clear=0.0, opened_on=6.0, misread=0.33),
        "opened on day 6, storage alike, misread none": replace(
            alike, left_clear=0.0, opened_on=6.0, misread=0.0
        ),
        "silent: storage alike": alike,
        "silent: storage alike, all clear infertile": replace(alike, kill=0.0, fresh_survive=1.0),
        "silent: storage alike, all clear dead early": replace(alike, kill=0.04, rates=(0.99, 1.0)),
        "silent: storage alike, opened late, misread all": replace(alike, left_clear=0.0, misread=1.0),
    }


@dataclass(frozen=True, slots=True)
class ClearFarm:
    """One farm with its truth.

    Attributes:
        trays: its trays.
        fresh: fresh eggs opened.
        wanted: groups asked for.
        fertility: true expected fertility of each wanted group.
        infertile: infertile ones among the clear eggs of each wanted group.
    """

    trays: ClearTrays
    fresh: FreshEggs
    wanted: tuple[int, ...]
    fertility: np.ndarray
    infertile: np.ndarray


def draw(plan: ClearPlan, random: np.random.Generator) -> ClearFarm:
    """One farm of the plan; pens 0 to 4 are asked about, 5 to 9 are the same pens before."""
    batch, pen = np.nonzero(random.random((plan.batches, PENS)) < 0.8)
    eggs = np.minimum(6 + random.gamma(1.2, 8, len(batch)), 40).astype(int)
    typical = random.uniform(*plan.rates, PENS)
    batch_part = np.sqrt(0.5) * random.standard_normal(plan.batches)[batch]
    latent = batch_part + np.sqrt(0.5) * random.standard_normal(len(batch))
    fertile = random.binomial(eggs, _chance(plan, typical[pen], latent))
    days = random.integers(plan.storage[0], plan.storage[1] + 1, len(batch)).astype(float)
    survive = plan.fresh_survive * np.exp(-plan.kill * days**plan.shape / 10 ** (plan.shape - 1))
    seen = random.binomial(fertile, survive)
    left = random.random(len(batch)) < plan.left_clear
    unseen, barren = fertile - seen, eggs - fertile
    misread = random.binomial(unseen, plan.misread)
    group = np.where(batch >= plan.batches - plan.asked, pen, pen + PENS)
    trays = ClearTrays(
        group=group.astype(np.int64),
        batch=batch.astype(np.int64),
        eggs=eggs.astype(float),
        silent=np.where(left, unseen + barren, barren + misread).astype(float),
        clear=np.where(left, unseen + barren, 0).astype(float),
        infertile=np.where(left, 0, barren + misread).astype(float),
        early=random.binomial(seen, plan.seen_early) + np.where(left, 0.0, unseen - misread),
        known=np.ones(len(batch)),
        storage_days=days,
        storage_c=np.full(len(batch), np.nan),
        days_incubated=np.full(len(batch), plan.opened_on),
    )
    wanted = tuple(int(code) for code in np.unique(group[group < PENS]))
    infertile = np.bincount(group, weights=np.where(left, barren, 0), minlength=2 * PENS)
    return ClearFarm(
        trays, _fresh(plan, typical, random), wanted, typical[list(wanted)], infertile[list(wanted)]
    )


def _chance(plan: ClearPlan, mean: np.ndarray, latent: np.ndarray) -> np.ndarray:
    return mean if plan.likeness == 0 else beta_chance(mean, plan.likeness, latent)


def _fresh(plan: ClearPlan, typical: np.ndarray, random: np.random.Generator) -> FreshEggs:
    pen = np.repeat(np.arange(PENS), plan.fresh // 10)
    eggs = np.full(len(pen), 10)
    chance = _chance(plan, typical[pen], random.standard_normal(len(pen)))
    return FreshEggs(pen, eggs.astype(float), random.binomial(eggs, chance).astype(float))


def outcomes(farm: ClearFarm) -> dict[str, list[float]]:
    """For one farm, by figure: whether the truth was held, and how wide the interval was."""
    trays = farm.trays
    found = split_clears(trays, farm.fresh, farm.wanted)
    eggs = np.array([trays.eggs[trays.group == code].sum() for code in farm.wanted])
    told: dict[str, list[float]] = {}
    _judge(told, "farm", found.whole, float(farm.fertility @ eggs / eggs.sum()), farm.infertile.sum())
    for at, code in enumerate(farm.wanted):
        _judge(told, "pen", found.groups[code], farm.fertility[at], farm.infertile[at])
    return told


def _judge(
    told: dict[str, list[float]], whose: str, share: ClearShare, fertility: float, infertile: float
) -> None:
    low, high = share.fertility_low, share.fertility_high
    told.setdefault(f"{whose}: fertility held", []).append(low <= fertility <= high)
    told.setdefault(f"{whose}: fertility, width", []).append(high - low)
    if share.clear:
        held = share.infertile_low - 0.5 <= infertile <= share.infertile_high + 0.5
        width = (share.infertile_high - share.infertile_low) / share.clear
        told.setdefault(f"{whose}: infertile held", []).append(held)
        told.setdefault(f"{whose}: share of clears, width", []).append(width)


def figures(name: str, plan: ClearPlan, runs: int) -> list[Row]:
    """The mean of every figure over the farms, one row each."""
    random = np.random.default_rng([SEED, *name.encode()])
    told: dict[str, list[list[float]]] = {}
    for _ in range(runs):
        for figure, values in outcomes(draw(plan, random)).items():
            told.setdefault(figure, []).append(values)
    return [_row(name, figure, values) for figure, values in told.items()]


def _row(name: str, figure: str, values: list[list[float]]) -> Row:
    mean = float(np.mean(np.concatenate(values)))
    of_farms = np.array([np.mean(farm) for farm in values])
    floor = 0.05 * 0.95 if figure.endswith("held") else 0.0
    error = sqrt(max(float(of_farms.var()), floor / len(values[0])) / len(values))
    kind = "coverage" if figure.endswith("held") else "width"
    cells = (name, figure, kind, f"{mean:.4f}", f"{error:.4f}", str(len(values)), "", "")
    return dict(zip(COLUMNS, cells, strict=True))


def read_table() -> dict[tuple[str, str], Row]:
    """The committed figures and their limits."""
    if not TABLE.exists():
        return {}
    lines = TABLE.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {(row["farms"], row["figure"]): row for row in rows}


def main() -> int:
    """Runs the farms, prints the table, and says with the exit code whether every figure holds."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--runs", type=int, default=1000)
    asked.add_argument("--only", nargs="*", default=[""], metavar="TEXT")
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    table, missed = read_table(), 0
    for name, plan in plans().items():
        if any(text in name for text in options.only):
            for row in figures(name, plan, options.runs):
                limits = table.get((row["farms"], row["figure"]), row)
                row |= {"lowest": limits["lowest"], "highest": limits["highest"]}
                missed += misses(row)
                table[row["farms"], row["figure"]] = row
                _tell(row)
    if options.write:
        _write(table)
    sys.stdout.write(f"{missed} figures miss their limits\n")
    return int(missed > 0)


def _tell(row: Row) -> None:
    limits = f"limits {row['lowest'] or 'none'} to {row['highest'] or 'none'}"
    mark = "  MISSED" if misses(row) else ""
    line = f"{row['farms']:<50}{row['figure']:<30}{row['share']} +- {row['error']}  {limits}{mark}\n"
    sys.stdout.write(line)
    sys.stdout.flush()


def _write(table: dict[tuple[str, str], Row]) -> None:
    versions = f"numpy {np.__version__}, scipy {scipy.__version__}"
    with TABLE.open("w", encoding="utf-8", newline="") as file:
        file.write(f"# seed {SEED}, {datetime.now(UTC):%Y-%m-%d}, {versions}; intervals of 95 %\n")
        out = csv.DictWriter(file, COLUMNS, lineterminator="\n")
        out.writeheader()
        out.writerows(table.values())


if __name__ == "__main__":
    sys.exit(main())
