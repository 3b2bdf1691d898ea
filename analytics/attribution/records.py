"""What a fit of the crossed model hands back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.attribution.layout import Floats
from analytics.attribution.peak import Peak, Problem

TRAY = "tray"


@dataclass(frozen=True, slots=True)
class Modes:
    """The most likely slopes and effects at the fitted sds, on the logit scale.

    Attributes:
        b: slopes, shape (slopes,).
        effects: for each factor its levels' effects, shapes (levels,).
        effect_variances: their variances given the sds, same shapes.
        noise: each tray's own term, shape (trays,); zeros without tray noise.
        eta: fitted linear predictor, tray's own term included, shape (trays,).
        eta_variance: its variance given the sds.
    """

    b: Floats
    effects: tuple[Floats, ...]
    effect_variances: tuple[Floats, ...]
    noise: Floats
    eta: Floats
    eta_variance: Floats


@dataclass(frozen=True, slots=True)
class Scales:
    """The standard deviations.

    Attributes:
        names: the factors, then "tray" where there is tray noise.
        sd: fitted or given sds on the logit scale, same order.
        free: which were fitted and not found to be zero.
        at_zero: names whose sd was fitted as zero.
        untold: names of which the records say nothing, for want of two levels (or of two eggs in a tray):
            what stands for them is the prior, or 0 without one.
        log_covariance: covariance of the logarithms; rows and columns of the others are 0.
    """

    names: tuple[str, ...]
    sd: Floats
    free: tuple[bool, ...]
    at_zero: tuple[str, ...]
    untold: tuple[str, ...]
    log_covariance: Floats

    def of(self, name: str) -> float:
        """The sd of a factor, or of "tray"."""
        return float(self.sd[self.names.index(name)])


@dataclass(frozen=True, slots=True)
class Convergence:
    """How the fit ended.

    Attributes:
        converged: whether the numbers may be used.
        words: why not; "" otherwise.
        largest_slope: largest slope left, in units of the estimates' standard errors.
        evaluations: likelihoods computed.
        newton_steps: Newton steps taken in all of them.
    """

    converged: bool
    words: str
    largest_slope: float
    evaluations: int
    newton_steps: int


@dataclass(frozen=True, slots=True)
class CrossedFit:
    """A fitted crossed binomial model.

    Attributes:
        method: "reml" (slopes integrated out) or "ml" (slopes at their maximum).
        log_likelihood: (restricted) log-likelihood, binomial constant and the slopes' normal prior
            included, the sds' prior left out.
        modes: slopes and effects.
        scales: standard deviations.
        convergence: how the fit ended.
        covariance: covariance of the slopes given the sds.
        covariance_total: the same with the uncertainty of the sds; the former where that was not asked.
        sd_prior: scale of the half-normal prior of the sds, or None.
        problem: the counts on their layout.
        peak: the mode with its factored information, for draws.
    """

    method: str
    log_likelihood: float
    modes: Modes
    scales: Scales
    convergence: Convergence
    covariance: Floats
    covariance_total: Floats
    sd_prior: float | None
    problem: Problem
    peak: Peak

    def effects(self, name: str) -> Floats:
        """The effects of a factor's levels, on the logit scale."""
        return self.modes.effects[self.problem.layout.names.index(name)]

    @property
    def standard_errors(self) -> Floats:
        """Standard errors of the slopes, the uncertainty of the sds included."""
        return np.sqrt(np.diagonal(self.covariance_total))
