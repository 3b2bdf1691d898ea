"""Joint draws of sds, slopes and effects: a start near the posterior, then moves that lead into it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.linalg import solve_triangular
from scipy.special import gammaincinv, gammaln, logsumexp, ndtri, stdtrit

from analytics.attribution.descent import Outer, laplace
from analytics.attribution.laplace import lift
from analytics.attribution.layout import Floats, Ints
from analytics.attribution.moves import Cloud, Mover
from analytics.attribution.peak import Peak, Problem, noise_sd
from analytics.attribution.records import CrossedFit
from analytics.errors import WrongUsage

FREEDOM = 5
FARTHEST = 0.5
FINE_LINE = 1e-9
NEAREST = 1e-6
KEPT_CELLS = 20_000_000
POINTS = 32
ANCHORS = 6
SWEEPS, MOST_TRAYS = 5, 10_000
CHAIN_CELLS, FEWEST_CHAINS = 120_000, 64


@dataclass(frozen=True, slots=True)
class Draws:
    """Equally weighted draws, one row each.

    Attributes:
        names: of the factors, in the order of `effects`.
        b: slopes, shape (draws, slopes).
        effects: for each factor its levels' effects on the logit scale, shapes (draws, levels).
        sds: sd of every factor, then of the tray noise where there is one, shape (draws, sds).
        good_points: effective number of the points at which the sds were tried.
        points: how many were tried.
    """

    names: tuple[str, ...]
    b: Floats
    effects: tuple[Floats, ...]
    sds: Floats
    good_points: float
    points: int

    def of(self, name: str) -> Floats:
        """The draws of a factor's effects."""
        return self.effects[self.names.index(name)]


def draws(
    fit: CrossedFit, size: int, points: int = POINTS, seed: int = 1, *, sweeps: int | None = None
) -> Draws:
    """Draws from the joint distribution of sds, slopes and effects given the records.

    They start from an approximation: the sds are tried at `points` quasi-random points of t distributions
    with 5 degrees of freedom around their mode, weighted by likelihood times prior, and resampled. At each
    chosen point slopes and effects are normal around their mode, moved to their mean by the third-order
    Laplace term, never so far that a tray's logit moves by more than 0.5. From there `sweeps` of moves
    lead to the posterior itself.

    Where there are many trays fewer draws are moved and each is taken several times, a sweep apart.

    Args:
        fit: a fit by "reml", made with `uncertainty`.
        size: number of draws.
        points: number of points, best a power of two.
        seed: of the random numbers; the same seed gives the same draws.
        sweeps: how often a draw is moved before it is first taken; None = 5, and 0 above 10,000 trays, where
            it would take minutes; there the approximation can be off by more than the draws' own sd where
            sds are near 1, and hardly at all where they are near 0.3. Sds move only if they have a prior.

    Raises:
        WrongUsage: the fit was made by "ml", or nothing is to be drawn.
    """
    if fit.method != "reml":
        raise WrongUsage("Draws from a fit by ml", "The slopes must be integrated out", "Fit by reml")
    if size < 1 or points < 1:
        raise WrongUsage(f"{size} draws at {points} points", "Both are at least 1")
    rng = np.random.default_rng(seed)
    free = np.flatnonzero(fit.scales.free)
    outer = Outer(fit.problem, fit.scales.sd, free, fit.sd_prior, laplace, fit.peak)
    places, log_density = _proposals(fit, free, points, rng)
    heights, peaks = _try_out(outer, places)
    log_weight = -heights - log_density
    weight = np.exp(log_weight - logsumexp(log_weight))
    start = outer.peak

    def peak_at(at: int) -> Peak:
        outer.peak = start
        return peaks.get(at) or outer.move_to(places[at])

    if sweeps is None:
        sweeps = SWEEPS if len(fit.problem.eggs) <= MOST_TRAYS else 0
    chains = min(size, max(FEWEST_CHAINS, CHAIN_CELLS // len(fit.problem.eggs))) if sweeps else size
    counts = _resample(weight, chains, rng)
    cloud = _start(fit.problem, {int(at): peak_at(int(at)) for at in np.flatnonzero(counts)}, counts, rng)
    taken = [cloud]
    if sweeps:
        anchors = [peak_at(int(at)) for at in np.argsort(-weight, kind="stable")[:ANCHORS]]
        taken = _moved(_mover(fit, free, anchors, rng), cloud, sweeps, size)
    return _as_draws(fit.problem, taken, size, 1 / float((weight**2).sum()), len(places), rng)


def _proposals(fit: CrossedFit, free: Ints, points: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
    """Points at which the log sds are tried, and the log density they come from.

    Half are from a multivariate t around the fitted log sds, half from independent t around the fitted
    sds, folded at zero: the first reach far upwards, the second down to zero, where the likelihood
    is flat in the sd. The density is that of the mixture.
    """
    if not len(free):
        return np.zeros((1, 0)), np.zeros(1)
    covariance = fit.scales.log_covariance[np.ix_(free, free)] + FINE_LINE * np.eye(len(free))
    centre, root = np.log(fit.scales.sd[free]), np.linalg.cholesky(covariance)
    spread = fit.scales.sd[free] * np.sqrt(np.diagonal(covariance))
    uniform = _spread_points(len(free) + 1, (points + 1) // 2, rng)
    ratio = np.sqrt(2 * gammaincinv(FREEDOM / 2, uniform[:, -1]) / FREEDOM)
    upwards = centre + (ndtri(uniform[:, :-1]) / ratio[:, None]) @ root.T
    uniform = _spread_points(len(free), (points + 1) // 2, rng)
    near = np.abs(fit.scales.sd[free] + spread * stdtrit(FREEDOM, uniform))
    places = np.concatenate((upwards, np.log(np.maximum(near, NEAREST))))[:points]
    one = _log_t(solve_triangular(root, (places - centre).T, lower=True).T)
    one -= np.log(np.diagonal(root)).sum()
    sds, middle = np.exp(places)[:, :, None], fit.scales.sd[free]
    sides = [_log_t((sds - sign * middle[:, None]) / spread[:, None]) for sign in (1, -1)]
    other = (np.logaddexp(*sides) - np.log(spread) + places).sum(axis=1)
    return places, np.logaddexp(one, other)


def _log_t(standard: Floats) -> Floats:
    """Log density of the standard t distribution over the last axis."""
    width = standard.shape[-1]
    constant = gammaln((FREEDOM + width) / 2) - gammaln(FREEDOM / 2) - width / 2 * np.log(FREEDOM * np.pi)
    square = (standard**2).sum(axis=-1)
    return np.asarray(constant - 0.5 * (FREEDOM + width) * np.log1p(square / FREEDOM))


def _spread_points(width: int, points: int, rng: np.random.Generator) -> Floats:
    """Scrambled Sobol points in the open unit cube."""
    from scipy.stats.qmc import Sobol

    sampler = Sobol(width, scramble=True, rng=rng)
    power = int(np.ceil(np.log2(max(points, 2))))
    return np.clip(sampler.random_base2(power)[:points], 1e-12, 1 - 1e-12)


def _try_out(outer: Outer, places: Floats) -> tuple[Floats, dict[int, Peak]]:
    """Minus log posterior of the log sds at each point, and the modes as far as there is room for them."""
    start, layout = outer.peak, outer.problem.layout
    cells = layout.small * layout.small + layout.side + 8 * len(outer.problem.eggs)
    room = KEPT_CELLS // cells
    values = np.empty(len(places))
    peaks = {}
    for at, place in enumerate(places):
        outer.peak = start
        values[at] = outer.height(place)
        if at < room:
            peaks[at] = outer.peak
    outer.peak = start
    return values, peaks


def _resample(weight: Floats, size: int, rng: np.random.Generator) -> Ints:
    """Systematic resampling: how often each point is taken."""
    ladder = np.cumsum(weight)
    rungs = (np.arange(size) + rng.random()) / size * ladder[-1]
    return np.bincount(np.searchsorted(ladder, rungs), minlength=len(weight))


def _start(problem: Problem, peaks: dict[int, Peak], counts: Ints, rng: np.random.Generator) -> Cloud:
    """The draws at the chosen points: normal, moved from mode to mean."""
    rows, noises, sds = [], [], []
    for at, peak in peaks.items():
        count = int(counts[at])
        row = mean_shift(problem, peak)[:, None] + peak.arrow.spread(
            rng.standard_normal((problem.layout.unknowns, count))
        )
        lean = noise_sd(problem, peak.sds) * peak.weight * peak.shrink
        noise = peak.noise[:, None] + np.sqrt(peak.shrink)[:, None] * rng.standard_normal(
            (len(peak.noise), count)
        )
        noise -= lean[:, None] * (problem.layout.design @ (peak.arrow.scale[:, None] * row))
        rows.append(row + peak.row[:, None])
        noises.append(noise)
        sds.append(np.tile(peak.sds[:, None], count))
    return Cloud(np.hstack(rows), np.hstack(noises), np.hstack(sds))


def _mover(fit: CrossedFit, free: Ints, anchors: list[Peak], rng: np.random.Generator) -> Mover:
    if fit.sd_prior is None:
        free = free[:0]
    reach = np.sqrt(np.diagonal(fit.scales.log_covariance)[free])
    return Mover(fit.problem, anchors, free, reach, fit.sd_prior or 1.0, rng)


def _moved(mover: Mover, cloud: Cloud, sweeps: int, size: int) -> list[Cloud]:
    """The draws after `sweeps`, and after every sweep more until there are enough."""
    takes = -(-size // cloud.sds.shape[1])
    taken = []
    for sweep in range(1 - sweeps, takes):
        mover.sweep(cloud)
        if sweep >= 0:
            taken.append(Cloud(cloud.row.copy(), cloud.noise[:0], cloud.sds.copy()))
    return taken


def _as_draws(
    problem: Problem, taken: list[Cloud], size: int, good: float, points: int, rng: np.random.Generator
) -> Draws:
    """The draws on the logit scale, in random order."""
    layout = problem.layout
    row, sds = np.hstack([one.row for one in taken]), np.hstack([one.sds for one in taken])
    for span, sd in zip(layout.spans, sds, strict=False):
        row[span] *= sd
    order = rng.permutation(row.shape[1])[:size]
    whole = np.ascontiguousarray(row.T[order])
    effects = tuple(whole[:, span] for span in layout.spans)
    return Draws(layout.names, whole[:, : layout.fixed], effects, sds.T[order], good, points)


def mean_shift(problem: Problem, peak: Peak) -> Floats:
    """From mode to mean of slopes and effects (standard normal scale), to the third order.

    H^-1 A' q with q = -n p (1 - p) (1 - 2 p) var(eta) / 2 for each tray, shortened so that no tray's
    linear predictor moves by more than 0.5.
    """
    raised = lift(problem, peak)
    farthest = float(np.abs(raised.tilt).max(initial=0.0))
    return -raised.shift * min(1.0, FARTHEST / max(farthest, FARTHEST))
