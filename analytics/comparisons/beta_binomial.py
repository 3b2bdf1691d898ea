"""Beta-binomial rates: every tray has its own chance, drawn from a beta distribution."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from analytics.comparisons.counts import Codes, Floats, by_level, passed_of, trays_of
from analytics.comparisons.designs import checked_design, factor_columns
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.overdispersion import Labels

_LOWEST, _HIGHEST = -14.0, 14.0
"""Bounds of logit rho: beyond them rho is 0 or 1 for every practical purpose."""
_STEEPEST = 30.0


@dataclass(frozen=True, slots=True)
class BetaBinomialFit:
    """A beta-binomial logit model fitted by maximum likelihood.

    Attributes:
        coefficients: one a column of the design, logit scale; () without a fit.
        errors: their standard errors; () where the likelihood has no curved top.
        rho: correlation of two eggs of a tray, 1 / (1 + a + b), one a group of `rho_groups`.
        rho_groups: the groups' labels, sorted; ("all",) for one common rho.
        log_likelihood: with the binomial coefficients, or None.
        trays: trays used.
        why: why there is no fit, or what stands at the edge; "" otherwise.
    """

    coefficients: tuple[float, ...]
    errors: tuple[float, ...]
    rho: tuple[float, ...]
    rho_groups: tuple[object, ...]
    log_likelihood: float | None
    trays: int
    why: str


def beta_binomial(
    passed: ArrayLike, eggs: ArrayLike, design: ArrayLike, rho_group: Labels | None = None
) -> BetaBinomialFit:
    """Fits mean rates by a design and the correlation within trays, common or by group.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered, above 0.
        design: columns, shape (trays, columns), intercept included.
        rho_group: group of each tray with its own rho; None = one for all.

    Returns:
        The fit. Sources: Williams 1975, Biometrics 31:949-952; Crowder 1978, Applied Statistics 27:34-37.
    """
    came, entered = passed_of(passed, eggs)
    columns = checked_design(design, len(came))
    given = np.asarray(["all"] * len(came) if rho_group is None else rho_group)
    labels, code = np.unique(given, return_inverse=True)
    groups = tuple(labels.tolist())
    why = _why_none(came, entered)
    if why:
        return BetaBinomialFit((), (), (), groups, None, len(came), why)
    return _Likelihood(came, entered, columns, code.astype(np.intp), len(groups)).best(groups)


def beta_binomial_test(passed: ArrayLike, eggs: ArrayLike, pen: Labels, *others: Labels) -> HypothesisTest:
    """Likelihood-ratio test of pens with one correlation for all trays.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        pen: pen of each tray.
        others: further factors kept in both models.
    """
    method = "beta-binomial likelihood-ratio test of pens, common rho"
    trays = trays_of(passed, eggs, pen, *others)
    why = _why_none(trays.passed, trays.eggs)
    if why:
        return HypothesisTest.missing(method, why)
    small = factor_columns(trays.codes[1:], len(trays.eggs))
    large = factor_columns((*trays.codes[1:], trays.codes[0]), len(trays.eggs))
    contrasts = large.shape[1] - small.shape[1]
    if not contrasts:
        return HypothesisTest.missing(method, "Pens cannot be told apart from the other factors here.")
    full, null = (beta_binomial(trays.passed, trays.eggs, columns) for columns in (large, small))
    gain = 2 * ((full.log_likelihood or 0.0) - (null.log_likelihood or 0.0))
    return HypothesisTest.chi_square(method, max(gain, 0.0), contrasts, full.why)


def _why_none(came: Floats, entered: Floats) -> str:
    if not entered.sum():
        return "There are no eggs."
    if np.any(entered == 0):
        raise ValueError("a tray without eggs cannot enter a model")
    if came.sum() in (0, entered.sum()):
        return "All eggs had the same outcome, so the model has no finite answer."
    if entered.max() < 2:
        return "Every tray holds one egg, so eggs of one tray cannot be compared."
    return ""


class _Likelihood:
    """The log-likelihood of coefficients and logit rho, with its slope."""

    def __init__(self, came: Floats, entered: Floats, columns: Floats, code: Codes, groups: int) -> None:
        self.came, self.entered, self.columns, self.code = came, entered, columns, code
        self.groups = groups
        self.size = columns.shape[1]

    def __call__(self, point: Floats) -> tuple[float, Floats]:
        """Minus the log-likelihood (without binomial coefficients) and minus its slope."""
        from scipy.special import digamma, expit, gammaln

        rate = np.clip(expit(self.columns @ point[: self.size]), 1e-13, 1 - 1e-13)
        total = np.exp(-point[self.size :])[self.code]
        a, b, failed = rate * total, (1 - rate) * total, self.entered - self.came
        value = gammaln(self.came + a) - gammaln(a) + gammaln(failed + b) - gammaln(b)
        value += gammaln(total) - gammaln(self.entered + total)
        by_a = digamma(self.came + a) - digamma(a)
        by_b = digamma(failed + b) - digamma(b)
        by_total = digamma(total) - digamma(self.entered + total)
        slope = self.columns.T @ (total * (by_a - by_b) * rate * (1 - rate))
        inner = -total * (rate * by_a + (1 - rate) * by_b + by_total)
        by_rho = by_level(inner, self.code, self.groups)
        minus: Floats = -np.concatenate((slope, by_rho)).astype(float)
        return -float(value.sum()), minus

    def best(self, groups: tuple[object, ...]) -> BetaBinomialFit:
        from scipy.special import expit, gammaln

        point, value = self._lowest()
        coefficients = gammaln(self.entered + 1) - gammaln(self.came + 1)
        constant = float((coefficients - gammaln(self.entered - self.came + 1)).sum())
        logit_rho = point[self.size :]
        rho = np.where(logit_rho <= _LOWEST + 1e-6, 0.0, expit(logit_rho))
        return BetaBinomialFit(
            coefficients=tuple(point[: self.size].tolist()),
            errors=self._errors(point),
            rho=tuple(rho.tolist()),
            rho_groups=groups,
            log_likelihood=constant - value,
            trays=len(self.came),
            why=_at_edge(point, self.size),
        )

    def _lowest(self) -> tuple[Floats, float]:
        from scipy.optimize import minimize

        overall = self.came.sum() / self.entered.sum()
        level = np.full(len(self.came), np.log(overall / (1 - overall)))
        begin = np.linalg.lstsq(self.columns, level, rcond=None)[0]
        starts = [np.concatenate((begin, np.full(self.groups, logit))) for logit in (-6.0, -4.0, -2.5, -1.0)]
        found = minimize(
            self,
            min(starts, key=lambda start: self(start)[0]),
            jac=True,
            method="L-BFGS-B",
            bounds=[(-_STEEPEST, _STEEPEST)] * self.size + [(_LOWEST, _HIGHEST)] * self.groups,
            options={"maxiter": 1000, "ftol": 1e-11, "gtol": 1e-6},
        )
        return self._polished(np.asarray(found.x, dtype=float))

    def _polished(self, point: Floats) -> tuple[Floats, float]:
        """Newton steps from near the top, in the parameters that are not at an edge, while they help."""
        value, slope = self(point)
        for _ in range(5):
            free = self._free(point)
            curvature = self._curvature(point)[np.ix_(free, free)]
            step = np.zeros(len(point))
            step[free] = np.linalg.lstsq(curvature, slope[free], rcond=1e-10)[0]
            if np.abs(step).max() > 0.5:
                break
            next_value, next_slope = self(point - step)
            if next_value > value:
                break
            point, value, slope = point - step, next_value, next_slope
        return point, value

    def _free(self, point: Floats) -> Codes:
        inside = np.abs(point[self.size :]) < _HIGHEST - 1e-6
        return np.flatnonzero(np.concatenate((np.ones(self.size, dtype=bool), inside)))

    def _errors(self, point: Floats) -> tuple[float, ...]:
        """From the curvature in the parameters that are not at an edge; () where an edge is met by b."""
        free = self._free(point)
        if _steep(point, self.size):
            return ()
        curvature = self._curvature(point)[np.ix_(free, free)]
        values = np.linalg.eigvalsh(curvature)
        if values.min() <= 1e-10 * values.max():
            return ()
        return tuple(np.sqrt(np.diag(np.linalg.inv(curvature)))[: self.size].tolist())

    def _curvature(self, point: Floats) -> Floats:
        step = 1e-5
        rows = []
        for index in range(len(point)):
            move = np.zeros(len(point))
            move[index] = step
            rows.append((self(point + move)[1] - self(point - move)[1]) / (2 * step))
        found: NDArray[np.float64] = np.array(rows)
        return (found + found.T) / 2


def _steep(point: Floats, size: int) -> bool:
    return bool(np.any(np.abs(point[:size]) > 12.0))


def _at_edge(point: Floats, size: int) -> str:
    said = []
    if _steep(point, size):
        said.append("A rate is estimated as 0 or 1, so its logit has no end and no standard error.")
    if np.any(point[size:] <= _LOWEST + 1e-6):
        said.append("The trays differ no more than by chance, so rho is estimated as 0.")
    return " ".join(said)
