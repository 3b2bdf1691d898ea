"""Counts of eggs by tray, checked once for every comparison."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Codes = NDArray[np.intp]


def whole_counts(values: ArrayLike, name: str) -> Floats:
    """Counts as floats.

    Args:
        values: whole numbers of eggs, any shape.
        name: what they are, for the message.

    Raises:
        ValueError: a count is negative, broken or not a number.
    """
    counts = np.asarray(values, dtype=float)
    if not np.all(np.isfinite(counts)) or np.any(counts < 0) or np.any(counts != np.round(counts)):
        raise ValueError(f"{name} are counts: whole numbers from 0 up")
    return counts


def passed_of(passed: ArrayLike, eggs: ArrayLike) -> tuple[Floats, Floats]:
    """Eggs that passed and eggs that entered, one entry a tray or group.

    Raises:
        ValueError: the lengths differ, or more eggs passed than entered.
    """
    came, entered = whole_counts(passed, "passed"), whole_counts(eggs, "eggs")
    if came.shape != entered.shape or came.ndim != 1:
        raise ValueError("passed and eggs are two rows of equal length")
    if np.any(came > entered):
        raise ValueError("more eggs passed than entered")
    return came, entered


def shared_counts(passed: ArrayLike, eggs: ArrayLike) -> tuple[Floats, Floats]:
    """As `passed_of`, where eggs of unknown stage were shared out, so that counts need not be whole.

    Raises:
        ValueError: the lengths differ, a count is no number from 0 up, or more eggs passed than entered.
    """
    came, entered = np.asarray(passed, dtype=float), np.asarray(eggs, dtype=float)
    if came.shape != entered.shape or came.ndim != 1:
        raise ValueError("passed and eggs are two rows of equal length")
    if not np.all(np.isfinite(came) & np.isfinite(entered)) or np.any((came < 0) | (came > entered + 1e-6)):
        raise ValueError("eggs that passed are numbers from 0 to the eggs that entered")
    return np.minimum(came, entered), entered


@dataclass(frozen=True, slots=True)
class Trays:
    """Trays with eggs in them; each factor is coded 0..levels-1.

    Attributes:
        passed: eggs that passed the step, one entry a tray.
        eggs: eggs that entered it.
        codes: one row of codes a factor, in the order given.
        levels: the labels behind the codes, sorted, one tuple a factor.
        empty: trays left out because no egg entered the step.
    """

    passed: Floats
    eggs: Floats
    codes: tuple[Codes, ...]
    levels: tuple[tuple[object, ...], ...]
    empty: int

    @property
    def rate(self) -> float:
        """The pooled rate, 0..1; only where there are eggs."""
        return float(self.passed.sum() / self.eggs.sum())

    def all_alike(self) -> bool:
        """Whether no egg, or no egg but the passing ones, is there: then nothing can differ."""
        return bool(self.passed.sum() in (0, self.eggs.sum()))


def trays_of(passed: ArrayLike, eggs: ArrayLike, *factors: Sequence[object] | NDArray[np.generic]) -> Trays:
    """Checks the counts, codes the factors and leaves out trays that no egg entered.

    Args:
        passed: eggs that passed the step, one entry a tray.
        eggs: eggs that entered the step.
        factors: labels, one entry a tray, one row a factor (pen, batch, ...).
    """
    came, entered = passed_of(passed, eggs)
    keep = entered > 0
    codes, levels = [], []
    for factor in factors:
        labels = np.asarray(factor)
        if labels.shape != came.shape:
            raise ValueError("every factor has one label a tray")
        found, code = np.unique(labels[keep], return_inverse=True)
        codes.append(code.astype(np.intp))
        levels.append(tuple(found.tolist()))
    return Trays(came[keep], entered[keep], tuple(codes), tuple(levels), int((~keep).sum()))


def by_level(values: Floats, codes: Codes, levels: int) -> Floats:
    """Sums of the values by code."""
    sums: Floats = np.bincount(codes, weights=values, minlength=levels).astype(float)
    return sums
