"""From the end of the outer search to the record: zeros, limits, uncertainty and words."""

from __future__ import annotations

import numpy as np

from analytics.attribution.descent import HIGHEST, LOWEST, Outer, curvature, pinned, slope_covariance
from analytics.attribution.laplace import Lift, lift
from analytics.attribution.layout import Flags, Floats
from analytics.attribution.peak import Problem, noise_sd
from analytics.attribution.records import Convergence, CrossedFit, Modes, Scales

NEAR_ZERO = 0.05
NO_WORSE = 1e-7
RUNAWAY = 15.0
LEVEL = 1e-3
FLATTEST = 0.05

End = tuple[Floats, float, Floats, Floats]


def settle(
    outer: Outer, names: tuple[str, ...], end: End, *, uncertainty: bool, trouble: str = ""
) -> CrossedFit:
    """Makes the record.

    Args:
        outer: the outer problem.
        names: of the sds.
        end: place, value, slope and inverse curvature where the search ended.
        uncertainty: whether the curvature is computed at the end (and one Newton step taken with it).
        trouble: what went wrong before, in words.
    """
    place, value, slope, inverse = end
    place, value, slope, zeros = _drop_zeros(outer, place, value, slope)
    count = len(outer.free)
    loose = ~pinned(place, slope, count)
    if zeros:
        inverse = np.eye(len(place))
    if uncertainty:
        place, value, slope, inverse = _polish(outer, place, value, slope, loose)
    reach = np.sqrt(np.maximum(np.diagonal(inverse), 0))
    largest = float(np.abs(slope * reach)[loose].max(initial=0.0))
    words = trouble or _words(outer, names, place, largest)
    scales = _scales(outer, names, zeros, inverse * np.outer(loose, loose), uncertainty=uncertainty)
    raised = lift(outer.problem, outer.peak)
    given = slope_covariance(outer.problem, outer.peak)
    return CrossedFit(
        method="reml" if outer.problem.integrate else "ml",
        log_likelihood=-(value - outer.prior(outer.peak.sds)[0]),
        modes=_modes(outer, raised),
        scales=scales,
        convergence=Convergence(not words, words, largest, outer.evaluations, outer.newton_steps),
        covariance=given,
        covariance_total=_total(outer, given, inverse, loose) if uncertainty else given,
        sd_prior=outer.sd_prior,
        problem=outer.problem,
        peak=outer.peak,
    )


def _drop_zeros(
    outer: Outer, place: Floats, value: float, slope: Floats
) -> tuple[Floats, float, Floats, tuple[int, ...]]:
    """Sets sds to exactly zero where the likelihood is no worse for it (never under a prior)."""
    zeros: list[int] = []
    if outer.sd_prior is not None:
        return place, value, slope, ()
    for at in [int(at) for at in outer.free[np.exp(place[: len(outer.free)]) < NEAR_ZERO]]:
        before = (outer.sds, outer.free, outer.peak)
        keep = outer.free != at
        outer.sds = outer.sds.copy()
        outer.sds[at] = 0.0
        outer.free = outer.free[keep]
        shorter = place[np.concatenate((keep, np.ones(len(place) - len(keep), dtype=bool)))]
        there, its_slope = outer(shorter)
        if there <= value + NO_WORSE or before[2].sds[at] < 2 * np.exp(LOWEST):
            place, value, slope = shorter, there, its_slope
            zeros.append(at)
        else:
            outer.sds, outer.free, outer.peak = before
    return place, value, slope, tuple(zeros)


def _polish(outer: Outer, place: Floats, value: float, slope: Floats, loose: Flags) -> End:
    """The inverse curvature at the end, and one Newton step with it where that helps."""
    matrix = curvature(outer, place)
    inverse = np.zeros_like(matrix)
    inverse[np.ix_(loose, loose)] = _inverse(matrix[np.ix_(loose, loose)])
    move = -inverse @ slope
    if 1e-9 < float(np.abs(move).max(initial=0.0)) < 0.1:
        start = outer.peak
        there, its_slope = outer(place + move)
        if its_slope @ inverse @ its_slope < slope @ inverse @ slope:
            return place + move, there, its_slope, inverse
        outer.peak = start
    return place, value, slope, inverse


def _inverse(matrix: Floats) -> Floats:
    """Inverse of a symmetric matrix whose least eigenvalues are lifted to a small positive one."""
    if not len(matrix):
        return matrix
    values, vectors = np.linalg.eigh(matrix)
    return np.asarray((vectors / np.maximum(values, min(FLATTEST, max(values[-1], 1e-6)))) @ vectors.T)


def _words(outer: Outer, names: tuple[str, ...], place: Floats, largest: float) -> str:
    """Why the fit may not be used; "" where it may."""
    peak, problem = outer.peak, outer.problem
    said = [peak.trouble] if peak.trouble else []
    fixed = problem.layout.fixed
    known = problem.layout.slope_columns() @ peak.row[:fixed]
    if fixed and np.abs(known[problem.eggs > 0]).max() > RUNAWAY:
        said.append("the slopes run off: records at some values of x are all-or-nothing")
    at_limit = [names[at] for at, log in zip(outer.free, place, strict=False) if log >= HIGHEST - 1e-9]
    said += [f"the sd of {name} is at its upper limit" for name in at_limit]
    if largest > LEVEL:
        said.append("the search stopped before the top of the likelihood")
    return "; ".join(said)


def _scales(
    outer: Outer, names: tuple[str, ...], zeros: tuple[int, ...], inverse: Floats, *, uncertainty: bool
) -> Scales:
    covariance = np.zeros((len(names), len(names)))
    if uncertainty:
        covariance[np.ix_(outer.free, outer.free)] = inverse[: len(outer.free), : len(outer.free)]
    free = tuple(at in set(outer.free.tolist()) for at in range(len(names)))
    dropped = tuple(names[at] for at in zeros)
    return Scales(names, outer.peak.sds, free, dropped, untold(outer.problem, names), covariance)


def untold(problem: Problem, names: tuple[str, ...]) -> tuple[str, ...]:
    """Factors with eggs in fewer than two levels; tray noise where no tray or only one has two eggs."""
    layout, used = problem.layout, problem.eggs > 0
    seen = layout.design.T @ used.astype(float)
    counts = [int(np.count_nonzero(seen[span])) for span in layout.spans]
    if problem.tray_noise:
        counts.append(int(np.count_nonzero(problem.eggs > 1)))
    return tuple(name for name, count in zip(names, counts, strict=True) if count < 2)


def _modes(outer: Outer, raised: Lift) -> Modes:
    peak, layout, scale = outer.peak, outer.problem.layout, outer.peak.arrow.scale
    values, variances = scale * peak.row, scale**2 * raised.diagonal
    return Modes(
        b=values[: layout.fixed],
        effects=tuple(values[span] for span in layout.spans),
        effect_variances=tuple(variances[span] for span in layout.spans),
        noise=noise_sd(outer.problem, peak.sds) * peak.noise,
        eta=peak.eta,
        eta_variance=raised.variance,
    )


def _total(outer: Outer, given: Floats, inverse: Floats, loose: Flags) -> Floats:
    """Covariance of the slopes with the uncertainty of the sds in it."""
    count = len(outer.free)
    if not outer.problem.integrate:
        return inverse[count:, count:]
    moved = slope_drift(outer.problem, outer)[:, outer.free]
    return given + moved @ (inverse * np.outer(loose, loose)) @ moved.T


def slope_drift(problem: Problem, outer: Outer) -> Floats:
    """How the slopes' mode moves with each log sd, shape (slopes, sds)."""
    peak, layout = outer.peak, problem.layout
    scale, sd = peak.arrow.scale, noise_sd(problem, peak.sds)
    drift = np.zeros((layout.fixed, len(peak.sds)))
    for at, span in enumerate(layout.spans):
        part = np.zeros(layout.unknowns)
        part[span] = scale[span] * peak.row[span]
        right = scale * ((peak.weight * peak.shrink * (layout.design @ part)) @ layout.design)
        right[span] -= peak.row[span]
        drift[:, at] = -peak.arrow.solve(right)[: layout.fixed]
    if problem.tray_noise:
        right = scale * ((2 * sd * peak.shrink * peak.weight * peak.noise) @ layout.design)
        drift[:, -1] = -peak.arrow.solve(right)[: layout.fixed]
    return drift
