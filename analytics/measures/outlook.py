"""Chicks to expect of eggs that are in a machine, from how such eggs hatched before."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scipy.special import betaincinv

from analytics.measures.clustering import degrees_of_freedom, design_effect
from analytics.measures.counts import Clustering, LadderCounts
from analytics.measures.intervals import LEVEL, normal_quantile, t_quantile

LEANING = 60.0
"""Eggs at the rate of all pens that a pen's own past is mixed with (our own choice, by simulation)."""


@dataclass(frozen=True, slots=True)
class SetEggs:
    """Eggs of a tray in a machine.

    Attributes:
        batch: its batch.
        pen: its pen.
        eggs: eggs set.
    """

    batch: str
    pen: str
    eggs: int


@dataclass(frozen=True, slots=True)
class ExpectedChicks:
    """How many chicks such eggs give.

    Attributes:
        eggs: eggs set.
        chicks: chicks to expect.
        low: fewest, at 95 %.
        high: most.
    """

    eggs: int
    chicks: float
    low: float
    high: float


def expected_chicks(
    ahead: Sequence[SetEggs],
    past: LadderCounts,
    pens: Mapping[str, tuple[float, float]],
    clustering: Clustering,
) -> ExpectedChicks | None:
    """Chicks of eggs whose hatch is not known, if they hatch as eggs did before.

    Each pen's eggs are taken at its own past rate, mixed with that of all; the interval allows for how well
    the past tells the rate, for trays and batches that differ, and for chance. What changed since (another
    season, male or machine) is not in it.

    Args:
        ahead: the trays, of one species.
        past: counts of its hatches before.
        pens: pen -> chicks and eggs set of its hatches before.
        clustering: of hatch of set.

    Returns:
        None where there are no eggs ahead or none hatched before.
    """
    eggs, before = sum(tray.eggs for tray in ahead), float(past.eggs_set)
    if not eggs or not before:
        return None
    common = (past.hatched + past.culled) / before
    rates = {pen: (chicks + LEANING * common) / (set_ + LEANING) for pen, (chicks, set_) in pens.items()}
    chicks = sum(tray.eggs * rates.get(tray.pen, common) for tray in ahead)
    worth = 1 / (design_effect(past, before, clustering) / before + _likeness(ahead, clustering) / eggs)
    dof = degrees_of_freedom(past, before, clustering)
    share = min(max(chicks / eggs, 0.5 / before), 1 - 0.5 / before)
    worth *= (normal_quantile(LEVEL) / t_quantile(LEVEL, dof)) ** 2
    low, high = _limits(share, worth)
    return ExpectedChicks(eggs, chicks, eggs * low, eggs * high)


def _limits(share: float, worth: float) -> tuple[float, float]:
    """Quantiles of the beta distribution with that mean and the variance of so many independent eggs.

    It is skewed as shares near 1 are, and a share seen of eggs that fail together the more so.
    """
    if worth <= 1:
        return 0.0, 1.0
    tail = (1 - LEVEL) / 2
    well, badly = share * (worth - 1), (1 - share) * (worth - 1)
    return float(betaincinv(well, badly, tail)), float(betaincinv(well, badly, 1 - tail))


def _likeness(ahead: Sequence[SetEggs], clustering: Clustering) -> float:
    """How many times the variance is that of as many independent eggs (Kish 1965, Survey Sampling)."""
    eggs = sum(tray.eggs for tray in ahead)
    by_batch: dict[str, int] = {}
    for tray in ahead:
        by_batch[tray.batch] = by_batch.get(tray.batch, 0) + tray.eggs
    in_tray = sum(tray.eggs**2 for tray in ahead)
    in_batch = sum(total**2 for total in by_batch.values()) - in_tray
    return 1 + ((in_tray - eggs) * clustering.rho_tray + in_batch * clustering.rho_batch) / eggs
