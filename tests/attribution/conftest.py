"""What the tests of the crossed model share: published tables and made-up farms."""

from __future__ import annotations

import csv
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from analytics.attribution.crossed import Factor
from analytics.attribution.layout import Floats

REFERENCE = Path(__file__).parents[1] / "reference"


class Trays(NamedTuple):
    """Counts, columns of x and factors, in the order that `fit` takes them."""

    passed: Floats
    eggs: Floats
    slopes: Floats
    factors: tuple[Factor, ...]


def rows_of(name: str) -> list[dict[str, str]]:
    with (REFERENCE / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def factor_of(name: str, values: Sequence[str]) -> Factor:
    levels = sorted(set(values))
    return Factor(name, np.array([levels.index(value) for value in values]), tuple(levels))


def column(rows: list[dict[str, str]], name: str) -> Floats:
    return np.array([float(row[name]) for row in rows])


@pytest.fixture(scope="session")
def cbpp() -> Trays:
    rows = rows_of("cbpp.csv")
    slopes = np.column_stack(
        [np.ones(len(rows))] + [[row["period"] == period for row in rows] for period in "234"]
    )
    herd = factor_of("herd", [row["herd"] for row in rows])
    return Trays(column(rows, "incidence"), column(rows, "size"), slopes.astype(float), (herd,))


@pytest.fixture(scope="session")
def plates() -> Trays:
    rows = rows_of("orob2.csv")
    o73 = np.array([row["seed"] == "O73" for row in rows])
    cucumber = np.array([row["root"] == "CUCUMBER" for row in rows])
    slopes = np.column_stack([np.ones(len(rows)), o73, cucumber, o73 & cucumber])
    plate = factor_of("plate", [f"{at:02d}" for at in range(len(rows))])
    return Trays(column(rows, "y"), column(rows, "n"), slopes, (plate,))


@pytest.fixture(scope="session")
def salamander() -> Trays:
    rows = rows_of("salamander.csv")
    slopes = np.array([[row["Cross"] == cross for cross in ("R/R", "R/W", "W/R", "W/W")] for row in rows])
    factors = tuple(factor_of(name, [row[name] for row in rows]) for name in ("Female", "Male"))
    return Trays(column(rows, "Mate"), np.ones(len(rows)), slopes.astype(float), factors)


def _crossed(name: str) -> Trays:
    rows = rows_of(name)
    factors = tuple(factor_of(key, [row[key] for row in rows]) for key in ("pen", "machine", "batch"))
    slopes = np.column_stack([np.ones(len(rows)), column(rows, "x")])
    return Trays(column(rows, "passed"), column(rows, "eggs"), slopes, factors)


@pytest.fixture(scope="session")
def crossed_trays() -> Trays:
    return _crossed("crossed_trays.csv")


@pytest.fixture(scope="session")
def flat_trays() -> Trays:
    return _crossed("crossed_trays_flat.csv")


def make_farm(seed: int, trays: int, levels: Sequence[int], *, sd: float = 0.6, noise: float = 0.4) -> Trays:
    """A made-up farm: factors crossed at random, some levels rare, two columns of x."""
    rng = np.random.default_rng(seed)
    slopes = np.column_stack([np.ones(trays), rng.normal(size=trays)])
    eta = slopes @ [0.7, -0.4] + noise * rng.normal(size=trays)
    factors = []
    for at, count in enumerate(levels):
        codes = rng.choice(count, size=trays, p=rng.dirichlet(np.full(count, 2.0)))
        eta += sd * rng.normal(size=count)[codes]
        factors.append(Factor(f"f{at}", codes, tuple(f"{at}.{level}" for level in range(count))))
    eggs = rng.integers(1, 30, trays).astype(float)
    passed = rng.binomial(eggs.astype(int), 1 / (1 + np.exp(-eta))).astype(float)
    return Trays(passed, eggs, slopes, tuple(factors))


@pytest.fixture(scope="session")
def farm() -> Callable[..., Trays]:
    return make_farm
