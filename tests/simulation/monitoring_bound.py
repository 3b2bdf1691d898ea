"""The most that any limits on months' sums could find of a fall of ten points: a bound for the watch of pens.

    python tests/simulation/monitoring_bound.py [--runs N] [--only TEXT ...] [--write]

Pens of 8 trays of 20 a month at a fertility of .90, chances of trays from a beta distribution of known
likeness. All false signals that a farm may get, one in twelve reviews, go to falls of fertility in its pens:
to the sum of two months, and to the month alone in the share that finds most. The limits are those of
simulated pens where nothing changes, a run counted once. The usual level is known, or the mean of twelve
months. Then fertility is .80 for two months: the figure is the share of pens called in one of their two
reviews. No limits: a bound promises nothing.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from math import sqrt
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import numpy as np
from figures import Figures, Row, run

SEED = 20261125
FIGURES = Figures(
    file=Path(__file__).with_suffix(".csv"),
    keys=("farms", "figure"),
    columns=("farms", "figure", "value", "error", "runs", "lowest", "highest"),
    figure="value",
    about=f"seed {SEED}",
)
USUAL, FALLEN, TRAYS, SIZE, YEAR = 0.90, 0.80, 8, 20, 12
TO_THE_MONTH = (0.0, 0.05, 0.1, 0.2, 0.4)
QUIET = 8
"""Months of a pen where nothing changes."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A kind of farm.

    Attributes:
        pens: pens.
        likeness: correlation of two eggs of a tray.
        known: whether the usual level is known.
    """

    pens: int
    likeness: float
    known: bool


def cells() -> dict[str, Bound]:
    """Every kind by name."""
    return {
        f"{pens} pens, r {likeness:.2f}, usual level {'known' if known else 'of a year'}": Bound(
            pens, likeness, known
        )
        for likeness in (0.02, 0.03, 0.04, 0.05)
        for pens in (5, 12)
        for known in (True, False)
    }


def rows_of(name: str, bound: Bound, runs: int) -> list[Row]:
    """The share of pens called."""
    random = np.random.default_rng([SEED, *name.encode()])
    quiet = _months(bound, USUAL, (runs, QUIET), random)
    fallen = np.concatenate(
        [_months(bound, USUAL, (runs, 1), random), _months(bound, FALLEN, (runs, 2), random)], axis=1
    )
    level = np.full((runs, 1), USUAL * TRAYS * SIZE)
    if not bound.known:
        level = _months(bound, USUAL, (runs, YEAR), random).mean(axis=1, keepdims=True)
    found = max(_called(bound, quiet - level, fallen - level, part) for part in TO_THE_MONTH)
    error = sqrt(found * (1 - found) / runs)
    told = (name, "most that can be called", f"{found:.4f}", f"{error:.4f}", str(runs), "", "")
    return [dict(zip(FIGURES.columns, told, strict=True))]


def _months(bound: Bound, rate: float, shape: tuple[int, int], random: np.random.Generator) -> np.ndarray:
    """Fertile eggs of a pen's months."""
    total = 1 / bound.likeness - 1
    chance = random.beta(rate * total, (1 - rate) * total, (*shape, TRAYS))
    return random.binomial(SIZE, chance).sum(axis=-1).astype(float)


def _called(bound: Bound, quiet: np.ndarray, fallen: np.ndarray, part: float) -> float:
    """Pens called, with that part of the false signals for the month alone and the rest for two together."""
    allowed = 1 / 12 / bound.pens
    month = np.quantile(quiet, allowed * part) if part else -np.inf
    low, high = 0.0, 2 * allowed
    for _ in range(14):
        middle = (low + high) / 2
        out = _out(quiet, month, np.quantile(_two(quiet), middle))
        few = float((out[:, 1:] & ~out[:, :-1]).mean()) <= allowed
        low, high = (middle, high) if few else (low, middle)
    return float(_out(fallen, month, np.quantile(_two(quiet), low)).any(axis=1).mean())


def _two(months: np.ndarray) -> np.ndarray:
    return months[:, 1:] + months[:, :-1]


def _out(months: np.ndarray, month: float, two: float) -> np.ndarray:
    return (months[:, 1:] <= month) | (_two(months) <= two)


if __name__ == "__main__":
    sys.exit(run(FIGURES, __doc__, cells(), rows_of, runs=40_000))
