"""The linear mixed model of trays' rates, fitted fast: fixed columns, batches random, trays overdispersed.

Variance of tray t: scale * (1 + (eggs - 1) rho) / eggs; of a batch: scale * ratio. Restricted likelihood;
covariances and degrees of freedom of Kenward and Roger 1997, Biometrics 53:983-997. Everything is summed
batch by batch, so that the cost grows with the trays and not with their square.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

import numpy as np

from analytics.comparisons.counts import Codes, Floats
from analytics.comparisons.hypothesis import HypothesisTest

_GRID = np.concatenate(([0.0], np.geomspace(1e-3, 300.0, 14)))
"""Batch variance over the variance of a typical tray, where the search begins."""
_BELOW = np.array([-0.98, -0.85, -0.6, -0.3])
"""The same below 0, where that is allowed; -1 is where the largest batch's covariance is singular."""
_CLOSE, _ROUGH = 1e-7, 2e-2
_HIGHEST_RHO = 0.95
_NOTHING = 1e-12


@dataclass(frozen=True, slots=True)
class MixedFit:
    """A fit at one rho.

    Attributes:
        spread: variance of each tray over the scale, trays in batch order.
        ratio: variance of batches over the scale.
        scale: variance of one egg's outcome about its tray's rate, as found from the spread of trays.
        coefficients: one a column.
        information: the columns' cross products with the inverse covariance, times the scale.
    """

    spread: Floats
    ratio: float
    scale: float
    coefficients: Floats
    information: Floats


class TrayRates:
    """Trays' rates with independent fixed columns, in batch order.

    With `below_zero` the variance of batches may be found below 0, as far as the trays' covariance stays
    positive definite: batches are then more alike than chance makes them. Without, a chance that is held at 0
    from below widens what is told of batches.
    """

    def __init__(
        self, rate: Floats, eggs: Floats, columns: Floats, batch: Codes, *, below_zero: bool = False
    ) -> None:
        self.below_zero = below_zero
        order = np.argsort(batch, kind="stable")
        self.eggs, self.columns, self.batch = eggs[order], columns[order], batch[order]
        self.both = np.column_stack((self.columns, rate[order]))
        self.starts = np.flatnonzero(np.diff(self.batch, prepend=-1))
        self.size, self.batches = columns.shape[1], len(self.starts)
        self.free = len(rate) - self.size

    def sums(self, rows: Floats) -> Floats:
        """Sums by batch."""
        return np.asarray(np.add.reduceat(rows, self.starts, axis=0), dtype=float)

    def fitted(self, rho: float, closeness: float = _CLOSE) -> MixedFit:
        """The restricted maximum-likelihood fit for this rho."""
        spread = (1 + (self.eggs - 1) * rho) / self.eggs
        weighted = self.both / spread[:, None]
        profile = _Profile(self.both.T @ weighted, self.sums(weighted), self.sums(1 / spread), self.free)
        if profile.left(0.0) <= _NOTHING * profile.whole[-1, -1]:  # no tray differs from its fitted rate
            inside = profile.cross(0.0)
            return MixedFit(spread, 0.0, 0.0, np.zeros(self.size), inside[:-1, :-1])
        ratios = self._ratios(profile.held, float(np.median(spread)))
        ratio = _lowest(profile, ratios, closeness) if self.batches > 1 else 0.0
        inside = profile.cross(ratio)
        coefficients: Floats = np.asarray(np.linalg.solve(inside[:-1, :-1], inside[:-1, -1]), dtype=float)
        return MixedFit(spread, ratio, profile.left(ratio) / self.free, coefficients, inside[:-1, :-1])

    def _ratios(self, held: Floats, typical: float) -> Floats:
        """Where the search for the batch variance begins, growing."""
        below = _BELOW / float(held.max()) if self.below_zero else np.zeros(0)
        return np.concatenate((below, _GRID * typical))

    def tray_rho(self, binomial: float, near: float | None = None) -> float:
        """The rho at which the scale found is the binomial variance of an egg; 0 where even 0 gives less.

        Source: Williams 1982, Applied Statistics 31:144-148.
        """
        from scipy.optimize import brentq

        @cache
        def excess(rho: float) -> float:
            return self.fitted(rho, _ROUGH).scale - binomial

        if self.eggs.max() <= 1 or excess(0.0) <= 0:
            return 0.0
        near = near or excess(0.0) / binomial / float(self.eggs.mean() - 1)
        low, high = _around(excess, min(near, 0.7))
        if high == _HIGHEST_RHO and excess(high) >= 0:
            return _HIGHEST_RHO
        return float(brentq(excess, low, high, xtol=1e-3))


def _around(excess: Callable[[float], float], near: float) -> tuple[float, float]:
    """Ends, near this rho if they can be, between which the excess crosses 0."""
    below, above = 0.8 * near, 1.25 * near
    if excess(below) <= 0:
        return 0.0, below
    return below, above if excess(above) < 0 else _HIGHEST_RHO


class _Profile:
    """Minus the restricted log-likelihood with the scale profiled out, by the ratio."""

    def __init__(self, whole: Floats, sums: Floats, held: Floats, free: int) -> None:
        self.whole, self.by_batch, self.held, self.free = whole, sums, held, free

    def cross(self, ratio: float) -> Floats:
        shrink = ratio / (1 + ratio * self.held)
        found: Floats = self.whole - (self.by_batch * shrink[:, None]).T @ self.by_batch
        return found

    def left(self, ratio: float) -> float:
        """Weighted squares that the columns leave."""
        cross = self.cross(ratio)
        taken = cross[-1, :-1] @ np.linalg.solve(cross[:-1, :-1], cross[:-1, -1])
        return max(float(cross[-1, -1] - taken), 0.0)

    def at(self, ratios: Floats) -> Floats:
        """The values at several ratios."""
        width = len(self.whole)
        crosses = np.empty((2, len(ratios), width, width))  # with the rates, and with the columns alone
        crosses[0] = [self.cross(ratio) for ratio in ratios]
        crosses[1] = crosses[0]
        crosses[1, :, -1, :], crosses[1, :, :, -1], crosses[1, :, -1, -1] = 0.0, 0.0, 1.0
        log_all, log_columns = np.linalg.slogdet(crosses)[1]
        log_held = np.log1p(np.multiply.outer(ratios, self.held)).sum(axis=1)
        found: Floats = (log_held + log_columns + self.free * (log_all - log_columns)) / 2
        return found

    def __call__(self, ratio: float) -> float:
        return float(self.at(np.array([ratio]))[0])


def _lowest(profile: _Profile, ratios: Floats, closeness: float) -> float:
    """The ratio with the highest restricted likelihood: best of these, then closed in on."""
    from scipy.optimize import minimize_scalar

    values = profile.at(ratios)
    best = int(np.argmin(values))
    low, high = ratios[max(best - 1, 0)], ratios[min(best + 1, len(ratios) - 1)]
    found = minimize_scalar(
        profile, bounds=(low, high), method="bounded", options={"xatol": closeness * max(high, -low, 1e-12)}
    )
    return float(found.x) if found.fun < values[best] else float(ratios[best])


class KenwardRoger:
    """Covariance of a fit's coefficients that allows for two unknown variances: of trays, and of batches."""

    def __init__(self, rates: TrayRates, fit: MixedFit) -> None:
        self.rates, self.fit = rates, fit
        self.weight = 1 / (fit.scale * fit.spread)
        self.held = rates.sums(self.weight)
        variance = fit.scale * fit.ratio
        self.shrink = variance / (1 + variance * self.held)
        self.place = np.repeat(np.arange(rates.batches), np.diff(rates.starts, append=len(rates.eggs)))
        self.covariance: Floats = np.asarray(fit.scale * np.linalg.inv(fit.information), dtype=float)
        self.slopes, self.squares = self._moved()
        self.known = self._known()
        self.adjusted = self._adjusted()

    def solve(self, rows: Floats) -> Floats:
        """The inverse covariance of the trays times rows."""
        weighted = self.weight[:, None] * rows
        pulled = self.shrink[:, None] * self.rates.sums(weighted)
        solved: Floats = weighted - self.weight[:, None] * pulled[self.place]
        return solved

    def _moved(self) -> tuple[list[Floats], list[list[Floats]]]:
        """X'V^-1 G_i V^-1 X with a minus, and X'V^-1 G_i V^-1 G_j V^-1 X, for the two parts G of V."""
        solved = self.solve(self.rates.columns)
        moved = [self.fit.spread[:, None] * solved, self.rates.sums(solved)[self.place]]
        back = [self.solve(one) for one in moved]
        return [-solved.T @ one for one in moved], [[one.T @ other for other in back] for one in moved]

    def _known(self) -> Floats:
        """Covariance of the variances: the inverse of their expected information."""
        expected, phi = self._traces(), self.covariance
        for i in range(2):
            for j in range(2):
                twice = float(np.trace(phi @ self.slopes[i] @ phi @ self.slopes[j]))
                expected[i, j] += twice - 2 * float(np.trace(phi @ self.squares[i][j]))
        expected /= 2
        one = self.rates.batches < 2 or np.linalg.det(expected) <= 1e-8 * expected[0, 0] * expected[1, 1]
        used = 1 if one else 2
        return np.asarray(np.linalg.inv(expected[:used, :used]), dtype=float)

    def _traces(self) -> Floats:
        """tr(V^-1 G_i V^-1 G_j), batch by batch."""
        spread = self.fit.spread
        own = self.weight - self.shrink[self.place] * self.weight**2
        pairs = self.rates.sums(self.weight**2 * spread) ** 2 - self.rates.sums(self.weight**4 * spread**2)
        trays = float((own**2 * spread**2).sum() + (self.shrink**2 * pairs).sum())
        ones = self.weight * (1 - self.shrink * self.held)[self.place]
        mixed = float((spread * ones**2).sum())
        both = float(((self.held - self.shrink * self.held**2) ** 2).sum())
        return np.array([[trays, mixed], [mixed, both]])

    def _adjusted(self) -> Floats:
        phi, total = self.covariance, np.zeros_like(self.covariance)
        for i in range(len(self.known)):
            for j in range(len(self.known)):
                total += self.known[i, j] * (self.squares[i][j] - self.slopes[i] @ phi @ self.slopes[j])
        return np.asarray(phi + 2 * phi @ total @ phi, dtype=float)

    def error_and_dof(self, contrast: Floats) -> tuple[float, float]:
        """Standard error of one contrast of the coefficients and its degrees of freedom (Satterthwaite's)."""
        seen = self.covariance @ contrast
        slopes = np.array([seen @ slope @ seen for slope in self.slopes[: len(self.known)]])
        noise = float(slopes @ self.known @ slopes)
        dof = 2 * float(contrast @ seen) ** 2 / noise if noise > 0 else np.inf
        return float(np.sqrt(contrast @ self.adjusted @ contrast)), dof

    def f_test(self, contrasts: Floats, method: str) -> HypothesisTest:
        """Kenward-Roger's F that all rows of `contrasts`, shape (q, columns), of the coefficients are 0."""
        rank = len(contrasts)
        values = contrasts @ self.fit.coefficients
        raw = float(values @ np.linalg.solve(contrasts @ self.adjusted @ contrasts.T, values)) / rank
        factor, dof2 = self._scaling(contrasts)
        if not np.isfinite(dof2) or dof2 <= 0:
            why = "There are too few trays and batches to know the variances."
            return HypothesisTest.missing(method, why)
        return HypothesisTest.f_ratio(method, max(factor * raw, 0.0), rank, dof2)

    def _scaling(self, contrasts: Floats) -> tuple[float, float]:
        """Factor and denominator degrees of freedom, section 2.3."""
        phi, q = self.covariance, len(contrasts)
        inner = contrasts.T @ np.linalg.solve(contrasts @ phi @ contrasts.T, contrasts)
        turned = [inner @ phi @ slope @ phi for slope in self.slopes[: len(self.known)]]
        pairs = [(i, j) for i in range(len(turned)) for j in range(len(turned))]
        a1 = sum(self.known[i, j] * float(np.trace(turned[i]) * np.trace(turned[j])) for i, j in pairs)
        a2 = sum(self.known[i, j] * float(np.trace(turned[i] @ turned[j])) for i, j in pairs)
        b = (a1 + 6 * a2) / (2 * q)
        g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
        below = 3 * q + 2 * (1 - g)
        c1, c2, c3 = g / below, (q - g) / below, (q + 2 - g) / below
        mean = 1 / (1 - a2 / q)
        variance = 2 / q * (1 + c1 * b) / ((1 - c2 * b) ** 2 * (1 - c3 * b))
        dof2 = 4 + (q + 2) / (q * variance / (2 * mean**2) - 1)
        return float(dof2 / (mean * (dof2 - 2))), float(dof2)
