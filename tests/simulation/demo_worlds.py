"""Whether the failing male's pen, and no sound one, is named in smallholdings of other seeds.

    python tests/simulation/demo_worlds.py [--worlds N] [--first SEED] [--alike]

Each world is the demo's smallholding drawn anew, with all planted effects at half to full size (drawn from
the seed), loaded as record sheets, and asked `pen_comparison` about fertility since the male fails. The right
pen is expected where the planned power is 0.95 or more: from the true rates, the model's own standard error,
and the trays whose clear eggs nobody told apart. Pens differ in truth besides (0.25 on the logit scale):
another pen that is named counts as wrong unless its true fertility is at least 3 points off the others', on
the side that is said. With --alike pens do not differ besides, so that any other name is wrong. Exits 1 when
a limit is missed.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import analytics  # noqa: F401 - before numpy: it says how many threads small matrices take

# isort: split
import numpy as np
from scipy.stats import f, ncf, nct, t

from analytics.comparisons.standing_out import ALPHA, Judge
from analytics.options import Selection
from analytics.sheets.load import load
from analytics.studies.pen_data import pen_data
from analytics.studies.pen_judging import judged
from analytics.studies.pens import pen_comparison
from analytics.values import Period
from seed_demo.generate import Sheets, generate, randomness, write_sheets
from seed_demo.world import PEN_APART, World, world

PEN, SINCE = "Hazel", date(2026, 6, 1)
REAL = 0.03
"""True distance from the others from which another pen is rightly named (our own choice)."""
SHEETS = ("birds", "pens", "pen_birds", "incubators", "batches", "trays")
ENOUGH_POWER, RIGHT, WRONG = 0.95, 0.90, 0.08
"""Power from which the pen must be named; least share of those named; most worlds with a wrong name."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was said about one world.

    Attributes:
        seed: its seed.
        size: effects as a share of the demo's.
        power: chance of naming the pen, planned from the truth.
        since: pens named for fertility since the male fails, each with its true distance from the others.
        whole: the same over all records.
    """

    seed: int
    size: float
    power: float
    since: dict[str, float]
    whole: dict[str, float]

    def line(self) -> str:
        """The world in one line."""
        since, whole = (_names(named) for named in (self.since, self.whole))
        return f"{self.seed:>5}  {self.size:.2f}  power {self.power:.3f}  {since:<32} all: {whole}\n"


def _names(named: dict[str, float]) -> str:
    return ", ".join(f"{pen} ({100 * distance:+.1f})" for pen, distance in named.items()) or "-"


def outcomes(seeds: range, alike: bool) -> Iterator[Outcome]:
    """World after world."""
    for seed in seeds:
        size = float(np.random.default_rng([seed, 5]).uniform(0.5, 1.0))
        drawn = world(seed, size)
        yield outcome(replace(drawn, spread=replace(drawn.spread, pen=0.0)) if alike else drawn, size)


def outcome(drawn: World, size: float) -> Outcome:
    """Draws, loads and asks one world."""
    sheets = generate(drawn, randomness(drawn))
    with tempfile.TemporaryDirectory(prefix="penwise-world-") as folder:
        store = Path(folder) / "world.duckdb"
        write_sheets(sheets, Path(folder) / "sheets")
        load(store, [Path(folder) / "sheets" / f"{name}.csv" for name in SHEETS])
        return Outcome(
            drawn.seed,
            size,
            planned_power(sheets, store),
            named(sheets, store, SINCE),
            named(sheets, store, date.min),
        )


def named(sheets: Sheets, store: Path, since: date) -> dict[str, float]:
    """Pens named for fertility; the distance is 0 where the pen is named on the wrong side."""
    findings = pen_comparison(store, "fertility", Selection(Period(since, None))).findings
    found = {}
    for one in findings:
        distance = true_distance(sheets, one.pen, since)
        found[one.pen] = distance if one.below == (distance < 0) else 0.0
    return found


def planned_power(sheets: Sheets, store: Path) -> float:
    """Chance of naming the pen, at the end of what clear eggs leave open where it is smaller."""
    judges = judged(pen_data(store, "fertility", Selection(Period(SINCE, None)), "pen")).judges
    ends = [true_distance(sheets, PEN, SINCE), true_distance(sheets, PEN, SINCE, clear_as_fertile=True)]
    return min(_power(judge, distance) for judge, distance in zip(judges, ends[-len(judges) :], strict=True))


def _power(judge: Judge, distance: float) -> float:
    """Chance that the F test finds a difference, or that the pen passes Holm's first step if that is less."""
    labels = [str(label) for label in judge.labels]
    (group,) = (group for group in judge.groups if labels.index(PEN) in group)
    contrast = judge.against(labels.index(PEN), [pen for pen in group if labels[pen] != PEN])
    candidates = sum(len(one) if len(one) > 2 else len(one) - 1 for one in judge.groups if len(one) > 1)
    away, dof, dof2 = abs(distance) / contrast.error, judge.test.dof, judge.test.dof2
    by_contrast = nct.sf(t.isf(ALPHA / candidates / 2, contrast.dof), contrast.dof, away)
    return float(min(by_contrast, ncf.sf(f.isf(ALPHA, dof, dof2), dof, dof2, away**2)))


def true_distance(sheets: Sheets, pen: str, since: date, clear_as_fertile: bool = False) -> float:
    """True fertility of a pen less the mean of the sound pens it is held against, from the trays' chances.

    Args:
        sheets: the world's sheets and its truth.
        pen: the pen.
        since: first day of hatch.
        clear_as_fertile: infertile eggs of trays whose clear eggs were not told apart count as fertile.
    """
    rates: dict[str, list[float]] = {}
    species: dict[str, str] = {}
    rows = zip(sheets.rows["trays"], sheets.truth.chances, sheets.truth.fates, strict=True)
    for row, chance, fate in rows:
        batch, name = fate.tray.batch, fate.tray.pen.name
        if batch.pulled_on and batch.pulled_on.date() >= since:
            unseen = clear_as_fertile and row.get("clear")
            rates.setdefault(name, []).append(1.0 if unseen else chance["fertile"])
            species[name] = batch.species
    others = [
        float(np.mean(found))
        for name, found in rates.items()
        if species[name] == species[pen] and name not in (pen, PEN, PEN_APART)
    ]
    return float(np.mean(rates[pen])) - float(np.mean(others))


def wrong(named: dict[str, float]) -> bool:
    """Whether a pen was named that is not really apart."""
    return any(abs(distance) < REAL for pen, distance in named.items() if pen != PEN)


def verdict(found: list[Outcome], alike: bool) -> tuple[str, bool]:
    """The figures in words, and whether they keep their limits."""
    strong = [one for one in found if one.power >= ENOUGH_POWER]
    right = sum(PEN in one.since for one in strong)
    false = sum(bool(set(one.since) - {PEN}) if alike else wrong(one.since) for one in found)
    others = sum(bool(set(one.since) - {PEN}) for one in found)
    holds = right >= RIGHT * len(strong) and false <= WRONG * len(found)
    said = (
        f"{len(found)} worlds, effects half to full size, pens {'alike' if alike else 'a little different'}\n"
        f"since {SINCE}: {PEN} named in {sum(PEN in one.since for one in found)},"
        f" and in {right} of the {len(strong)} with power {ENOUGH_POWER} or more (limit {RIGHT:.0%});"
        f" a wrong pen named in {false} (limit {WRONG:.0%}),"
        f" another that is really apart in {others - false}\n"
        f"over all records: {PEN} named in {sum(PEN in one.whole for one in found)};"
        f" a wrong pen in {sum(wrong(one.whole) for one in found)},"
        f" any other in {sum(bool(set(one.whole) - {PEN}) for one in found)}\n"
    )
    return said, holds


def main() -> int:
    """Runs the worlds, prints a line each and the figures; 1 when a limit is missed."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--worlds", type=int, default=100)
    asked.add_argument("--first", type=int, default=1)
    asked.add_argument("--alike", action="store_true")
    options = asked.parse_args()
    found = []
    for one in outcomes(range(options.first, options.first + options.worlds), options.alike):
        found.append(one)
        sys.stdout.write(one.line())
        sys.stdout.flush()
    said, holds = verdict(found, options.alike)
    sys.stdout.write(said)
    return int(not holds)


if __name__ == "__main__":
    sys.exit(main())
