"""Adaptive Gauss-Hermite likelihood of a model with one factor: the step beyond Laplace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.hermite_e import hermegauss
from scipy.special import expit, logsumexp

from analytics.attribution.layout import Floats
from analytics.attribution.peak import Peak, Problem


@dataclass(frozen=True, slots=True)
class _Nodes:
    """The nodes of every level, on the standard normal scale.

    Attributes:
        design: trays x levels.
        standard: the rule's nodes, shape (points,).
        width: posterior sd at the mode, shape (levels,).
        place: mode + width * standard, shape (levels, points).
        eta: linear predictors there, shape (trays, points).
        share: posterior share of each node, shape (levels, points).
        log_sums: logarithm of the summed terms, shape (levels,).
    """

    design: Floats
    standard: Floats
    width: Floats
    place: Floats
    eta: Floats
    share: Floats
    log_sums: Floats


def quadrature(problem: Problem, peak: Peak, points: int) -> tuple[float, Floats]:
    """Minus the log-likelihood with `points` nodes at each level's mode, and its exact slope.

    Args:
        problem: one factor, no tray noise, slopes held.
        peak: the mode at the present sd and slopes.
        points: nodes for each level; 1 is Laplace.

    Returns:
        the value, binomial constant included, and the slope in (log sd, slopes). A slope's normal
        prior is included.
    """
    fixed = problem.layout.fixed
    b, precision = peak.row[:fixed], problem.precision
    nodes = _nodes(problem, peak, points)
    proper = precision[precision > 0]
    prior = 0.5 * float(precision @ b**2) + 0.5 * float((np.log(2 * np.pi) - np.log(proper)).sum())
    value = prior - float((nodes.log_sums + np.log(nodes.width)).sum()) - problem.constant
    return value, _slope(problem, peak, nodes) + np.concatenate(([0.0], precision * b))


def _nodes(problem: Problem, peak: Peak, points: int) -> _Nodes:
    """Nodes and their terms."""
    layout = problem.layout
    design, columns = layout.design[:, layout.spans[0]], layout.slope_columns()
    standard, weights = hermegauss(points)
    width = np.sqrt(peak.arrow.inverse)
    place = peak.row[layout.spans[0]][:, None] + width[:, None] * standard
    known = problem.offset + columns @ peak.row[: layout.fixed]
    eta = known[:, None] + float(peak.sds[0]) * (design @ place)
    by_tray = problem.passed[:, None] * eta - problem.eggs[:, None] * np.logaddexp(0, eta)
    rule = 0.5 * standard**2 + np.log(weights / np.sqrt(2 * np.pi))
    terms = design.T @ by_tray - 0.5 * place**2 + rule
    sums = logsumexp(terms, axis=1)
    return _Nodes(design, standard, width, place, eta, np.exp(terms - sums[:, None]), sums)


def _slope(problem: Problem, peak: Peak, nodes: _Nodes) -> Floats:
    """Slope in (log sd, slopes), the movement of the nodes with mode and width included."""
    sd, design = float(peak.sds[0]), nodes.design
    mode = peak.row[problem.layout.spans[0]]
    residual = problem.passed[:, None] - problem.eggs[:, None] * expit(nodes.eta)
    along = nodes.share * (sd * (design.T @ residual) - nodes.place)
    in_tray = (residual * (design @ nodes.share)).sum(axis=1)
    by_sd = float((nodes.share * sd * nodes.place * (design.T @ residual)).sum())
    lengthen = 2 * sd * sd * (design.T @ peak.weight)

    def total(direct: float, by_tray: Floats, mode_term: Floats, longer: Floats) -> float:
        cross = sd * (design.T @ (peak.weight * by_tray)) - mode_term
        moved = -cross * nodes.width**2
        third = peak.weight * peak.lean * (by_tray + sd * (design @ moved))
        wider = -0.5 * nodes.width**3 * (longer + sd * sd * (design.T @ third))
        shifted = (along * (moved[:, None] + wider[:, None] * nodes.standard)).sum(axis=1)
        return -direct - float((shifted + wider / nodes.width).sum())

    nothing = np.zeros(len(mode))
    columns = problem.layout.slope_columns()
    by_slopes = [total(float(in_tray @ x), x, nothing, nothing) for x in columns.T]
    return np.array([total(by_sd, sd * (design @ mode), mode, lengthen), *by_slopes])
