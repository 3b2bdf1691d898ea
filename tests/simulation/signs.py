"""How often a farm without a cause shows a sign, and how often a planted one is seen.

Every farm has 13 signs looked at in all its pens, machines and batches, eggs of a tray and of a batch alike.
A sign is false where nothing was planted. Limits stand beside the figures; a miss exits 1.

    python tests/simulation/signs.py [--farms 400]
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass

import numpy as np

from analytics.incubation.signs_farm import Farm, rests_on_one_batch, usual_of
from analytics.incubation.signs_records import Placed
from analytics.incubation.signs_shares import is_seen
from analytics.measures.counts import Clustering

SIGNS = 13
FALSE_MOST = 0.05
SEEN_LEAST = 0.90
SEED = 20261125


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
        seen_least: share of farms in which it must be seen, or None.
    """

    name: str
    pens: int
    batches: int
    rate: float
    tray: float
    planted: float | None = None
    seen_least: float | None = None


KINDS = (
    Kind("tiny, rates of 5 %", 5, 14, 0.05, 0.05),
    Kind("tiny, rates of 15 %", 5, 14, 0.15, 0.05),
    Kind("tiny, rates of 1 %", 5, 14, 0.01, 0.05),
    Kind("tiny, eggs independent", 5, 14, 0.05, 0.0),
    Kind("small, rates of 5 %", 12, 60, 0.05, 0.05),
    Kind("tiny, a machine of 25 % for 5 %", 5, 14, 0.05, 0.05, 0.25, SEEN_LEAST),
    Kind("small, a machine of 12 % for 5 %", 12, 60, 0.05, 0.05, 0.12, SEEN_LEAST),
)
MISSES = (Kind("tiny, rates of 5 %, likeness .10 where .05 is assumed", 5, 14, 0.05, 0.10),)
"""Known to be beyond what the rule allows for; printed, not judged."""


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
            rate = np.where(machine == "North", kind.planted, kind.rate)
        signs[f"sign {number}"] = (_drawn(random, rate, eggs, batch, kind.tray), eggs)
    alike = Clustering(0.05, 0.03, 0.02, 0.02, assumed=True)
    return Farm(
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
        alike=dict.fromkeys(("",), alike),
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
        for sign, level in asked:
            own = farm.share(sign, farm.labels(placed, sign) == level)
            usual = usual_of(farm, sign, placed, level)
            if own is None or not is_seen(own, usual, None, len(Placed) * len(asked)):
                continue
            if placed is Placed.BATCH or not rests_on_one_batch(farm, sign, placed, level):
                found.add((sign, placed, level))
    return found


def figures(kind: Kind, farms: int) -> tuple[float, float]:
    """Share of farms with a false sign of a pen or machine, and of farms that show the planted one.

    Batches of a planted machine are not false; batches alone are counted where nothing is planted.
    """
    random = np.random.default_rng(SEED)
    false = seen = 0
    for _ in range(farms):
        found = signs_of(farm_of(kind, random))
        planted = {one for one in found if kind.planted is not None and one[0] == "sign 0"}
        false += bool(found - planted)
        seen += ("sign 0", Placed.INCUBATOR, "North") in planted
    return false / farms, seen / farms


def main(farms: int) -> int:
    """Prints every kind and returns 1 where a figure misses its limit."""
    missed = 0
    for kind in (*KINDS, *MISSES):
        false, seen = figures(kind, farms)
        error = 2.6 * (FALSE_MOST * (1 - FALSE_MOST) / farms) ** 0.5
        miss = false > FALSE_MOST + error or (kind.seen_least is not None and seen < kind.seen_least)
        told = "" if kind.planted is None else f"; the planted sign is seen in {seen:.3f}"
        judged = "not judged" if kind in MISSES else "MISS" if miss else "holds"
        sys.stdout.write(f"{kind.name}: a false sign in {false:.3f} of farms{told} ({judged})\n")
        sys.stdout.flush()
        missed += miss and kind not in MISSES
    return int(missed > 0)


if __name__ == "__main__":
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--farms", type=int, default=400)
    sys.exit(main(options.parse_args().farms))
