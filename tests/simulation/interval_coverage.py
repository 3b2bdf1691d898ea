"""How often the intervals of the rates hold the truth, over made-up farms whose truth is known.

    python tests/simulation/interval_coverage.py [--runs N] [--only TEXT ...] [--write]

Prints a line per kind of farm and measure, for the whole farm's month and for its pens' months, and exits 1
when a figure misses its limits by more than chance allows (99.9 % band of the runs made). The limits stand
beside the committed figures in interval_coverage.csv; `--write` puts the figures found there. `plain` is the
coverage of the interval that takes every egg as independent, for contrast; nothing is claimed of it.

The truth of a pen is its expected rate over the batches of its farm; that of the farm is that of its pens,
weighted by the eggs of the month. A line of pens counts every pen of every farm.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from math import sqrt
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

from figures import Figures, Row, run
from interval_farms import STAGES_OF_DEAD, Farm, Layout, cluster_sums, families_of, make_farm, tray_counts

from analytics.measures.clustering import estimate_clustering
from analytics.measures.ladder import rates
from analytics.values import Interval

SEED = 20260314
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "who", "measure"),
    columns=(
        "farms", "who", "measure", "lowest", "highest", "coverage", "error", "width", "plain", "runs",
    ),
    figure="coverage",
    about=f"coverage of 95 % intervals; seed {SEED}",
)  # fmt: skip
MEASURES = ("hatch_of_set", "fertility", "hatch_of_fertile", "early_loss", "late_loss")
LIKENESS = {
    "eggs independent": (0.0, 0.0),
    ".02 half of batch": (0.02, 0.5),
    ".05 of tray": (0.05, 0.0),
    ".05 half of batch": (0.05, 0.5),
    ".05 of batch": (0.05, 1.0),
    ".10 of tray": (0.10, 0.0),
    ".10 half of batch": (0.10, 0.5),
    ".10 of batch": (0.10, 1.0),
}
STORES = {
    "one batch, 8 pens": (1, 1, 8, 1),
    "two batches, 4 pens": (1, 2, 4, 2),
    "first month, 14 batches, 8 pens": (1, 14, 8, 2),
    "6 months of 3 batches, 4 pens": (6, 3, 4, 2),
    "6 months of 3 batches, 12 pens": (6, 3, 12, 3),
    "12 months of 7 batches, 8 pens": (12, 7, 8, 3),
    "24 months of 14 batches, 12 pens": (24, 14, 12, 3),
}


def cells() -> dict[str, Layout]:
    """Every kind of farm by name."""
    made = {
        f"{store}; {likeness}": Layout(
            months, batches, pens, machines, likeness=LIKENESS[likeness][0], of_batch=LIKENESS[likeness][1]
        )
        for store, (months, batches, pens, machines) in STORES.items()
        for likeness in LIKENESS
    }
    made["machines differ"] = Layout(12, 7, 8, 3, of_batch=0.6, of_machine=0.5)
    made["a third opened"] = Layout(12, 7, 8, 3, opened=1 / 3)
    made["9 of 10 opened"] = Layout(12, 7, 8, 3, opened=0.9)
    made["half of the clear not told apart"] = Layout(12, 7, 8, 3, clear=0.5)
    made["rates of 90 to 99 %"] = Layout(12, 7, 8, 3, rates=(0.95, 0.995))
    made["rates of 25 to 50 %"] = Layout(12, 7, 8, 3, rates=(0.5, 0.7))
    return made


def truths(farm: Farm, pens: np.ndarray) -> dict[str, float]:
    """The expected rates of the month over some pens, by measure."""
    keep = farm.asked & pens[farm.trays.pen]
    pen, trays = farm.trays.pen[keep], farm.trays.only(keep)
    followed = trays.eggs_set - trays.cracked
    fertile = followed * farm.fertility[pen]
    hatched = fertile * farm.hatch_of_fertile[pen]
    lost = 1 - hatched.sum() / fertile.sum()
    return {
        "hatch_of_set": hatched.sum() / trays.eggs_set.sum(),
        "fertility": fertile.sum() / followed.sum(),
        "hatch_of_fertile": 1 - lost,
        "early_loss": lost * STAGES_OF_DEAD[0],
        "late_loss": lost * STAGES_OF_DEAD[2],
    }


def looks(layout: Layout, rng: np.random.Generator) -> Iterator[tuple[str, str, tuple[float, ...]]]:
    """One farm: who (farm or pens), measure, and if the interval held the truth, its width, plain held."""
    farm = make_farm(layout, rng)
    if not farm.asked.any():
        return
    known = {}
    for measure in MEASURES:
        counted, eggs, settled = tray_counts(farm.trays, measure)
        parts = (farm.trays.batch, farm.trays.pen, counted, eggs)
        known[measure] = estimate_clustering(cluster_sums(*(part[settled] for part in parts)))
    for who, pens in _groups(farm, layout.pens):
        found = rates(families_of(farm.trays.only(farm.asked & pens[farm.trays.pen])), known)
        truth = truths(farm, pens)
        for measure in MEASURES:
            shown, plain = found[measure].interval, found[measure].independent
            if shown:
                held = _holds(shown, truth[measure])
                plainly = _holds(plain, truth[measure]) if plain else np.nan
                yield who, measure, (held, shown.high - shown.low, plainly)


def _holds(interval: Interval, truth: float) -> float:
    return float(interval.low <= truth <= interval.high)


def _groups(farm: Farm, pens: int) -> Iterator[tuple[str, np.ndarray]]:
    """All pens, then each pen with eggs in the month, as marks over the pens."""
    yield "farm", np.ones(pens, bool)
    for pen in np.unique(farm.trays.pen[farm.asked]):
        yield "pens", np.arange(pens) == pen


def coverage(name: str, layout: Layout, runs: int) -> list[Row]:
    """The figures of one kind of farm, one row per who and measure, as text for the table."""
    rng = np.random.default_rng([SEED, *name.encode()])
    seen: dict[tuple[str, str], list[tuple[float, ...]]] = {}
    for _ in range(runs):
        for who, measure, look in looks(layout, rng):
            seen.setdefault((who, measure), []).append(look)
    return [_row(name, who, measure, runs, found) for (who, measure), found in sorted(seen.items())]


def _row(name: str, who: str, measure: str, runs: int, found: list[tuple[float, ...]]) -> Row:
    held, width, plainly = np.array(found).T
    share = held.mean()
    # the pens of one farm share its clustering: farms are counted, not pens, for the chance error
    error = sqrt(max(share * (1 - share), 0.001) / min(len(found), runs))
    known = plainly[~np.isnan(plainly)]
    return {
        "farms": name,
        "who": who,
        "measure": measure,
        "coverage": f"{share:.4f}",
        "error": f"{error:.4f}",
        "width": f"{width.mean():.4f}",
        "plain": f"{known.mean():.4f}" if len(known) else "",
        "runs": str(runs),
        "lowest": "0.93",
        "highest": "0.98",
    }


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, cells(), coverage))
