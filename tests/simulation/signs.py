"""How often a farm without a cause shows a sign, and how often a planted one is seen.

    python tests/simulation/signs.py [--runs N] [--only TEXT ...] [--write]

Every farm has 13 signs looked at in all its pens, machines and batches. A sign is false where nothing was
planted; limits stand beside the figures in signs.csv, and a miss exits 1. Eggs of a tray are alike: the
batch's rate is beta about the farm's, the tray's beta about its batch's, half of the likeness each. A single
bad batch is seen where it is very bad only: its rows have no limit and stand for what that costs.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from figures import Figures, Row, run

from analytics.incubation.signs_farm import Farm, beside_others, rests_on_one_batch, usual_of, with_likeness
from analytics.incubation.signs_records import Placed
from analytics.incubation.signs_shares import is_seen

SIGNS = 13
SEED = 20261125
COLUMNS = ("kind", "figure", "share", "error", "runs", "lowest", "highest")
FIGURES = Figures(
    Path(__file__).with_suffix(".csv"),
    ("kind", "figure"),
    COLUMNS,
    "share",
    f"seed {SEED}; share of farms",
    band=2.6,
)


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of farm.

    Attributes:
        name: in words.
        pens: breeding pens.
        batches: batches, in two machines in turn.
        rate: share of eggs that show each sign.
        tray: likeness of eggs of a tray; half of it is the batch's.
        planted: share in the first machine of the first sign, or None for none.
        one_batch: whether that share is the first batch's alone, not the machine's.
    """

    name: str
    pens: int
    batches: int
    rate: float
    tray: float
    planted: float | None = None
    one_batch: bool = False


KINDS = (
    Kind("tiny, 5 %", 5, 14, 0.05, 0.05),
    Kind("tiny, 15 %", 5, 14, 0.15, 0.05),
    Kind("tiny, 1 %", 5, 14, 0.01, 0.05),
    Kind("tiny, 5 %, independent", 5, 14, 0.05, 0.0),
    Kind("small, 5 %", 12, 60, 0.05, 0.05),
    Kind("tiny, 5 %, a machine of 25 %", 5, 14, 0.05, 0.05, 0.25),
    Kind("small, 5 %, a machine of 12 %", 12, 60, 0.05, 0.05, 0.12),
    Kind("tiny, 5 %, very alike", 5, 14, 0.05, 0.10),
    Kind("small, 5 %, very alike", 12, 60, 0.05, 0.10),
    Kind("small, 5 %, a batch of 30 %", 12, 60, 0.05, 0.05, 0.30, one_batch=True),
    Kind("small, 5 %, a batch of 50 %", 12, 60, 0.05, 0.05, 0.50, one_batch=True),
)


def farm_of(kind: Kind, random: np.random.Generator) -> Farm:
    """One farm, trays of about 20 eggs."""
    batch = np.repeat(np.arange(kind.batches), kind.pens)
    pen = np.tile(np.arange(kind.pens), kind.batches)
    eggs = random.integers(12, 29, len(batch)).astype(float)
    machine = np.where(batch % 2 == 0, "North", "South")
    signs = {}
    for number in range(SIGNS):
        rate = np.full(len(batch), kind.rate)
        if kind.planted is not None and number == 0:
            rate = np.where(batch == 0 if kind.one_batch else machine == "North", kind.planted, kind.rate)
        signs[f"sign {number}"] = (_drawn(random, rate, eggs, batch, kind.tray), eggs)
    return with_likeness(
        Farm(
            pen=np.char.add("pen ", pen.astype(str)),
            batch=np.char.add("batch ", batch.astype(str)),
            setter=machine,
            hatcher=machine,
            set_day=batch * 7.0,
            numbers={},
            signs=signs,
            feeds={},
            notes={},
            shells={},
            ranges={},
            alike={},
        )
    )


def _drawn(
    random: np.random.Generator, rate: np.ndarray, eggs: np.ndarray, batch: np.ndarray, likeness: float
) -> np.ndarray:
    """Eggs that show a sign: beta rates of batches, and of trays around these, half the likeness each."""
    if likeness == 0:
        return random.binomial(eggs.astype(int), rate).astype(float)
    narrow = 2 / likeness - 1
    of_batch = np.empty(len(rate))
    for number in np.unique(batch):
        here = batch == number
        of_batch[here] = random.beta(rate[here][0] * narrow, (1 - rate[here][0]) * narrow)
    of_batch = np.clip(of_batch, 1e-6, 1 - 1e-6)
    of_tray = random.beta(of_batch * narrow, (1 - of_batch) * narrow)
    return random.binomial(eggs.astype(int), of_tray).astype(float)


def signs_of(farm: Farm) -> set[tuple[str, Placed, str]]:
    """Signs that stand out, as the study asks for them."""
    found = set()
    for placed in Placed:
        asked = [(sign, str(level)) for sign in farm.signs for level in np.unique(farm.labels(placed, sign))]
        raised = {sign: farm.raised(sign) for sign in farm.signs} if placed is Placed.BATCH else {}
        for sign, level in asked:
            if sign in raised and level not in raised[sign]:
                continue
            told = beside_others(farm, sign, level) if placed is Placed.BATCH else farm
            own = told.share(sign, farm.labels(placed, sign) == level)
            usual = usual_of(told, sign, placed, level)
            if own is None or not is_seen(own, usual, None, len(Placed) * len(asked)):
                continue
            if placed is Placed.BATCH or not rests_on_one_batch(farm, sign, placed, level):
                found.add((sign, placed, level))
    return found


def figures(kind: Kind, farms: int) -> tuple[float, float]:
    """Share of farms with a false sign of a pen, machine or batch, and of farms that show the planted one.

    Nothing is false of the sign that is planted; the other signs of the farm are looked at in all places.
    """
    random = np.random.default_rng(SEED)
    wanted = (Placed.BATCH, "batch 0") if kind.one_batch else (Placed.INCUBATOR, "North")
    false = seen = 0
    for _ in range(farms):
        found = signs_of(farm_of(kind, random))
        planted = {one for one in found if kind.planted is not None and one[0] == "sign 0"}
        false += bool(found - planted)
        seen += ("sign 0", *wanted) in planted
    return false / farms, seen / farms


def rows_of(name: str, kind: Kind, runs: int) -> Iterator[Row]:
    """False signs of a kind, and the planted one where there is one."""
    false, seen = figures(kind, runs)
    told = [("false", false, "", "0.05")]
    if kind.planted is not None:
        told.append(("seen", seen, "" if kind.one_batch else "0.8", ""))
    for figure, share, lowest, highest in told:
        error = (max(share * (1 - share), 0.01) / runs) ** 0.5
        yield {
            "kind": name, "figure": figure, "share": f"{share:.4f}", "error": f"{error:.4f}",
            "runs": str(runs), "lowest": lowest, "highest": highest,
        }  # fmt: skip


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, {kind.name: kind for kind in KINDS}, rows_of, runs=400))
