"""Adaptive Gauss-Hermite likelihood of a model with one factor: the step beyond Laplace."""

from __future__ import annotations

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import expit, logsumexp

from analytics.attribution.layout import Floats
from analytics.attribution.peak import Peak, Problem


def quadrature(problem: Problem, peak: Peak, points: int) -> tuple[float, Floats]:
    """Minus the log-likelihood with `points` nodes at each level's mode, and its exact slope.

    Args:
        problem: one factor, no tray noise, slopes held.
        peak: the mode at the present sd and slopes.
        points: nodes for each level; 1 is Laplace.

    Returns:
        the value, binomial constant included, and the slope in (log sd, slopes).
    """
    layout, sd = problem.layout, float(peak.sds[0])
    span, fixed = layout.spans[0], layout.fixed
    design = layout.design[:, span]
    columns = layout.slope_columns()
    nodes, weights = hermegauss(points)
    mode = peak.row[span]
    width = np.sqrt(peak.arrow.inverse)
    place = mode[:, None] + width[:, None] * nodes
    known = problem.offset + columns @ peak.row[:fixed]
    eta = known[:, None] + sd * (design @ place)
    soft = np.logaddexp(0, eta)
    chance = design.T @ (problem.passed[:, None] * eta - problem.eggs[:, None] * soft) - 0.5 * place**2
    terms = chance + 0.5 * nodes**2 + np.log(weights / np.sqrt(2 * np.pi))
    share = np.exp(terms - logsumexp(terms, axis=1, keepdims=True))
    value = -float((logsumexp(terms, axis=1) + np.log(width)).sum()) - problem.constant
    value += 0.5 * float(problem.precision @ peak.row[:fixed] ** 2)

    residual = problem.passed[:, None] - problem.eggs[:, None] * expit(eta)
    along = sd * (design.T @ residual) - place
    in_tray = (residual * (design @ share)).sum(axis=1)
    third = peak.weight * peak.lean
    own = sd * (design @ mode)
    slope = np.empty(1 + fixed)
    for at in range(1 + fixed):
        if at == 0:
            by_tray, lengthen = own, 2 * (sd * sd * (design.T @ peak.weight))
            direct = float((share * (sd * place * (design.T @ residual))).sum())
            cross = sd * (design.T @ (peak.weight * by_tray)) - mode
        else:
            by_tray, lengthen = columns[:, at - 1], np.zeros(layout.large)
            direct = float(in_tray @ by_tray)
            cross = sd * (design.T @ (peak.weight * by_tray))
        moved = -cross * peak.arrow.inverse
        bend = lengthen + sd * sd * (design.T @ (third * (by_tray + sd * (design @ moved))))
        wider = -0.5 * width**3 * bend
        drift = (share * along * (moved[:, None] + wider[:, None] * nodes)).sum(axis=1)
        slope[at] = -direct - float((drift + wider / width).sum())
    slope[1:] += problem.precision * peak.row[:fixed]
    return value, slope
