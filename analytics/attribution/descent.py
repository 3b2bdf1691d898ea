"""The outer search: standard deviations (and, for plain maximum likelihood, slopes) of the crossed model."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from analytics.attribution.arrow import factor_arrow
from analytics.attribution.laplace import Lift, lift, minus_log_likelihood
from analytics.attribution.layout import Flags, Floats, Ints
from analytics.attribution.peak import FlatRecordsError, Peak, Problem, climb, noise_sd

LOWEST, HIGHEST = float(np.log(1e-4)), float(np.log(20.0))
LONGEST = 1.5
ROUNDS = 100
DIFFERENCE = 1e-3
ENOUGH = 1e-9
ROUNDING = 1e-13

Evaluation = Callable[[Problem, Peak], tuple[float, Floats]]


def laplace(problem: Problem, peak: Peak) -> tuple[float, Floats]:
    """Minus the Laplace log-likelihood and its slope."""
    return minus_log_likelihood(problem, peak), lift(problem, peak).slope


@dataclass(slots=True)
class Outer:
    """Minus the log posterior of the outer unknowns: log of the free sds, then held slopes.

    Attributes:
        problem: counts on their layout.
        sds: all sds; those not free stay.
        free: positions of the fitted ones.
        sd_prior: scale of the half-normal prior, taken over the logarithm; None = no prior.
        evaluate: the likelihood and its slope at a mode.
        peak: the last mode, from which the next climb starts.
        evaluations: calls so far.
        newton_steps: Newton steps so far.
    """

    problem: Problem
    sds: Floats
    free: Ints
    sd_prior: float | None
    evaluate: Evaluation
    peak: Peak
    evaluations: int = 0
    newton_steps: int = 0

    @property
    def place(self) -> Floats:
        """The outer unknowns at the last mode."""
        logs = np.log(self.peak.sds[self.free])
        return logs if self.problem.integrate else np.concatenate((logs, self.peak.row[: self.problem.skip]))

    def move_to(self, place: Floats) -> Peak:
        """Climbs to the mode at given outer unknowns and remembers it."""
        sds = self.sds.copy()
        sds[self.free] = np.exp(place[: len(self.free)])
        row, noise = warm_start(self.problem, self.peak, sds, place[len(self.free) :])
        self.peak = climb(self.problem, sds, row, noise)
        self.evaluations += 1
        self.newton_steps += self.peak.steps
        return self.peak

    def prior(self, sds: Floats) -> tuple[float, Floats]:
        """Minus the log prior density of the log sds (constant left out) and its slope."""
        if self.sd_prior is None:
            return 0.0, np.zeros(len(self.free))
        ratio = (sds[self.free] / self.sd_prior) ** 2
        return float(0.5 * ratio.sum() - np.log(sds[self.free]).sum()), ratio - 1

    def height(self, place: Floats) -> float:
        """Value alone, by Laplace."""
        peak = self.move_to(place)
        return minus_log_likelihood(self.problem, peak) + self.prior(peak.sds)[0]

    def __call__(self, place: Floats) -> tuple[float, Floats]:
        """Value and slope."""
        peak = self.move_to(place)
        value, slope = self.evaluate(self.problem, peak)
        extra, push = self.prior(peak.sds)
        kept = slope[self.free] + push
        if not self.problem.integrate:
            kept = np.concatenate((kept, slope[len(self.sds) :]))
        return value + extra, kept


def warm_start(problem: Problem, peak: Peak, sds: Floats, slopes: Floats) -> tuple[Floats, Floats]:
    """A starting point at other sds: the same effects on the logit scale, the given slopes if held."""
    row, noise = peak.row.copy(), peak.noise
    for span, old, new in zip(problem.layout.spans, peak.sds, sds, strict=False):
        row[span] *= old / new if new > 0 else 0.0
    if problem.tray_noise:
        noise = noise * (peak.sds[-1] / sds[-1] if sds[-1] > 0 else 0.0)
    row[: problem.skip] = slopes[: problem.skip]
    return row, noise


def noise_left(problem: Problem, peak: Peak, variance: Floats) -> Floats:
    """Variance left of each tray's own standard normal term."""
    square = noise_sd(problem, peak.sds) ** 2
    return peak.shrink + square * peak.weight**2 * (variance - square * peak.shrink)


def information(problem: Problem, peak: Peak, raised: Lift) -> Floats:
    """Rough information on each log sd: 2 x sum over levels of squared reliability."""
    known = [float(((1 - raised.diagonal[span]) ** 2).sum()) for span in problem.layout.spans]
    if problem.tray_noise:
        known.append(float(((1 - noise_left(problem, peak, raised.variance)) ** 2).sum()))
    return 2 * np.array(known)


def slope_covariance(problem: Problem, peak: Peak) -> Floats:
    """Covariance of the slopes given the sds, effects integrated out to second order."""
    fixed = problem.layout.fixed
    arrow = factor_arrow(problem.layout, peak.weight * peak.shrink, peak.arrow.scale, problem.ridge, 0)
    if arrow is None:
        raise FlatRecordsError
    unit = np.zeros((problem.layout.unknowns, fixed))
    unit[:fixed, :fixed] = np.eye(fixed)
    return arrow.solve(unit)[:fixed]


def descend(outer: Outer, spread: Floats) -> tuple[Floats, float, Floats, Floats]:
    """Quasi-Newton search (BFGS) with bounded steps, the sds kept within limits.

    Args:
        outer: what is made small.
        spread: first guess of the inverse curvature, shape (unknowns, unknowns).

    Returns:
        place, value, slope and inverse curvature at the end.
    """
    place = outer.place
    count = len(outer.free)
    value, slope = outer(place)
    inverse = spread
    for _ in range(ROUNDS):
        held = pinned(place, slope, count)
        move = direction(inverse, slope, held)
        if not move.any() or -float(slope @ move) < max(ENOUGH, ROUNDING * abs(value)):
            break
        longest = float(np.abs(move[:count]).max(initial=0.0))
        found = _search(outer, place, (value, slope), move * min(1.0, LONGEST / max(longest, LONGEST)))
        if found is None:
            break
        inverse = learn(inverse, found[0] - place, found[2] - slope)
        place, value, slope = found
    return place, value, slope, inverse


def pinned(place: Floats, slope: Floats, count: int) -> Flags:
    """Log sds that lie on a limit and press against it."""
    logs, push = place[:count], slope[:count]
    low = (logs <= LOWEST + 1e-9) & (push >= 0)
    high = (logs >= HIGHEST - 1e-9) & (push <= 0)
    return np.concatenate((low | high, np.zeros(len(place) - count, dtype=bool)))


def direction(inverse: Floats, slope: Floats, held: Flags) -> Floats:
    """Downhill step; 0 where held."""
    loose = ~held
    move = np.zeros(len(slope))
    move[loose] = -inverse[np.ix_(loose, loose)] @ slope[loose]
    return move


def _search(
    outer: Outer, place: Floats, here: tuple[float, Floats], move: Floats
) -> tuple[Floats, float, Floats] | None:
    """Shortens the step until the value falls enough; None where it does not fall."""
    value, slope = here
    count, start = len(outer.free), outer.peak
    for _ in range(12):
        new = place + move
        new[:count] = np.clip(new[:count], LOWEST, HIGHEST)
        fall = float(slope @ (new - place))
        there, its_slope = outer(new)
        if there <= value + 1e-4 * fall or (abs(fall) < 1e-9 and there <= value + 1e-9):
            return new, there, its_slope
        outer.peak = start
        bend = there - value - fall
        move = move * min(0.5, max(0.1, -fall / (2 * bend))) if bend > 0 else move * 0.5
    return None


def learn(inverse: Floats, step: Floats, change: Floats) -> Floats:
    """The BFGS update, damped so that the matrix stays positive definite."""
    along = float(step @ change)
    if along <= 1e-10 * float(np.linalg.norm(step) * np.linalg.norm(change)) or along <= 0:
        return inverse
    turned = inverse @ change
    rank_one = np.outer(step, step) * (1 + float(change @ turned) / along) / along
    mixed = np.outer(step, turned) / along
    return inverse + rank_one - mixed - mixed.T


def curvature(outer: Outer, place: Floats) -> Floats:
    """Second derivatives: central differences of the exact slope."""
    start = outer.peak
    rows = []
    for at in range(len(place)):
        step = np.zeros(len(place))
        step[at] = DIFFERENCE
        outer.peak = start
        high = outer(place + step)[1]
        outer.peak = start
        rows.append((high - outer(place - step)[1]) / (2 * DIFFERENCE))
    outer.peak = start
    matrix = np.array(rows).reshape(len(place), len(place))
    return (matrix + matrix.T) / 2
