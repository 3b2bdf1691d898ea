"""From effects to the parts a tray's difference from the typical tray is made of, and to eggs.

All arithmetic is done for many draws of the effects at once; the first axis is the draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.sparse import csr_array
from scipy.special import expit

from analytics.attribution.draws import Draws
from analytics.attribution.farms import FARM, islands_of_farms, within_farms
from analytics.attribution.layout import Factor, Flags, Floats, Ints
from analytics.attribution.separability import Meeting
from analytics.attribution.terms import BETWEEN, BY_MONTH, Covariate, Terms

NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
WEIGHTS = WEIGHTS / WEIGHTS.sum()
CHUNK = 400_000
CLOSE = 1e-6
NO_LEVELS = ("",)
"""Levels of a covariate."""
JOINED = " and "
"""Stands between the names of what cannot be told apart."""


@dataclass(frozen=True, slots=True)
class Part:
    """One summand of the trays' difference from the typical tray on the logit scale.

    Attributes:
        group: whose loss.
        name: the factor or covariate; several joined where they cannot be told apart.
        levels: names of the levels; one empty name for a covariate.
        table: trays x levels: how much of a level's value a tray has.
        values: draws x levels.
    """

    group: str
    name: str
    levels: tuple[str, ...]
    table: Any
    values: Floats


@dataclass(frozen=True, slots=True)
class Typical:
    """The typical tray of a step, one entry a draw.

    Attributes:
        eta: its logit.
        noise: sd of trays' own noise around it.
    """

    eta: Floats
    noise: Floats


def parts_of(terms: Terms, drawn: Draws, used: Flags) -> tuple[Typical, tuple[Part, ...]]:
    """Splits the effects into the typical tray and the differences from it.

    The typical level of a factor is the median of its levels that have eggs; where some trays belong to none,
    it is what these are taken for, so that every tray is the typical one and its own parts. Where two factors
    fall into islands, the islands' own middles are taken out of both and are one part, which is shared; the
    typical island is that of the median level of the first factor; where the islands lie within farms, what
    is common to a farm's is the farm's. Where a covariate is explained by a factor,
    what of the factor's effects is in line with the covariate goes to it, and is shared.

    Args:
        terms: what the step is explained by.
        drawn: draws of slopes (intercept first, then the covariates) and effects.
        used: trays with eggs in the step, shape (trays,).
    """
    noise = drawn.sds[:, -1] if drawn.sds.shape[1] > len(drawn.names) else np.zeros(len(drawn.b))
    eta = drawn.b[:, 0].copy()
    factors = {each.factor.name: each.factor for each in terms.groupings}
    levels = {name: drawn.of(name) for name in factors}
    parts = [
        part
        for at, covariate in enumerate(terms.covariates)
        for part in _of_covariate(covariate, drawn.b[:, 1 + at], factors, levels, used)
    ]
    settled = set()
    for meeting in terms.apart:
        shared, middle = _of_islands(meeting, factors, levels)
        settled |= {meeting.first, meeting.second}
        parts += shared
        eta += middle
    for each in terms.groupings:
        name, values = each.factor.name, levels[each.factor.name]
        if name not in settled and not (each.factor.codes[used] < 0).any():
            middle = np.median(values[:, _seen(each.factor, used)], axis=1)
            eta += middle
            values = values - middle[:, None]
        called = JOINED.join((name, *each.beside))
        parts.append(Part(each.group, called, each.factor.levels, one_hot(each.factor), values))
    return Typical(eta, noise), tuple(parts)


def one_hot(factor: Factor) -> Any:
    """Trays x levels, 1 where a tray belongs to a level."""
    rows = np.flatnonzero(factor.codes >= 0)
    shape = (len(factor.codes), len(factor.levels))
    return csr_array((np.ones(len(rows)), (rows, factor.codes[rows])), shape=shape)


def _seen(factor: Factor, used: Flags) -> Ints:
    codes = factor.codes[used]
    return np.unique(codes[codes >= 0])


def _of_covariate(
    covariate: Covariate, slope: Floats, factors: dict[str, Factor], levels: dict[str, Floats], used: Flags
) -> list[Part]:
    """The covariate's own part and, under the same name, what of a factor is in line with it."""
    called = JOINED.join((covariate.name, *covariate.beside))
    parts = [_single(covariate.group, called, covariate.dose, slope)]
    for name in covariate.beside:
        if name in factors:
            factor, seen = factors[name], _seen(factors[name], used)
            table = one_hot(factor)
            mean = table[used].T @ covariate.dose[used] / np.maximum(table[used].sum(axis=0), 1)
            centred = mean[seen] - mean[seen].mean()
            along = levels[name][:, seen] @ centred / (centred @ centred)
            levels[name] = levels[name] - along[:, None] * mean
            parts.append(_single(covariate.group, called, table @ mean, along))
    return parts


def _single(group: str, name: str, dose: Floats, slope: Floats) -> Part:
    return Part(group, name, NO_LEVELS, csr_array(dose[:, None]), slope[:, None])


def _of_islands(
    meeting: Meeting, factors: dict[str, Factor], levels: dict[str, Floats]
) -> tuple[list[Part], Floats]:
    """What belongs to the islands, taken out of both factors, and the typical island's share of it.

    Where islands lie within farms, what is common to a farm's goes to the farm.
    """
    middles = np.zeros((len(levels[meeting.first]), len(meeting.islands)))
    for name, island in ((meeting.first, meeting.first_island), (meeting.second, meeting.second_island)):
        own = np.stack(
            [np.median(levels[name][:, island == at], axis=1) for at in range(len(meeting.islands))], axis=1
        )
        levels[name] = np.where(island >= 0, levels[name] - own[:, np.maximum(island, 0)], 0.0)
        middles += own
    if within_farms(meeting, factors):
        of_farms, middles = islands_of_farms(meeting, factors, middles)
        levels[FARM] = levels[FARM] + of_farms
        typical = np.zeros(len(middles))
        if not middles.any():
            return [], typical
    else:
        first = meeting.first_island[meeting.first_island >= 0]
        typical = np.median(middles[:, first], axis=1)
    codes = factors[meeting.first].codes
    at_island = np.where(codes >= 0, meeting.first_island[np.maximum(codes, 0)], -1)
    names = tuple(", ".join((*island.first, *island.second)) for island in meeting.islands)
    table = one_hot(Factor("", at_island, names))
    called = JOINED.join((meeting.first, meeting.second))
    return [Part("shared", called, names, table, middles - typical[:, None])], typical


def cells_of(parts: Sequence[Part]) -> list[tuple[Part, Part]]:
    """Each factor's own months, and beside them the factor itself counted out by the same months."""
    by_name = {part.name: part for part in parts}
    found = []
    for part in parts:
        owner = by_name.get(part.name.removesuffix(BY_MONTH))
        if part.name.endswith(BY_MONTH) and owner:
            of = [owner.levels.index(level.rsplit(BETWEEN, 1)[0]) for level in part.levels]
            found.append((part, replace(part, values=owner.values[:, of])))
    return found


def rate(eta: Floats, noise: Floats) -> Floats:
    """Mean rate of trays whose logits are normal around `eta` with sd `noise`.

    Args:
        eta: any shape.
        noise: sd, of a shape that broadcasts against it.
    """
    total = np.zeros(np.broadcast_shapes(eta.shape, noise.shape))
    for node, weight in zip(NODES, WEIGHTS, strict=True):
        total += weight * expit(eta + node * noise)
    return total


def losses(
    typical: Typical, parts: Sequence[Part], eggs: Floats, worth: Floats, also: Sequence[Part] = ()
) -> list[Floats]:
    """Eggs lost in a step beyond what typical trays lose, shared out over the parts.

    On the straight path from the typical tray to this one every summand of the logit keeps its share of the
    way, so its part of the loss is its share of the logit's difference: the integral of the rate's slope
    along the path times the summand.

    Args:
        typical: the typical tray.
        parts: the summands.
        eggs: eggs that entered, shape (trays,).
        worth: chicks that an egg past this step stands for, one entry a draw.
        also: parts counted out in another way, which are no summands of their own.

    Returns:
        for each part, and each of `also`, the loss of each level in chicks, shape (draws, levels).
    """
    kept = np.flatnonzero(eggs > 0)
    asked = (*parts, *also)
    tables = [part.table[kept] for part in asked]
    found = [np.empty_like(part.values) for part in asked]
    step = max(1, CHUNK // max(len(kept), 1))
    for low in range(0, len(worth), step):
        rows = slice(low, low + step)
        way = np.zeros((len(worth[rows]), len(kept)))
        for table, part in zip(tables, parts, strict=False):
            way += (table @ part.values[rows].T).T
        weight = -_steepness(typical.eta[rows, None], typical.noise[rows, None], way)
        weight *= worth[rows, None] * eggs[kept]
        for at, (table, part) in enumerate(zip(tables, asked, strict=True)):
            found[at][rows] = (table.T @ weight.T).T * part.values[rows]
    return found


def _steepness(eta: Floats, noise: Floats, way: Floats) -> Floats:
    """Mean slope of the rate along the way from `eta` to `eta + way`."""
    near = np.abs(way) < CLOSE
    far = np.where(near, CLOSE, way)
    return np.asarray((rate(eta + far, noise) - rate(eta, noise)) / far)
