"""Chance from uniform numbers only, so that a seed gives the same records with every version of numpy."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import NormalDist
from typing import TypeVar

import numpy as np

T = TypeVar("T")
_BELL = NormalDist()
_NOT_QUITE_ONE, _TINY = 1 - 2.0**-53, 2.0**-54  # keep a uniform number off 0 and 1


def normal(rng: np.random.Generator, sd: float = 1.0) -> float:
    """One number from a normal distribution around 0."""
    return sd * _BELL.inv_cdf(float(rng.random()) * _NOT_QUITE_ONE + _TINY)


def happens(rng: np.random.Generator, chance: float) -> bool:
    """Whether something of that chance comes to pass."""
    return bool(rng.random() < chance)


def how_many(rng: np.random.Generator, eggs: int, chance: float) -> int:
    """How many of so many eggs, each for itself."""
    return int(np.count_nonzero(rng.random(eggs) < chance))


def whole(rng: np.random.Generator, low: int, high: int) -> int:
    """A whole number from low to high, both included, all alike."""
    return low + int(rng.random() * (high - low + 1))


def one_of(rng: np.random.Generator, things: Sequence[T]) -> T:
    """One of them, all alike."""
    return things[whole(rng, 0, len(things) - 1)]
