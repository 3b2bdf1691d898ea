"""Rates of pens against their eggs, with the limits that chance alone would keep to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.comparisons.funnel import LEVELS, expected_limits
from analytics.studies.pen_data import Group, PenData
from analytics.values import Base, Rate

_PLACES = 120
"""Numbers of eggs at which the limits are worked out."""
_MARGIN = 1.06
"""The limits go on so far beyond the pen with the most eggs."""


@dataclass(frozen=True, slots=True)
class FunnelPoint:
    """One pen, or one line.

    Attributes:
        pen: label.
        eggs: eggs in the denominator, with clear eggs as infertile where that matters.
        low: its rate, or the lower end of what clear eggs leave open.
        high: its rate, or the upper end.
        beyond: the outermost limits that all of it lies outside of: 0.95 or 0.998; None within both.
        below: whether it lies on the lower side.
    """

    pen: str
    eggs: float
    low: float
    high: float
    beyond: float | None
    below: bool


@dataclass(frozen=True, slots=True)
class FunnelLimits:
    """Limits of one level.

    Attributes:
        level: share of pens of the common rate that lie within, at least.
        low: lower limits, 0..1, one for each number of eggs.
        high: upper limits.
    """

    level: float
    low: tuple[float, ...]
    high: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class PenFunnel:
    """The pens of one species about their common rate.

    Attributes:
        species: key.
        base: what the rates are a share of.
        common: rate of all of them together; two ends where clear eggs leave it open.
        deff: eggs over effective eggs, by which the limits are widened.
        points: by label.
        eggs: numbers of eggs at which the limits are given, growing.
        limits: the inner and the outer ones, below the lower and above the upper common rate.
    """

    species: str
    base: Base
    common: tuple[float, float]
    deff: float
    points: tuple[FunnelPoint, ...]
    eggs: tuple[float, ...]
    limits: tuple[FunnelLimits, ...]


def pen_funnels(data: PenData) -> tuple[PenFunnel, ...]:
    """One funnel for every species with eggs, the one with the most pens first.

    Neither machine nor storage is held equal here: a pen outside is a question, not an answer.
    """
    species = sorted({group.species for group in data.groups})
    made = (_funnel(data, key, [group for group in data.groups if group.species == key]) for key in species)
    found = (funnel for funnel in made if funnel is not None)
    return tuple(sorted(found, key=lambda funnel: -len(funnel.points)))


def _funnel(data: PenData, species: str, groups: Sequence[Group]) -> PenFunnel | None:
    held = {group.label: eggs for group in groups if (eggs := _eggs(data, group)) > 0 and _ends(group.rate)}
    if not held:
        return None
    shown = [group for group in groups if group.label in held]
    common = _common(data, species)
    worth = sum(data.effective(group, held[group.label]) for group in shown)
    deff = max(1.0, sum(held.values()) / worth)
    most = max(held.values()) * _MARGIN
    places = np.geomspace(min(1.0, most), most, _PLACES)
    return PenFunnel(
        species=species,
        base=shown[0].rate.base,
        common=common,
        deff=deff,
        points=tuple(_point(group, held[group.label], common, deff) for group in shown),
        eggs=tuple(places.tolist()),
        limits=tuple(_limits(common, places, deff, level) for level in LEVELS),
    )


def _eggs(data: PenData, group: Group) -> float:
    if group.rate.eggs is not None:
        return group.rate.eggs
    own = (data.label == group.label) & (data.cells.species == group.species)
    return float(data.ends()[0][1][own].sum())


def _common(data: PenData, species: str) -> tuple[float, float]:
    own = data.cells.species == species
    rates = [float(passed[own].sum() / max(eggs[own].sum(), 1e-9)) for passed, eggs in data.ends()]
    return min(rates), max(rates)


def _ends(rate: Rate) -> tuple[float, float] | None:
    """The rate twice, or what is open of it."""
    if rate.value is not None:
        return rate.value, rate.value
    return (rate.possible.low, rate.possible.high) if rate.possible else None


def _limits(common: tuple[float, float], eggs: np.ndarray, deff: float, level: float) -> FunnelLimits:
    low = expected_limits(common[0], eggs, deff, level)[0]
    high = expected_limits(common[1], eggs, deff, level)[1]
    return FunnelLimits(level, tuple(low.tolist()), tuple(high.tolist()))


def _point(group: Group, eggs: float, common: tuple[float, float], deff: float) -> FunnelPoint:
    low, high = _ends(group.rate) or common
    beyond, below = None, False
    for level in LEVELS:
        lowest = float(expected_limits(common[0], [eggs], deff, level)[0][0])
        highest = float(expected_limits(common[1], [eggs], deff, level)[1][0])
        if high < lowest or low > highest:
            beyond, below = level, high < lowest
    return FunnelPoint(group.label, eggs, low, high, beyond, below)
