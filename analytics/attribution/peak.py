"""The mode of slopes and effects for given standard deviations, by Newton's method."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

from analytics.attribution.arrow import Arrow, factor_arrow
from analytics.attribution.layout import Floats, Layout

STEPS = 200
HALVINGS = 30
SETTLED = 1e-13
ROUNDING = 1e-6
DIGITS = 1e-12


@dataclass(frozen=True, slots=True)
class Problem:
    """Counts on a layout, and what is assumed about the slopes.

    Attributes:
        layout: the tables.
        passed: eggs that passed the step, shape (trays,).
        eggs: eggs that entered it.
        offset: known part of the linear predictor.
        precision: 1 / variance of each slope's normal prior, shape (slopes,); 0 = none.
        tray_noise: whether each tray has its own normal term.
        integrate: whether the slopes are integrated out (restricted likelihood) or held.
        constant: log of the binomial coefficients, summed.
    """

    layout: Layout
    passed: Floats
    eggs: Floats
    offset: Floats
    precision: Floats
    tray_noise: bool
    integrate: bool
    constant: float

    @property
    def skip(self) -> int:
        """Leading unknowns that are held fixed."""
        return 0 if self.integrate else self.layout.fixed

    @property
    def ridge(self) -> Floats:
        """Prior precision of every unknown."""
        layout = self.layout
        return np.concatenate((self.precision, np.ones(layout.unknowns - layout.fixed)))


@dataclass(frozen=True, slots=True)
class Peak:
    """The mode, everything on the scale of standard normal effects.

    Attributes:
        sds: standard deviation of every factor, as given, then of the tray noise.
        row: slopes and effects divided by their sd, shape (unknowns,).
        noise: tray terms divided by their sd, shape (trays,).
        eta: linear predictor.
        residual: passed minus expected.
        weight: eggs * p * (1 - p).
        lean: 1 - 2 p.
        shrink: 1 / (1 + sd_noise^2 weight).
        arrow: factored information of `row`, tray noise eliminated.
        height: minus log joint density at the mode, without the binomial constant.
        steps: Newton steps taken.
        trouble: why the mode was not reached, or "".
    """

    sds: Floats
    row: Floats
    noise: Floats
    eta: Floats
    residual: Floats
    weight: Floats
    lean: Floats
    shrink: Floats
    arrow: Arrow
    height: float
    steps: int
    trouble: str


def binomial_constant(passed: Floats, eggs: Floats) -> float:
    """Sum of the log binomial coefficients."""
    return float((gammaln(eggs + 1) - gammaln(passed + 1) - gammaln(eggs - passed + 1)).sum())


def column_scale(problem: Problem, sds: Floats) -> Floats:
    """What each column of the design is multiplied by: 1 for slopes, the sd of its factor else."""
    scale = np.ones(problem.layout.unknowns)
    for span, sd in zip(problem.layout.spans, sds, strict=False):
        scale[span] = sd
    return scale


def noise_sd(problem: Problem, sds: Floats) -> float:
    """The tray noise's sd; 0 without tray noise."""
    return float(sds[-1]) if problem.tray_noise else 0.0


def minus_log_chance(problem: Problem, eta: Floats) -> tuple[float, Floats]:
    """Minus the binomial log-likelihood without its constant, and exp(-|eta|)."""
    small = np.exp(-np.abs(eta))
    soft = np.log1p(small)
    soft += np.maximum(eta, 0)
    return float(problem.eggs @ soft - problem.passed @ eta), small


class FlatRecordsError(ArithmeticError):
    """The information matrix is singular: nothing holds a slope."""


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the climb stands: the unknowns, exp(-|eta|) and the height."""

    row: Floats
    noise: Floats
    eta: Floats
    small: Floats
    height: float


@dataclass(frozen=True, slots=True)
class _View:
    """What the binomial says at a place: see `Peak` for the names."""

    residual: Floats
    weight: Floats
    lean: Floats
    shrink: Floats
    arrow: Arrow


@dataclass(frozen=True, slots=True)
class _Move:
    """A Newton step in the three sets of unknowns, and the squared length it promises."""

    row: Floats
    noise: Floats
    eta: Floats
    gain: float


def climb(problem: Problem, sds: Floats, row: Floats, noise: Floats) -> Peak:
    """Finds the mode from a starting point; held slopes are the first entries of `row`.

    Tray noise is eliminated tray by tray and the largest factor level by level, so that one step
    costs one dense Cholesky of the rest.

    Raises:
        FlatRecordsError: the information matrix is singular.
    """
    scale, ridge = column_scale(problem, sds), problem.ridge
    eta = problem.offset + problem.layout.design @ (scale * row) + noise_sd(problem, sds) * noise
    place = _stand(problem, ridge, row, noise, eta)
    view, move = _newton(problem, sds, scale, ridge, place)
    steps, trouble = 0, ""
    while move.gain > SETTLED:
        better = _step(problem, ridge, place, move)
        if better is None or steps >= STEPS:
            trouble = "the mode of the effects was not reached"
            break
        place, steps, last = better, steps + 1, move.gain
        view, move = _newton(problem, sds, scale, ridge, place)
        if last < _rounding(place) and move.gain > last / 2:
            break
    return Peak(
        sds=sds,
        row=place.row,
        noise=place.noise,
        eta=place.eta,
        residual=view.residual,
        weight=view.weight,
        lean=view.lean,
        shrink=view.shrink,
        arrow=view.arrow,
        height=place.height,
        steps=steps,
        trouble=trouble,
    )


def _stand(problem: Problem, ridge: Floats, row: Floats, noise: Floats, eta: Floats) -> _Place:
    chance, small = minus_log_chance(problem, eta)
    prior = 0.5 * float(ridge @ row**2) + 0.5 * float(noise @ noise)
    return _Place(row, noise, eta, small, chance + prior)


def _rounding(place: _Place) -> float:
    """Gains below this are lost in the digits of the height: then the whole step is taken unseen."""
    return max(ROUNDING, DIGITS * abs(place.height))


def _newton(
    problem: Problem, sds: Floats, scale: Floats, ridge: Floats, place: _Place
) -> tuple[_View, _Move]:
    """The view from a place and the Newton step there."""
    sd, design = noise_sd(problem, sds), problem.layout.design
    whole = 1 + place.small
    lean = np.copysign(1 - place.small, -place.eta) / whole
    weight = problem.eggs * place.small / whole**2
    residual = problem.passed - problem.eggs * (0.5 - 0.5 * lean)
    shrink = 1 / (1 + sd * sd * weight)
    arrow = factor_arrow(problem.layout, weight * shrink, scale, ridge, problem.skip)
    if arrow is None:
        raise FlatRecordsError
    pull = shrink * (residual + sd * weight * place.noise)
    slope = scale * (problem.layout.turned @ pull) - ridge * place.row
    slope[: problem.skip] = 0
    row = arrow.solve(slope)
    eta = design @ (scale * row)
    noise_slope = sd * residual - place.noise
    noise = shrink * (noise_slope - sd * weight * eta)
    gain = float(slope @ row + noise_slope @ noise)
    if not np.isfinite(gain):
        raise FlatRecordsError
    return _View(residual, weight, lean, shrink, arrow), _Move(row, noise, eta + sd * noise, gain)


def _step(problem: Problem, ridge: Floats, place: _Place, move: _Move) -> _Place | None:
    """The Newton step, halved until it gains; None where no part of it does."""
    size = 1.0
    for _ in range(HALVINGS):
        there = _stand(
            problem,
            ridge,
            place.row + size * move.row,
            place.noise + size * move.noise,
            place.eta + size * move.eta,
        )
        if there.height <= place.height - 1e-4 * size * move.gain or move.gain < _rounding(place):
            return there
        size /= 2
    return None
