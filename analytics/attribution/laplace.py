"""The Laplace approximation of the (restricted) likelihood and its exact slope."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from analytics.attribution.layout import Floats
from analytics.attribution.peak import Peak, Problem, noise_sd


@dataclass(frozen=True, slots=True)
class Lift:
    """What the curvature adds at a mode.

    Attributes:
        diagonal: diagonal of the inverse information, shape (unknowns,), standard normal scale.
        variance: variance of each tray's linear predictor, shape (trays,).
        shift: minus the first-order distance from mode to mean, shape (unknowns,).
        tilt: the same on each tray's linear predictor, shape (trays,).
        slope: slope of minus the log-likelihood in the log sds (as in `Peak.sds`), then in the slopes
            (0 where they are integrated out).
    """

    diagonal: Floats
    variance: Floats
    shift: Floats
    tilt: Floats
    slope: Floats


def minus_log_likelihood(problem: Problem, peak: Peak) -> float:
    """Minus the Laplace log-likelihood, binomial constant included.

    With the slopes integrated out their flat measure, or their normal prior, is included; with the
    slopes held it is the marginal likelihood at them (times the prior's kernel, where there is one).
    """
    sd = noise_sd(problem, peak.sds)
    curvature = peak.arrow.log_determinant()
    if sd:
        curvature -= float(np.log(peak.shrink).sum())
    value = peak.height + 0.5 * curvature - problem.constant
    proper = problem.precision[problem.precision > 0]
    value += 0.5 * (math.log(2 * math.pi) * len(proper) - float(np.log(proper).sum()))
    if problem.integrate:
        value -= 0.5 * problem.layout.fixed * math.log(2 * math.pi)
    return value


def lift(problem: Problem, peak: Peak) -> Lift:
    """Variances at the mode, the third-order shift, and the slope of `minus_log_likelihood`.

    The mode moves with the sds; its movement enters through one extra solve (the shift), because
    the slope of the log-determinant in the mode is the same vector for every sd.
    """
    layout, sd, design = problem.layout, noise_sd(problem, peak.sds), problem.layout.design
    scale, shrink, weight = peak.arrow.scale, peak.shrink, peak.weight
    cells, diagonal = peak.arrow.cells_of_inverse()
    core = layout.pairs @ cells
    variance = shrink * (shrink * core + sd * sd)
    third = 0.5 * weight * peak.lean * variance
    right = scale * (layout.turned @ (third * shrink))
    right[: problem.skip] = 0
    shift = peak.arrow.solve(right)
    inner = design @ (scale * shift)
    tilt = shrink * (inner + sd * sd * third)
    pull = third - peak.residual - weight * tilt
    by_column = layout.turned @ pull
    slope = np.zeros(len(peak.sds) + layout.fixed)
    for at, span in enumerate(layout.spans):
        row = peak.row[span]
        own = (scale[span] * by_column[span] + shift[span]) @ row
        slope[at] = own + len(row) - diagonal[span].sum()
    if problem.tray_noise:
        left = shrink * (1 + sd * sd * weight * weight * shrink * core)
        noise_shift = sd * shrink * (third - weight * inner)
        slope[len(layout.spans)] = (sd * pull + noise_shift) @ peak.noise + (1 - left).sum()
    if not problem.integrate:
        slope[len(peak.sds) :] = by_column[: layout.fixed] + problem.precision * peak.row[: layout.fixed]
    return Lift(diagonal, variance, shift, tilt, slope)
