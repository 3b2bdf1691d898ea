"""How many batches and eggs show a difference between two pens, and the smallest that eggs could show."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from analytics.comparisons.power import eggs_for_two_rates
from analytics.errors import WrongUsage
from analytics.measures.counts import Clustering
from analytics.planning.two_pens import TwoPens, power, precision

MOST_BATCHES = 2_000
"""More batches than this are no plan."""
FEWEST_BATCHES = 2


@dataclass(frozen=True, slots=True)
class Layout:
    """How the eggs of two pens would be set.

    Attributes:
        tray_eggs: eggs of a tray, 1 or more.
        trays: trays of a pen in a batch, 1 or more.
        shared: whether each batch holds trays of both pens; else each pen has batches of its own.
    """

    tray_eggs: int
    trays: int = 1
    shared: bool = True

    def __post_init__(self) -> None:
        if self.tray_eggs < 1 or self.trays < 1:
            raise WrongUsage(
                f"{self.trays} trays of {self.tray_eggs} eggs",
                "A batch holds at least one tray, and a tray one egg",
                "Give whole numbers of 1 or more",
            )

    def laid_out(self, batches: int) -> TwoPens:
        """All trays, with eggs of each pen in that many batches."""
        pen, batch, _ = (axis.ravel() for axis in np.indices((2, batches, self.trays)))
        own = batch if self.shared else batch + pen * batches
        return TwoPens.of(np.full(len(pen), self.tray_eggs), pen, own)


@dataclass(frozen=True, slots=True)
class SizeNeeded:
    """What a comparison of two pens takes.

    Attributes:
        layout: how the eggs are set.
        batches: batches with eggs of each pen, or None.
        trays: trays of each pen, or None.
        eggs: eggs of each pen, or None.
        power: chance of seeing the difference with these, or None.
        independent_eggs: eggs of each pen if every egg were independent, not rounded, or None where the rates
            are equal.
        design_effect: eggs over as many independent ones, for the error of the difference; or None.
        batches_if_alike: batches needed if eggs are as much alike as may well be (one standard deviation
            more); None where even `MOST_BATCHES` would not do.
        why: why there is no number; "" otherwise.
    """

    layout: Layout
    batches: int | None
    trays: int | None
    eggs: int | None
    power: float | None
    independent_eggs: float | None
    design_effect: float | None
    batches_if_alike: int | None
    why: str


@dataclass(frozen=True, slots=True)
class SmallestSeen:
    """The smallest difference that trays show with the wanted power.

    Attributes:
        below: how far the second pen's rate must lie below the first's, in shares; None where not even a rate
            of 0 would be seen.
        above: how far above; None where not even a rate of 1 would be seen.
        design_effect: at equal rates, or None.
        why: why there is nothing to see at all; "" otherwise.
    """

    below: float | None
    above: float | None
    design_effect: float | None
    why: str


def size_needed(
    rate: float, other: float, layout: Layout, clustering: Clustering, wanted: float = 0.8
) -> SizeNeeded:
    """The fewest batches that show a difference at 5 % with the wanted power.

    Args:
        rate: true rate of one pen, 0..1.
        other: true rate of the other.
        layout: how the eggs are set.
        clustering: how alike eggs are.
        wanted: power.

    Returns:
        The numbers; independent eggs by Fleiss, Levin and Paik 2003, chapter 4.

    Raises:
        WrongUsage: a rate or power that cannot be meant.
    """
    _refuse(rate, other, wanted)
    batches = _fewest(rate, other, layout, clustering, wanted)
    independent = eggs_for_two_rates(rate, other, wanted).eggs
    if batches is None:
        why = (
            "The two rates are equal, so no number of eggs tells them apart."
            if rate == other
            else f"Even {MOST_BATCHES:,} batches would not show it."
        )
        return SizeNeeded(layout, None, None, None, None, independent, None, None, why)
    trays = layout.laid_out(batches)
    return SizeNeeded(
        layout=layout,
        batches=batches,
        trays=batches * layout.trays,
        eggs=batches * layout.trays * layout.tray_eggs,
        power=power(trays, (rate, other), clustering),
        independent_eggs=independent,
        design_effect=precision(trays, (rate, other), clustering).design_effect,
        batches_if_alike=_fewest(rate, other, layout, more_alike(clustering, layout.shared), wanted),
        why="",
    )


def more_alike(clustering: Clustering, shared: bool) -> Clustering:
    """Eggs as much alike as may well be: one standard deviation more.

    In shared batches that of batches stays, for what all trays of a batch share cancels out.
    """
    tray = min(clustering.rho_tray + clustering.spread_tray, 1.0)
    batch = clustering.rho_batch if shared else min(clustering.rho_batch + clustering.spread_batch, tray)
    return replace(clustering, rho_tray=tray, rho_batch=batch)


def smallest_seen(trays: TwoPens, rate: float, clustering: Clustering, wanted: float = 0.8) -> SmallestSeen:
    """The smallest difference that trays at hand, or planned ones, show at 5 % with the wanted power.

    Args:
        trays: of both pens.
        rate: true rate of the first pen.
        clustering: how alike eggs are.
        wanted: power.

    Raises:
        WrongUsage: a rate or power that cannot be meant.
    """
    _refuse(rate, rate, wanted)
    known = precision(trays, (rate, rate), clustering)
    if known.dof <= 0:
        why = "So few trays cannot tell chance: each pen needs two trays or more, or two batches in common."
        return SmallestSeen(None, None, None, why)
    below, above = (_reach(trays, rate, end, clustering, wanted) for end in (0.0, 1.0))
    return SmallestSeen(below, above, known.design_effect, "")


def _reach(trays: TwoPens, rate: float, end: float, clustering: Clustering, wanted: float) -> float | None:
    from scipy.optimize import brentq

    def missing(other: float) -> float:
        return power(trays, (rate, other), clustering) - wanted

    edge = end + (1e-6 if end == 0 else -1e-6)
    if (edge - rate) * (end - 0.5) <= 0 or missing(edge) < 0:
        return None
    return abs(float(brentq(missing, rate, edge, xtol=1e-6)) - rate)


def _fewest(rate: float, other: float, layout: Layout, clustering: Clustering, wanted: float) -> int | None:
    """By doubling and halving: more batches never have less power."""

    def enough(batches: int) -> bool:
        return power(layout.laid_out(batches), (rate, other), clustering) >= wanted

    if rate == other:
        return None
    high = FEWEST_BATCHES
    while high < MOST_BATCHES and not enough(high):
        high = min(2 * high, MOST_BATCHES)
    if high == MOST_BATCHES and not enough(high):
        return None
    low = FEWEST_BATCHES - 1
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return high


def _refuse(rate: float, other: float, wanted: float) -> None:
    for one in (rate, other):
        if not (math.isfinite(one) and 0 < one < 1):
            raise WrongUsage(
                f"A rate of {one:g}", "A rate to plan for lies between 0 and 1", "Write 0.75 for 75 %"
            )
    if not 0.05 < wanted < 1:
        raise WrongUsage(
            f"A power of {wanted:g}", "Power is a chance between 0.05 and 1", "Write 0.8 for 80 %"
        )
