"""Months that stand out, as terms of their own: a step is fitted once more with what came and stayed.

Months are taken to differ by chance, all with one sd. A male that fails from June on is no such chance: the
common sd would draw his months in, and what grows with time, the hens' age above all, would take the rest.
So each run of months that stands out gets a column of 0 and 1 whose slope is hardly held (its prior sd is 1
logit over the column's sd). What the draws say of that slope is theirs to whom the months belong.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from scipy.special import log_ndtr, ndtri

from analytics.attribution.draws import Draws
from analytics.attribution.evidence import MONTHS_MOST, Evidence, Months
from analytics.attribution.layout import Floats
from analytics.attribution.terms import BY_MONTH, Terms

Key = tuple[str, str]
"""Factor by month, and the level whose months stand out."""
WIDE, BEYOND, GRID, FLAT = 6.0, 2.0, 2001, 1e-9


def standing_out(found: Evidence) -> dict[Key, Months]:
    """The runs of months that are terms of their own."""
    return {key: run for key, run in found.runs.items() if run.p_value <= MONTHS_MOST}


def columns_of(terms: Terms, runs: dict[Key, Months]) -> list[Floats]:
    """1 for the trays of each run, else 0."""
    factors = {each.factor.name: each.factor for each in terms.groupings}
    return [
        np.isin(factors[name].codes, [factors[name].levels.index(cell) for cell in run.cells]).astype(float)
        for (name, _), run in runs.items()
    ]


def given_back(drawn: Draws, terms: Terms, runs: dict[Key, Months]) -> Draws:
    """Draws in which the columns' slopes are part of the months' effects.

    Months are looked at because they stand out, so what they say of themselves is too much on average. The
    slopes follow the likelihood given that the months stood out (Zhong and Prentice 2008, Biostatistics 9,
    621-634; from memory); the other effects give way as they hang on the slope.

    Args:
        drawn: of the fit with the columns, which stand after intercept and covariates.
        terms: what the step is explained by.
        runs: the runs, in the order of the columns.
    """
    kept = 1 + len(terms.covariates)
    for at, run in enumerate(runs.values(), start=kept):
        drawn = _moved(drawn, at, as_chosen(drawn.b[:, at], run.least))
    effects = dict(zip(drawn.names, (each.copy() for each in drawn.effects), strict=True))
    factors = {each.factor.name: each.factor for each in terms.groupings}
    for at, ((name, _), run) in enumerate(runs.items(), start=kept):
        places = [factors[name].levels.index(cell) for cell in run.cells]
        effects[name][:, places] += drawn.b[:, at, None]
    return replace(drawn, b=drawn.b[:, :kept], effects=tuple(effects[name] for name in drawn.names))


def as_chosen(sizes: Floats, least: float) -> Floats:
    """Sizes of a run of months after allowing for its having been chosen.

    A run of true size x stands out with chance Phi((x - least m) / s), m and s the sizes' mean and sd, all
    as losses. The likelihood divided by that, as far as two sd beyond no loss at all, takes the place of the
    normal one; each size moves as far as its quantile does. A run that just stood out may be none.

    Args:
        sizes: draws of the run's slope on the logit scale, shape (draws,).
        least: share of the mean from which the run would have stood out.
    """
    middle, spread = float(sizes.mean()), float(sizes.std())
    if middle >= 0 or spread == 0:
        return sizes
    places = np.linspace(middle - WIDE * spread, BEYOND * spread, GRID)
    height = -0.5 * ((places - middle) / spread) ** 2 - log_ndtr((least * middle - places) / spread)
    chance = np.exp(height - height.max())
    ladder = np.cumsum(chance) - chance / 2
    share = (np.argsort(np.argsort(sizes)) + 0.5) / len(sizes)
    chosen = np.interp(share, ladder / chance.sum(), places)
    return np.asarray(sizes + chosen - middle - spread * ndtri(share))


def _moved(drawn: Draws, at: int, sizes: Floats) -> Draws:
    """Draws whose slope `at` has other values; all else moves with it as it does over the draws."""
    off = drawn.b[:, at] - drawn.b[:, at].mean()
    way, scale = sizes - drawn.b[:, at], max(float(off @ off), FLAT)
    b, *effects = (each + way[:, None] * (off @ each / scale) for each in (drawn.b, *drawn.effects))
    return replace(drawn, b=b, effects=tuple(effects))


def judged_again(first: Evidence, second: Evidence, runs: dict[Key, Months]) -> Evidence:
    """Slopes and fellows as the second fit tells them; levels with months that stand out as the first did."""
    whole = {(name.removesuffix(BY_MONTH), level) for name, level in runs}
    p_values = {
        key: first.p_values[key] if key in whole else p_value for key, p_value in second.p_values.items()
    }
    return Evidence(p_values, first.runs)
