"""How often the chicks that came lie within what was expected of eggs in the machine.

    python tests/simulation/outlook.py [--runs N] [--only TEXT ...] [--write]

Farms of `interval_farms` with 4 to 24 months of records; the last month's eggs are taken to be still in the
machine, and their chicks are held against the 95 % interval made from the months before. Exits 1 when a
figure misses its limits by more than chance allows; the figures stand in outlook.csv.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

# analytics first: it sets how many threads small matrices get
from analytics.measures.clustering import estimate_clustering  # isort: skip
from analytics.measures.outlook import SetEggs, expected_chicks  # isort: skip

import numpy as np
from figures import Figures, Row, run
from interval_farms import Layout, cluster_sums, ladder_counts, make_farm, tray_counts

SEED = 20261031
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms",),
    columns=("farms", "share", "error", "width", "runs", "lowest", "highest"),
    figure="share",
    about=f"seed {SEED}; intervals of 95 %",
)
CELLS = {
    "4 months, 5 pens": Layout(months=4, batches=3, pens=5),
    "12 months, 5 pens": Layout(months=12, batches=3, pens=5),
    "24 months, 12 pens": Layout(months=24, batches=5, pens=12),
    "12 months, eggs independent": Layout(months=12, batches=3, pens=5, likeness=0.0),
    "12 months, eggs much alike": Layout(months=12, batches=3, pens=5, likeness=0.15),
    "12 months, pens alike": Layout(months=12, batches=3, pens=5, rates=(0.9, 0.9)),
    "12 months, nearly all hatch": Layout(months=12, batches=3, pens=5, rates=(0.95, 0.99)),
}


def _seen(layout: Layout, rng: np.random.Generator) -> tuple[bool, float] | None:
    farm = make_farm(layout, rng)
    past, ahead = farm.trays.only(~farm.asked), farm.trays.only(farm.asked)
    if not len(past.batch) or not len(ahead.batch):
        return None
    chicks, eggs, _ = tray_counts(past, "hatch_of_set")
    clustering = estimate_clustering(cluster_sums(past.batch, past.pen, chicks, eggs))
    pens = {
        str(pen): (float(chicks[past.pen == pen].sum()), float(eggs[past.pen == pen].sum()))
        for pen in np.unique(past.pen)
    }
    trays = [
        SetEggs(str(batch), str(pen), int(count))
        for batch, pen, count in zip(ahead.batch, ahead.pen, ahead.eggs_set, strict=True)
    ]
    told = expected_chicks(trays, ladder_counts(past), pens, clustering)
    assert told
    came = float(ahead.hatched.sum())
    return told.low <= came <= told.high, (told.high - told.low) / told.eggs


def rows_of(name: str, plan: Layout, runs: int) -> Iterator[Row]:
    """The figure of one kind of farm."""
    rng = np.random.default_rng([SEED, *name.encode()])
    seen = [one for one in (_seen(plan, rng) for _ in range(runs)) if one]
    share = float(np.mean([held for held, _ in seen]))
    yield {
        "farms": name,
        "share": f"{share:.4f}",
        "error": f"{sqrt(max(share * (1 - share), 0.02) / len(seen)):.4f}",
        "width": f"{np.mean([width for _, width in seen]):.3f}",
        "runs": str(len(seen)),
        "lowest": "0.93",
        "highest": "0.98",
    }


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, CELLS, rows_of))
