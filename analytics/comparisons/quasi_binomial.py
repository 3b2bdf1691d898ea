"""Binomial models with extra noise between trays: quasi-binomial dispersion, F tests, Williams' weights."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Floats, passed_of, trays_of
from analytics.comparisons.designs import checked_design, factor_columns
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.overdispersion import Labels


@dataclass(frozen=True, slots=True)
class DispersedFit:
    """A logit model of rates by tray whose errors allow for extra noise.

    Attributes:
        method: the model in words.
        coefficients: one a column of the design, logit scale.
        errors: their standard errors, or () where the extra noise cannot be estimated.
        dispersion: variance over binomial variance (quasi-binomial), or Williams' phi; None likewise.
        pearson: Pearson's X2 of the fit.
        deviance: deviance of the fit.
        dof: trays less columns.
        why: why there is no fit or no dispersion; "" otherwise.
    """

    method: str
    coefficients: tuple[float, ...]
    errors: tuple[float, ...]
    dispersion: float | None
    pearson: float | None
    deviance: float | None
    dof: int
    why: str


_EDGE = "All eggs had the same outcome, so the model has no finite answer."


def quasi_binomial(passed: ArrayLike, eggs: ArrayLike, design: ArrayLike) -> DispersedFit:
    """Fits a logit model whose variance is `dispersion` times the binomial one.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered, above 0.
        design: columns, shape (trays, columns), intercept included.

    Returns:
        The fit; the dispersion is Pearson's X2 over its degrees of freedom (McCullagh and Nelder 1989).
    """
    method = "quasi-binomial, Pearson dispersion"
    came, entered, columns = _checked(passed, eggs, design)
    dof = len(came) - columns.shape[1]
    if not came.size or came.sum() in (0, entered.sum()):
        return DispersedFit(method, (), (), None, None, None, max(dof, 0), _EDGE if came.size else "No eggs.")
    fit = _fit(came, entered, columns, np.ones_like(entered))
    pearson, deviance = float(fit.pearson_chi2), float(fit.deviance)
    coefficients = tuple(float(b) for b in fit.params)
    if dof < 1:
        why = "There are no more trays than coefficients, so the extra noise cannot be estimated."
        return DispersedFit(method, coefficients, (), None, pearson, deviance, dof, why)
    dispersion = pearson / dof
    errors = tuple(float(e) for e in np.sqrt(dispersion) * np.asarray(fit.bse))
    return DispersedFit(method, coefficients, errors, dispersion, pearson, deviance, dof, "")


def williams(passed: ArrayLike, eggs: ArrayLike, design: ArrayLike) -> DispersedFit:
    """Fits a logit model with variance n p (1 - p) (1 + phi (n - 1)): Williams' model II.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered, above 0.
        design: columns, shape (trays, columns), intercept included.

    Returns:
        The fit; phi makes Pearson's X2 equal its degrees of freedom and is 0 where it would fall below.
        Source: Williams 1982, Applied Statistics 31:144-148.
    """
    method = "Williams' weights, variance n p (1 - p) (1 + phi (n - 1))"
    plain = quasi_binomial(passed, eggs, design)
    if plain.dispersion is None:
        return DispersedFit(method, (), (), None, plain.pearson, plain.deviance, plain.dof, plain.why)
    came, entered, columns = _checked(passed, eggs, design)

    def fitted(phi: float) -> Any:
        return _fit(came, entered, columns, 1 / (1 + phi * (entered - 1)))

    phi, why = _williams_phi(lambda value: float(fitted(value).pearson_chi2) - plain.dof)
    fit = fitted(phi)
    return DispersedFit(
        method,
        tuple(float(b) for b in fit.params),
        tuple(float(e) for e in fit.bse),
        phi,
        float(fit.pearson_chi2),
        float(fit.deviance),
        plain.dof,
        why,
    )


def _williams_phi(excess: Callable[[float], float]) -> tuple[float, str]:
    from scipy.optimize import brentq

    if excess(0.0) <= 0:
        return 0.0, "The trays differ no more than by chance, so phi is 0."
    if excess(1.0) > 0:
        return 1.0, "The trays differ more than any correlation of eggs explains, so phi is 1."
    return float(brentq(excess, 0.0, 1.0, xtol=1e-12)), ""


def quasi_binomial_test(passed: ArrayLike, eggs: ArrayLike, pen: Labels, *others: Labels) -> HypothesisTest:
    """F test of pens with the other factors in the model.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        pen: pen of each tray.
        others: further factors whose effects are taken out first (machine, batch).

    Returns:
        F = drop in deviance per contrast over the dispersion; dof2 = trays less coefficients.
    """
    method = "quasi-binomial F test of pens"
    trays = trays_of(passed, eggs, pen, *others)
    if not trays.eggs.size:
        return HypothesisTest.missing(method, "There are no eggs to compare.")
    if trays.all_alike():
        return HypothesisTest.missing(method, "All eggs had the same outcome, so no difference can show.")
    small = factor_columns(trays.codes[1:], len(trays.eggs))
    large = factor_columns((*trays.codes[1:], trays.codes[0]), len(trays.eggs))
    contrasts = large.shape[1] - small.shape[1]
    if not contrasts:
        return HypothesisTest.missing(method, "Pens cannot be told apart from the other factors here.")
    full, null = (quasi_binomial(trays.passed, trays.eggs, columns) for columns in (large, small))
    if not full.dispersion or null.deviance is None or full.deviance is None:
        return HypothesisTest.missing(method, full.why or "The trays of a pen do not differ at all.")
    drop = max(null.deviance - full.deviance, 0.0)
    return HypothesisTest.f_ratio(method, drop / contrasts / full.dispersion, contrasts, full.dof)


def _checked(passed: ArrayLike, eggs: ArrayLike, design: ArrayLike) -> tuple[Floats, Floats, Floats]:
    came, entered = passed_of(passed, eggs)
    if np.any(entered == 0):
        raise ValueError("a tray without eggs cannot enter a model")
    return came, entered, checked_design(design, len(came))


def _fit(came: Floats, entered: Floats, columns: Floats, weights: Floats) -> Any:
    """A binomial GLM on rates; a new family object each time, since statsmodels' keeps its last counts."""
    import statsmodels.api as sm

    with warnings.catch_warnings(), np.errstate(all="ignore"):
        warnings.simplefilter("ignore")  # separation shows as a huge coefficient; the deviance still holds
        model = sm.GLM(came / entered, columns, family=sm.families.Binomial(), var_weights=entered * weights)
        return model.fit(tol=1e-10, maxiter=100)
