"""The crossed binomial mixed model: pens, machines, batches and trays' own noise at once.

y of n eggs passed: logit p = offset + x b + sum over factors u[level] + e, all u and e normal with
their own sd, which is estimated. The likelihood is Laplace's approximation; "reml" integrates the
slopes out with the effects, "ml" holds them at their maximum.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np
from numpy.typing import ArrayLike

from analytics.attribution.descent import Evaluation, Outer, descend, information, laplace, slope_covariance
from analytics.attribution.laplace import lift
from analytics.attribution.layout import Factor, Floats, Ints, Layout, lay_out
from analytics.attribution.peak import FlatRecordsError, Problem, binomial_constant, climb
from analytics.attribution.quadrature import quadrature
from analytics.attribution.records import TRAY, CrossedFit
from analytics.attribution.settle import settle, untold
from analytics.errors import DataTooThin, WrongUsage

__all__ = ["TRAY", "CrossedFit", "Factor", "Model", "fit", "fit_on", "lay_out"]

INTERCEPT_PRIOR = 10.0
HOLD = 1e-3
START, START_NOISE = 0.5, 0.3
ALIASED = 1e-9


@dataclass(frozen=True, slots=True)
class Model:
    """What is assumed, and how it is fitted; the fields are described at `fit`."""

    tray_noise: bool = True
    method: str = "reml"
    sd_prior: float | None = 1.0
    slope_prior: float | None = 2.5
    fixed_sd: Mapping[str, float] = field(default_factory=dict)
    points: int = 1
    uncertainty: bool = True


def fit(
    passed: ArrayLike,
    eggs: ArrayLike,
    slopes: ArrayLike,
    factors: Sequence[Factor],
    *,
    offset: ArrayLike | None = None,
    tray_noise: bool = True,
    method: str = "reml",
    sd_prior: float | None = 1.0,
    slope_prior: float | None = 2.5,
    fixed_sd: Mapping[str, float] | None = None,
    points: int = 1,
    uncertainty: bool = True,
) -> CrossedFit:
    """Fits the model.

    Args:
        passed: eggs that passed the step, shape (trays,).
        eggs: eggs that entered it, shape (trays,); 0 is allowed and says nothing.
        slopes: columns of x, shape (trays, slopes), the intercept included.
        factors: any number of groupings, crossed or nested.
        offset: known part of the logit, shape (trays,).
        tray_noise: whether each tray has its own normal term.
        method: "reml" or "ml".
        sd_prior: scale of a half-normal prior on each sd, or None. With it the fitted sds are the mode
            of the density of their logarithms, which is never at zero.
        slope_prior: sd of the normal prior of a slope per standard deviation of its column, or None;
            with it constant columns have sd 10, so that all-or-nothing records have an answer.
        fixed_sd: sds that are given and not fitted, by factor name or "tray".
        points: 1 = Laplace; more = adaptive Gauss-Hermite points, for one factor and method "ml".
        uncertainty: whether the covariance of the sds is computed as well.

    Returns:
        the fit; where it did not converge, `convergence.words` say why.

    Raises:
        WrongUsage: shapes, counts or names that do not fit together.
        DataTooThin: no eggs at all.
    """
    model = Model(tray_noise, method, sd_prior, slope_prior, fixed_sd or {}, points, uncertainty)
    return fit_on(lay_out(np.asarray(slopes, dtype=float), factors), passed, eggs, model, offset)


def fit_on(
    layout: Layout, passed: ArrayLike, eggs: ArrayLike, model: Model, offset: ArrayLike | None = None
) -> CrossedFit:
    """As `fit`, on a layout made before: for many responses on the same trays."""
    problem, trouble = _problem(layout, passed, eggs, offset, model)
    names = (*layout.names, TRAY) if model.tray_noise else layout.names
    silent = untold(problem, names) if model.sd_prior is None else ()
    sds, free = _start(names, {**dict.fromkeys(silent, 0.0), **model.fixed_sd})
    evaluate = _evaluation(problem, model.points)
    if not trouble:
        try:
            outer, spread = _outer(problem, sds, free, model.sd_prior, evaluate)
            return settle(outer, names, descend(outer, spread), uncertainty=model.uncertainty)
        except FlatRecordsError:
            trouble = "nothing holds a slope: its records are all-or-nothing"
    held = replace(problem, precision=np.maximum(problem.precision, HOLD))
    outer, spread = _outer(held, sds, free, model.sd_prior, evaluate)
    return settle(outer, names, descend(outer, spread), uncertainty=model.uncertainty, trouble=trouble)


def _problem(
    layout: Layout, passed: ArrayLike, eggs: ArrayLike, offset: ArrayLike | None, model: Model
) -> tuple[Problem, str]:
    """The counts on their layout, and what is wrong with the slopes' columns."""
    if model.method not in ("reml", "ml"):
        raise WrongUsage(f"The method {model.method!r}", "It is reml or ml")
    trays = layout.design.shape[0]
    y, n = _counts(passed, eggs, trays)
    known = np.zeros(trays) if offset is None else np.asarray(offset, dtype=float)
    if known.shape != (trays,) or not np.isfinite(known).all():
        raise WrongUsage("The offset", f"It is one finite number for each of the {trays} trays")
    columns = layout.slope_columns()
    if not np.isfinite(columns).all():
        raise WrongUsage("The columns of x", "Every entry is a finite number")
    precision = _precision(columns, model.slope_prior)
    problem = Problem(
        layout, y, n, known, precision, model.tray_noise, model.method == "reml", binomial_constant(y, n)
    )
    return problem, _aliased(columns[n > 0], precision)


def _counts(passed: ArrayLike, eggs: ArrayLike, trays: int) -> tuple[Floats, Floats]:
    y, n = np.asarray(passed, dtype=float), np.asarray(eggs, dtype=float)
    if y.shape != (trays,) or n.shape != (trays,):
        raise WrongUsage(f"{y.shape} passed, {n.shape} eggs", f"There are {trays} trays, one count each")
    if not (np.isfinite(y).all() and np.isfinite(n).all() and (y >= 0).all() and (y <= n).all()):
        raise WrongUsage("The counts", "Eggs that passed lie between 0 and the eggs that entered")
    if not n.sum() > 0:
        raise DataTooThin("No eggs", "A rate needs at least one egg", "Widen the selection")
    return y, n


def _precision(columns: Floats, slope_prior: float | None) -> Floats:
    """Prior precision of each slope."""
    if slope_prior is None:
        return np.zeros(columns.shape[1])
    spread = columns.std(axis=0)
    constant = spread <= 1e-12 * np.abs(columns).max(axis=0)
    return np.where(constant, INTERCEPT_PRIOR**-2, (spread / slope_prior) ** 2)


def _aliased(columns: Floats, precision: Floats) -> str:
    """Words where columns without a prior say the same."""
    loose = columns[:, precision == 0]
    if not loose.shape[1]:
        return ""
    size = np.sqrt((loose**2).sum(axis=0))
    if (size == 0).any():
        return "a column of x is zero wherever there are eggs"
    gram = (loose / size).T @ (loose / size)
    return "columns of x say the same" if np.linalg.eigvalsh(gram)[0] < ALIASED else ""


def _start(names: tuple[str, ...], fixed: Mapping[str, float]) -> tuple[Floats, Ints]:
    """Starting or given sds, and the positions of those to be fitted."""
    if len(set(names)) < len(names):
        raise WrongUsage(f"The factors {', '.join(names)}", "Every factor has its own name")
    for name, sd in fixed.items():
        if name not in names or not (np.isfinite(sd) and sd >= 0):
            known = ", ".join(names)
            raise WrongUsage(f"The given sd {name} = {sd}", f"It is at least 0, for one of {known}")
    sds = np.array([fixed.get(name, START_NOISE if name == TRAY else START) for name in names])
    return sds, np.array([at for at, name in enumerate(names) if name not in fixed], dtype=np.int64)


def _evaluation(problem: Problem, points: int) -> Evaluation:
    if points == 1:
        return laplace
    if points < 1 or problem.integrate or problem.tray_noise or len(problem.layout.names) != 1:
        raise WrongUsage(
            f"{points} quadrature points", "They need method ml, exactly one factor and no tray noise"
        )
    return partial(quadrature, points=points)


def _outer(
    problem: Problem, sds: Floats, free: Ints, sd_prior: float | None, evaluate: Evaluation
) -> tuple[Outer, Floats]:
    """The outer problem at its start, and a first guess of its inverse curvature."""
    joint = replace(problem, integrate=True)
    trays = len(problem.eggs)
    peak = climb(joint, sds, np.zeros(problem.layout.unknowns), np.zeros(trays))
    known = information(joint, peak, lift(joint, peak))[free]
    if sd_prior is not None:
        known = known + 2 * (sds[free] / sd_prior) ** 2
    guess = np.diag(1 / np.maximum(known, 0.5))
    if not problem.integrate:
        covariance = slope_covariance(joint, peak)
        guess = np.block([
            [guess, np.zeros((len(free), len(covariance)))],
            [np.zeros((len(covariance), len(free))), covariance],
        ])  # fmt: skip
    return Outer(problem, sds, free, sd_prior, evaluate, peak), guess
