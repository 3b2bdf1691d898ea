"""Empirical-Bayes rates: a group with few eggs is drawn towards what the groups have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.beta_binomial import beta_binomial
from analytics.comparisons.counts import Floats, passed_of
from analytics.values import Interval


@dataclass(frozen=True, slots=True)
class ShrunkRates:
    """Rates of groups drawn towards their common distribution.

    Attributes:
        method: how the common distribution was found.
        alpha: first parameter of the common beta distribution, or None.
        beta: its second parameter, or None.
        rates: posterior mean a group; () without.
        deviations: posterior standard deviation a group.
        intervals: central posterior interval a group; alpha and beta are taken as known.
        why: why there are no rates, or what the reader must know.
    """

    method: str
    alpha: float | None
    beta: float | None
    rates: tuple[float, ...]
    deviations: tuple[float, ...]
    intervals: tuple[Interval, ...]
    why: str


@dataclass(frozen=True, slots=True)
class ShrunkMeans:
    """Estimates with normal errors drawn towards their mean.

    Attributes:
        method: how the spread was found.
        centre: the common mean, or None.
        spread: variance between the true values, or None where the method does not estimate it.
        factors: how much of each estimate's distance from the centre is kept, 0..1.
        values: the shrunk estimates.
        why: why there are none; "" otherwise.
    """

    method: str
    centre: float | None
    spread: float | None
    factors: tuple[float, ...]
    values: tuple[float, ...]
    why: str


def shrunk_rates(
    passed: ArrayLike,
    eggs: ArrayLike,
    method: Literal["likelihood", "moments"] = "likelihood",
    level: float = 0.95,
) -> ShrunkRates:
    """Shrinks groups' rates by a beta-binomial model.

    Args:
        passed: eggs that passed, one entry a group.
        eggs: eggs that entered.
        method: "likelihood" (maximum marginal likelihood) or "moments" (mean and standard deviation of the
            raw rates, as in Gelman et al. 2013, Bayesian Data Analysis, section 5.1).
        level: of the intervals.

    Returns:
        The rates, in the order given; a group without eggs gets the common mean.
    """
    came, entered = passed_of(passed, eggs)
    name = {"likelihood": "beta-binomial, maximum likelihood", "moments": "beta-binomial, moments"}[method]
    held = entered > 0
    prior, why = (_by_likelihood if method == "likelihood" else _by_moments)(came[held], entered[held])
    if prior is None:
        return ShrunkRates(name, None, None, (), (), (), why)
    return _posterior(name, came, entered, prior, level, why)


def posterior_of(
    passed: ArrayLike, eggs: ArrayLike, alpha: float, beta: float, level: float = 0.95
) -> ShrunkRates:
    """Rates of groups under a beta distribution that is known beforehand.

    Args:
        passed: eggs that passed, one entry a group.
        eggs: eggs that entered.
        alpha: first parameter, above 0.
        beta: second parameter, above 0.
        level: of the intervals.
    """
    came, entered = passed_of(passed, eggs)
    return _posterior("beta distribution given", came, entered, (alpha, beta), level, "")


def _posterior(
    name: str, came: Floats, entered: Floats, prior: tuple[float, float], level: float, why: str
) -> ShrunkRates:
    from scipy.special import betaincinv

    a, b = prior[0] + came, prior[1] + entered - came
    rates, tail = a / (a + b), (1 - level) / 2
    ends = zip(betaincinv(a, b, tail).tolist(), betaincinv(a, b, 1 - tail).tolist(), strict=True)
    return ShrunkRates(
        method=name,
        alpha=prior[0],
        beta=prior[1],
        rates=tuple(rates.tolist()),
        deviations=tuple(np.sqrt(rates * (1 - rates) / (a + b + 1)).tolist()),
        intervals=tuple(Interval(low, high, level, f"{name}, posterior") for low, high in ends),
        why=why,
    )


def _by_likelihood(came: Floats, entered: Floats) -> tuple[tuple[float, float] | None, str]:
    if len(came) < 3:
        return None, "Fewer than three groups have eggs; they do not show a common distribution."
    fit = beta_binomial(came, entered, np.ones((len(came), 1)))
    if fit.log_likelihood is None:
        return None, fit.why
    rho = max(fit.rho[0], 1e-6)
    mean = 1 / (1 + np.exp(-fit.coefficients[0]))
    total = (1 - rho) / rho
    why = "The groups differ no more than by chance; all get nearly the mean." if fit.rho[0] == 0 else ""
    return (float(mean * total), float((1 - mean) * total)), why


def _by_moments(came: Floats, entered: Floats) -> tuple[tuple[float, float] | None, str]:
    if len(came) < 3:
        return None, "Fewer than three groups have eggs; they do not show a common distribution."
    rates = came / entered
    mean, variance = float(rates.mean()), float(rates.var(ddof=1))
    if not variance:
        return None, "All groups have the same rate, so their spread cannot be estimated."
    total = mean * (1 - mean) / variance - 1
    if total <= 0:
        return None, "The raw rates spread more than any beta distribution with their mean."
    return (mean * total, (1 - mean) * total), ""


def james_stein(values: ArrayLike, variance: float) -> ShrunkMeans:
    """Shrinks estimates of equal known variance towards their mean.

    Args:
        values: estimates, at least 4.
        variance: of each estimate, above 0.

    Returns:
        The positive-part estimate, factor 1 - (k - 3) variance / S. Source: Efron and Morris 1975, JASA
        70:311-319.
    """
    method = "James-Stein, positive part"
    given = np.asarray(values, dtype=float)
    if len(given) < 4:
        return ShrunkMeans(method, None, None, (), (), "Fewer than four estimates cannot be shrunk.")
    centre = float(given.mean())
    squares = float(((given - centre) ** 2).sum())
    factor = float(max(0.0, 1 - (len(given) - 3) * variance / squares)) if squares else 0.0
    shrunk = centre + factor * (given - centre)
    return ShrunkMeans(method, centre, None, (factor,) * len(given), tuple(shrunk.tolist()), "")


def normal_normal(values: ArrayLike, variances: ArrayLike) -> ShrunkMeans:
    """Shrinks estimates of unequal known variances towards their weighted mean.

    Args:
        values: estimates, at least 3.
        variances: of each estimate, above 0.

    Returns:
        The estimate with the variance between true values by Paule and Mandel 1982 (weighted squares equal
        to their degrees of freedom), 0 where the estimates differ less than by chance.
    """
    from scipy.optimize import brentq

    method = "normal errors, Paule-Mandel spread"
    given, noise = np.asarray(values, dtype=float), np.asarray(variances, dtype=float)
    if len(given) < 3:
        return ShrunkMeans(method, None, None, (), (), "Fewer than three estimates show no common spread.")

    def excess(spread: float) -> float:
        return _weighted_squares(given, noise + spread) - (len(given) - 1)

    top = float(np.ptp(given) ** 2 + noise.max())
    spread = 0.0 if excess(0.0) <= 0 else float(brentq(excess, 0.0, top, xtol=1e-14))
    weights = 1 / (noise + spread)
    centre = float(weights @ given / weights.sum())
    factors = spread / (noise + spread)
    shrunk = centre + factors * (given - centre)
    return ShrunkMeans(method, centre, spread, tuple(factors.tolist()), tuple(shrunk.tolist()), "")


def _weighted_squares(given: Floats, variances: Floats) -> float:
    centre = (given / variances).sum() / (1 / variances).sum()
    return float(((given - centre) ** 2 / variances).sum())
