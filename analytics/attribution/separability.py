"""What the records cannot tell apart: before a fit from who met whom, after it from what was learnt."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from analytics.attribution.draws import Draws
from analytics.attribution.layout import Factor, Flags, Floats, Ints
from analytics.attribution.records import TRAY
from analytics.errors import WrongUsage

EXPLAINED = 0.95
HALF_NORMAL_VARIANCE = 1 - 2 / math.pi


@dataclass(frozen=True, slots=True)
class Island:
    """Levels of two factors that met each other, directly or in a chain, and nobody else.

    Attributes:
        first: level names of the first factor.
        second: level names of the second.
    """

    first: tuple[str, ...]
    second: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Meeting:
    """Who met whom among the levels of two factors.

    Inside an island differences among levels of either factor can be estimated. Between islands the
    difference of the first factor's means and that of the second's are one number: these contrasts,
    and no others, are aliased.

    Attributes:
        first: name of the first factor.
        second: name of the second.
        islands: the islands, in the order of their first levels.
        first_island: island of each level of the first factor, -1 = no eggs, shape (levels,).
        second_island: the same for the second.
    """

    first: str
    second: str
    islands: tuple[Island, ...]
    first_island: Ints
    second_island: Ints

    @property
    def aliased_contrasts(self) -> int:
        """How many differences between islands belong to both factors at once."""
        return max(len(self.islands) - 1, 0)

    @property
    def nothing_apart(self) -> bool:
        """Whether every island has one level of each: no difference of one factor is free of the other."""
        return len(self.islands) > 1 and all(len(i.first) == len(i.second) == 1 for i in self.islands)


@dataclass(frozen=True, slots=True)
class Confounding:
    """A covariate that hardly varies inside the levels of a factor, or beside another covariate.

    Attributes:
        covariate: its name.
        other: the factor or covariate that says nearly the same.
        explained: share of its variation explained by the other, 0..1.
    """

    covariate: str
    other: str
    explained: float


@dataclass(frozen=True, slots=True)
class Separability:
    """What the layout of the trays leaves open.

    Attributes:
        meetings: one for each pair asked for.
        one_level: factors with eggs in fewer than two levels.
        constant: covariates without any variation.
        confounded: covariates explained by more than 95 % by a factor or by another covariate.
    """

    meetings: tuple[Meeting, ...]
    one_level: tuple[str, ...]
    constant: tuple[str, ...]
    confounded: tuple[Confounding, ...]


@dataclass(frozen=True, slots=True)
class Contraction:
    """How much the records say about an sd.

    Attributes:
        name: the factor, or "tray".
        share: 1 - variance of the sd given the records / variance under its prior; about 0 = nothing
            was learnt, 1 = known. Negative where the records widen it.
    """

    name: str
    share: float


def separability(
    factors: Sequence[Factor],
    covariates: Mapping[str, ArrayLike],
    eggs: ArrayLike,
    pairs: Sequence[tuple[str, str]],
) -> Separability:
    """Looks at the layout of the trays that have eggs.

    Args:
        factors: the groupings.
        covariates: columns by name, shape (trays,) each.
        eggs: eggs of each tray; trays without eggs are left out.
        pairs: which factors to hold against each other, e.g. ("pen", "machine").

    Raises:
        WrongUsage: a pair names a factor that is not there.
    """
    used = np.asarray(eggs, dtype=float) > 0
    by_name = {factor.name: factor for factor in factors}
    missing = [name for pair in pairs for name in pair if name not in by_name]
    if missing:
        raise WrongUsage(f"The factor {missing[0]}", f"The factors are {', '.join(by_name)}")
    columns = {name: np.asarray(column, dtype=float)[used] for name, column in covariates.items()}
    constant = tuple(name for name, column in columns.items() if _variation(column) == 0)
    varying = {name: column for name, column in columns.items() if name not in constant}
    return Separability(
        meetings=tuple(meet(by_name[first], by_name[second], used) for first, second in pairs),
        one_level=tuple(f.name for f in factors if len(np.unique(_members(f.codes[used]))) < 2),
        constant=constant,
        confounded=(*_by_factor(varying, factors, used), *_by_each_other(varying)),
    )


def meet(first: Factor, second: Factor, used: Flags) -> Meeting:
    """The islands of two factors in the trays used (a mask of shape (trays,))."""
    both = used & (first.codes >= 0) & (second.codes >= 0)
    one, two = first.codes[both], second.codes[both]
    left, right = len(first.levels), len(second.levels)
    links = coo_array((np.ones(len(one)), (one, left + two)), shape=(left + right, left + right))
    labels = connected_components(links, directed=False)[1].astype(np.int64)
    met = np.zeros(left + right, dtype=bool)
    met[one], met[left + two] = True, True
    order = {int(label): at for at, label in enumerate(dict.fromkeys(labels[:left][met[:left]].tolist()))}
    island = np.array([order.get(int(label), -1) if m else -1 for label, m in zip(labels, met, strict=True)])
    mine, theirs = island[:left].astype(np.int64), island[left:].astype(np.int64)
    islands = tuple(Island(_named(first, mine, at), _named(second, theirs, at)) for at in range(len(order)))
    return Meeting(first.name, second.name, islands, mine, theirs)


def _named(factor: Factor, island: Ints, at: int) -> tuple[str, ...]:
    return tuple(factor.levels[level] for level in np.flatnonzero(island == at))


def _members(codes: Ints) -> Ints:
    return codes[codes >= 0]


def _variation(column: Floats) -> float:
    """Sum of squares around the mean; 0 where it is rounding only."""
    if not len(column):
        return 0.0
    total = float(((column - column.mean()) ** 2).sum())
    return total if total > 1e-20 * float((column**2).sum()) else 0.0


def explained_by_levels(column: Floats, codes: Ints) -> float:
    """Share of a column's variation that lies between the levels of a factor (R squared), 0..1.

    Trays that belong to no level are left out; 0 where a column does not vary among the rest.
    """
    column, codes = column[codes >= 0], codes[codes >= 0]
    total = _variation(column)
    if total == 0:
        return 0.0
    counts = np.bincount(codes)
    centred = column - column.mean()
    sums = np.bincount(codes, centred)
    return float((sums[counts > 0] ** 2 / counts[counts > 0]).sum()) / total


def _by_factor(
    columns: Mapping[str, Floats],
    factors: Sequence[Factor],
    used: Flags,
) -> list[Confounding]:
    shares = [
        Confounding(name, factor.name, explained_by_levels(column, factor.codes[used]))
        for name, column in columns.items()
        for factor in factors
    ]
    return [share for share in shares if share.explained > EXPLAINED]


def _by_each_other(columns: Mapping[str, Floats]) -> list[Confounding]:
    names = list(columns)
    found = []
    for at, name in enumerate(names):
        for other in names[at + 1 :]:
            share = float(np.corrcoef(columns[name], columns[other])[0, 1] ** 2)
            found.append(Confounding(name, other, min(share, 1.0)))
    return [share for share in found if share.explained > EXPLAINED]


def contractions(drawn: Draws, sd_prior: float) -> tuple[Contraction, ...]:
    """How far the records narrowed each sd against its half-normal prior.

    Args:
        drawn: draws from a fit with that prior.
        sd_prior: its scale.
    """
    names = (*drawn.names, TRAY)[: drawn.sds.shape[1]]
    before = HALF_NORMAL_VARIANCE * sd_prior**2
    after = drawn.sds.var(axis=0)
    return tuple(Contraction(name, 1 - float(one) / before) for name, one in zip(names, after, strict=True))
