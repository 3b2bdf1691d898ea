"""How far each pen, machine or parent stands from its fellows, and in which months: tests out of the fit.

The effects of the model are drawn towards the typical level, and so much that a pen with few trays hides.
Here the normal prior of a factor's levels is taken off again (the other sds stay as fitted): what is left is
what the records alone say of the levels, as if they were fixed. Each is held against the mean of its fellows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr, ndtri

from analytics.attribution.layout import Factor, Flags, Floats, Ints
from analytics.attribution.records import CrossedFit
from analytics.attribution.runs import cells_by_level, usual_variance, worst_run
from analytics.attribution.separability import meet
from analytics.attribution.terms import BY_MONTH, Grouping, Terms

OCCASIONS = ("batch", "month")
"""Factors whose levels never come back: they are judged by how far they stick out, not by these tests."""
PARENTS = ("sire", "dam")
MONTHS_MOST = 0.05
"""P value up to which a run of months stands out."""
FLAT = 1e-9


@dataclass(frozen=True, slots=True)
class Months:
    """A run of months of one level that stands out from its others.

    Attributes:
        first: name of its first cell.
        last: name of its last.
        p_value: of no difference from the level's own other months, all runs tried counted.
        cells: names of all its cells.
        least: share of how far they stand out from which they would just have stood out.
    """

    first: str
    last: str
    p_value: float
    cells: tuple[str, ...]
    least: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """What one step's fit says of levels and slopes.

    Attributes:
        p_values: (factor or covariate, level) -> two-sided p value of no difference from its fellows.
        runs: (factor by month, level) -> its worst run of months.
    """

    p_values: Mapping[tuple[str, str], float]
    runs: Mapping[tuple[str, str], Months]


@dataclass(frozen=True, slots=True)
class Judged:
    """What the fits of all steps say beside their draws.

    Attributes:
        doubts: steps whose model did not settle, and why.
        evidence: step -> its tests.
    """

    doubts: tuple[str, ...] = ()
    evidence: Mapping[str, Evidence] = field(default_factory=dict)


def evidence(fit: CrossedFit, terms: Terms, used: Flags) -> Evidence:
    """The tests of one step.

    Args:
        fit: by "reml", on the layout of the terms.
        terms: what the step is explained by.
        used: trays with eggs in the step, shape (trays,).
    """
    p_values: dict[tuple[str, str], float] = {}
    for at, each in enumerate(terms.covariates, start=1):
        if not each.beside:
            p_values[each.name, ""] = two_sided(float(fit.modes.b[at] / fit.standard_errors[at]))
    runs: dict[tuple[str, str], Months] = {}
    for grouping in terms.groupings:
        name = grouping.factor.name
        if name.endswith(BY_MONTH):
            runs |= _runs(fit, grouping.factor, used)
        elif name not in OCCASIONS:
            p_values |= _levels(fit, grouping, _islands(terms, grouping.factor, used), used)
    return Evidence(p_values, runs)


def two_sided(z: float) -> float:
    """The normal p value."""
    return float(2 * ndtr(-abs(z)))


def _islands(terms: Terms, factor: Factor, used: Flags) -> Ints:
    """The island of each level where pens and machines, or pens and parents, fall apart; else all one."""
    pens = next((each.factor for each in terms.groupings if each.factor.name == "pen"), None)
    if factor.name in PARENTS and pens:
        return meet(pens, factor, used).second_island
    for meeting in terms.apart:
        if meeting.first == factor.name:
            return meeting.first_island
        if meeting.second == factor.name:
            return meeting.second_island
    return np.zeros(len(factor.levels), dtype=np.int64)


def _levels(fit: CrossedFit, each: Grouping, islands: Ints, used: Flags) -> dict[tuple[str, str], float]:
    """Every level against the mean of the others of its island."""
    codes = each.factor.codes[used]
    seen = np.unique(codes[codes >= 0])
    known, pull = _without_prior(fit, each.factor.name, seen)
    covariance = np.linalg.pinv(known, rcond=FLAT, hermitian=True)
    values = covariance @ pull
    found = {}
    for at, level in enumerate(seen):
        fellows = (islands[seen] == islands[level]) & (np.arange(len(seen)) != at)
        if fellows.any():
            contrast = np.where(fellows, -1.0 / fellows.sum(), 0.0)
            contrast[at] = 1.0
            error = float(np.sqrt(max(contrast @ covariance @ contrast, FLAT)))
            found[each.factor.name, each.factor.levels[level]] = two_sided(float(contrast @ values) / error)
    return found


def _without_prior(fit: CrossedFit, name: str, rows: Ints) -> tuple[Floats, Floats]:
    """Information on some levels of a factor that the records hold, and its product with their best values.

    On the scale on which the factor's sd is 1: there the prior's information is 1 for each level.
    """
    known, values = _joint(fit, name, rows)
    inverse = np.linalg.inv(known)
    return inverse - np.eye(len(rows)), inverse @ values


def _joint(fit: CrossedFit, name: str, rows: Ints) -> tuple[Floats, Floats]:
    """Covariance and mode of some levels of a factor, all else integrated out."""
    layout = fit.problem.layout
    places = layout.spans[layout.names.index(name)].start + np.asarray(rows)
    unit = np.zeros((layout.unknowns, len(places)))
    unit[places, np.arange(len(places))] = 1.0
    return fit.peak.arrow.solve(unit)[places], fit.peak.row[places]


def _runs(fit: CrossedFit, factor: Factor, used: Flags) -> dict[tuple[str, str], Months]:
    """The worst run of months of every level, held against how much the others' months differ."""
    with_eggs = np.bincount(factor.codes[used & (factor.codes >= 0)], minlength=len(factor.levels)) > 0
    kept = {
        level: np.array([at for at in columns if with_eggs[at]], dtype=np.int64)
        for level, columns in cells_by_level(factor.levels).items()
    }
    joint = {level: _joint(fit, factor.name, places) for level, places in kept.items()}
    found = {}
    for level, places in kept.items():
        others = [(values, np.diagonal(left)) for other, (left, values) in joint.items() if other != level]
        usual = (
            usual_variance(*(np.concatenate(part) for part in zip(*others, strict=True))) if others else 1.0
        )
        run = worst_run(joint[level][1], joint[level][0], usual)
        if run:
            cells = places[run.first : run.last + 1]
            names = tuple(factor.levels[at] for at in cells)
            tried = len(places) * (len(places) + 1) / 2 - 1
            found[factor.name, level] = Months(
                names[0], names[-1], run.p_value, names, _least(run.p_value, tried)
            )
    return found


def _least(p_value: float, tried: float) -> float:
    """Where p is just small enough, as a share of how far a run stands out of those that were tried."""
    return float(ndtri(MONTHS_MOST / tried / 2) / ndtri(p_value / tried / 2)) if p_value > 0 else 0.0
