"""Pen against pen where eggs of a tray and trays of a batch are alike: the F test that may decide.

The rates of trays are a linear mixed model: pens and machines fixed, batches random, and a tray's own
variance grows with 1 + (eggs - 1) rho over its eggs. Batches being random, pens that met in few batches are
still compared; the degrees of freedom allow for how well the variances are known.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Codes, Floats, Trays, by_level, trays_of
from analytics.comparisons.designs import factor_columns
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.overdispersion import Labels

_METHOD = "mixed-model F test of pens, batches random, Kenward-Roger"


@dataclass(frozen=True, slots=True)
class ClusteredTest:
    """The test of pens and the variances behind it.

    Attributes:
        test: F with its degrees of freedom.
        tray_rho: correlation of two eggs of a tray beyond their batch, 0..0.95; None without a test.
        batch_variance: variance of batches' rates, or None.
        trays: trays used.
        batches: batches used.
    """

    test: HypothesisTest
    tray_rho: float | None
    batch_variance: float | None
    trays: int
    batches: int


def clustered_test(
    passed: ArrayLike, eggs: ArrayLike, pen: Labels, batch: Labels, *others: Labels
) -> ClusteredTest:
    """Tests whether pens differ, with trays and batches allowed for.

    Args:
        passed: eggs that passed, one entry a tray.
        eggs: eggs that entered.
        pen: pen of each tray.
        batch: batch of each tray.
        others: further factors whose effects are taken out (machine).

    Returns:
        The test. Sources: Kenward and Roger 1997, Biometrics 53:983-997; rho as in Williams 1982, so that the
        spread of trays equals the one found.
    """
    trays = trays_of(passed, eggs, pen, batch, *others)
    held = len(trays.eggs), len(trays.levels[1])
    why = _why_none(trays)
    if why:
        return ClusteredTest(HypothesisTest.missing(_METHOD, why), None, None, *held)
    small = factor_columns(trays.codes[2:], len(trays.eggs))
    columns = factor_columns((*trays.codes[2:], trays.codes[0]), len(trays.eggs))
    contrasts = columns.shape[1] - small.shape[1]
    why = _why_no_room(len(trays.eggs), columns.shape[1], contrasts)
    if why:
        return ClusteredTest(HypothesisTest.missing(_METHOD, why), None, None, *held)
    sheet = _Sheet(trays.passed / trays.eggs, trays.eggs, columns, trays.codes[1])
    rho = _tray_rho(sheet, trays.rate * (1 - trays.rate))
    fit = sheet.fitted(rho, rounds=9)
    if fit.scale <= 1e-12:
        why = "The trays of a pen do not differ at all, so chance cannot be measured."
        return ClusteredTest(HypothesisTest.missing(_METHOD, why), None, None, *held)
    return ClusteredTest(_f_test(fit, contrasts), rho, fit.scale * fit.ratio, *held)


def _why_none(trays: Trays) -> str:
    if not trays.eggs.size:
        return "There are no eggs to compare."
    if len(trays.levels[0]) < 2:
        return "Only one pen has eggs."
    if trays.all_alike():
        return "All eggs had the same outcome, so no difference can show."
    return ""


def _why_no_room(trays: int, columns: int, contrasts: int) -> str:
    if not contrasts:
        return "Pens cannot be told apart from the other factors here."
    if trays - columns < 2:
        return "There are too few trays to see how much trays of one pen differ."
    return ""


@dataclass(frozen=True, slots=True)
class _Fit:
    """A fit at one rho: variance of tray t is scale * spread[t], of batches scale * ratio."""

    columns: Floats
    spread: Floats
    batch: Codes
    batches: int
    ratio: float
    scale: float
    coefficients: Floats
    information: Floats


_GRID = np.concatenate(([0.0], np.geomspace(1e-3, 300.0, 28)))
"""Batch variance over the variance of a typical tray."""


class _Sheet:
    """Trays' rates with their design; fits the batch variance by restricted likelihood."""

    def __init__(self, rate: Floats, eggs: Floats, columns: Floats, batch: Codes) -> None:
        self.rate, self.eggs, self.columns, self.batch = rate, eggs, columns, batch
        self.batches = int(batch.max()) + 1
        self.free = len(rate) - columns.shape[1]
        self.both = np.column_stack((columns, rate))

    def fitted(self, rho: float, rounds: int = 1) -> _Fit:
        """The restricted maximum-likelihood fit for this rho, its batch variance to that many finer grids."""
        spread = (1 + (self.eggs - 1) * rho) / self.eggs
        weight = 1 / spread
        whole = self.both.T @ (weight[:, None] * self.both)
        sums = np.stack(
            [by_level(weight * column, self.batch, self.batches) for column in self.both.T], axis=1
        )
        held = by_level(weight, self.batch, self.batches)
        typical = float(np.median(spread))
        ratios = _GRID * typical if self.batches > 1 else np.zeros(1)
        ratios = _refined(ratios, lambda at: self._minus_log(at, whole, sums, held)[0], rounds)
        minus, cross = self._minus_log(ratios, whole, sums, held)
        best = int(np.argmin(minus))
        inside = cross[best]
        size = self.columns.shape[1]
        coefficients = np.linalg.solve(inside[:size, :size], inside[:size, size])
        left = inside[size, size] - inside[size, :size] @ coefficients
        return _Fit(
            self.columns,
            spread,
            self.batch,
            self.batches,
            float(ratios[best]),
            max(float(left), 0.0) / self.free,
            coefficients,
            inside[:size, :size],
        )

    def _minus_log(self, ratios: Floats, whole: Floats, sums: Floats, held: Floats) -> tuple[Floats, Floats]:
        """Minus the restricted log-likelihood (scale profiled out) and the cross products, by ratio."""
        shrink = ratios[:, None] / (1 + ratios[:, None] * held)
        cross = whole - (sums.T[None, :, :] * shrink[:, None, :]) @ sums
        size = self.columns.shape[1]
        _, log_all = np.linalg.slogdet(cross)
        _, log_columns = np.linalg.slogdet(cross[:, :size, :size])
        minus = np.log1p(ratios[:, None] * held).sum(axis=1) + log_columns
        return (minus + self.free * (log_all - log_columns)) / 2, cross


def _refined(ratios: Floats, minus_log: Callable[[Floats], Floats], rounds: int) -> Floats:
    """The best point of the grid, closed in on by that many finer grids."""
    if len(ratios) < 2:
        return ratios
    for _ in range(rounds):
        best = int(np.argmin(minus_log(ratios)))
        low, high = ratios[max(best - 1, 0)], ratios[min(best + 1, len(ratios) - 1)]
        ratios = np.linspace(low, high, 13)
    return ratios


def _tray_rho(sheet: _Sheet, binomial: float) -> float:
    """The rho at which the scale found is the binomial variance of one egg; 0 where even 0 gives less."""
    from scipy.optimize import brentq

    def excess(rho: float) -> float:
        return sheet.fitted(rho).scale - binomial

    if excess(0.0) <= 0:
        return 0.0
    if excess(0.95) >= 0:
        return 0.95
    return float(brentq(excess, 0.0, 0.95, xtol=1e-3))


def _f_test(fit: _Fit, contrasts: int) -> HypothesisTest:
    """Kenward-Roger's F for the last `contrasts` columns."""
    parts = _Parts(fit)
    adjusted, weights = parts.adjusted()
    beta = fit.coefficients[-contrasts:]
    raw = float(beta @ np.linalg.solve(adjusted[-contrasts:, -contrasts:], beta)) / contrasts
    factor, dof2 = _scaling(parts, weights, contrasts)
    if not np.isfinite(dof2) or dof2 <= 0:
        return HypothesisTest.missing(_METHOD, "There are too few trays and batches to know the variances.")
    return HypothesisTest.f_ratio(_METHOD, max(factor * raw, 0.0), contrasts, dof2)


class _Parts:
    """The pieces of Kenward and Roger's formulas for two variances: of trays, and of batches if any."""

    def __init__(self, fit: _Fit) -> None:
        self.fit = fit
        weight = 1 / (fit.scale * fit.spread)
        held = by_level(weight, fit.batch, fit.batches)
        variance = fit.scale * fit.ratio
        self.weight, self.held, self.shrink = weight, held, variance / (1 + variance * held)
        self.covariance = fit.scale * np.linalg.inv(fit.information)
        solved = self._solve(fit.columns)
        self.moved = [fit.spread[:, None] * solved, self._sums(solved)[fit.batch]]
        back = [self._solve(moved) for moved in self.moved]
        self.slopes = [-solved.T @ moved for moved in self.moved]
        self.squares = [[moved.T @ other for other in back] for moved in self.moved]
        self.used = 2
        expected = self._expected()
        if fit.batches < 2 or np.linalg.det(expected) <= 1e-8 * expected[0, 0] * expected[1, 1]:
            self.used = 1
        self.known = np.asarray(np.linalg.inv(expected[: self.used, : self.used]), dtype=np.float64)

    def _sums(self, rows: Floats) -> Floats:
        return np.stack([by_level(c, self.fit.batch, self.fit.batches) for c in rows.T], axis=1)

    def _solve(self, rows: Floats) -> Floats:
        """The inverse covariance of the trays times rows."""
        weighted = self.weight[:, None] * rows
        pulled = self.shrink[:, None] * self._sums(weighted)
        solved: Floats = weighted - self.weight[:, None] * pulled[self.fit.batch]
        return solved

    def _traces(self) -> Floats:
        """tr(V^-1 G_i V^-1 G_j) for the two parts of the covariance, batch by batch."""
        spread, batch, batches = self.fit.spread, self.fit.batch, self.fit.batches
        own = self.weight - self.shrink[batch] * self.weight**2
        pairs = by_level(self.weight**2 * spread, batch, batches) ** 2
        pairs -= by_level(self.weight**4 * spread**2, batch, batches)
        trays = float((own**2 * spread**2).sum() + (self.shrink**2 * pairs).sum())
        ones = self.weight * (1 - self.shrink * self.held)[batch]
        mixed = float((spread * ones**2).sum())
        both = float(((self.held - self.shrink * self.held**2) ** 2).sum())
        return np.array([[trays, mixed], [mixed, both]])

    def _expected(self) -> Floats:
        """Expected information of the variances."""
        traces, phi = self._traces(), self.covariance
        for i in range(2):
            for j in range(2):
                twice = float(np.trace(phi @ self.slopes[i] @ phi @ self.slopes[j]))
                traces[i, j] += twice - 2 * float(np.trace(phi @ self.squares[i][j]))
        return traces / 2

    def adjusted(self) -> tuple[Floats, Floats]:
        """Covariance of the coefficients allowing for unknown variances, and the variances' covariance."""
        phi, total = self.covariance, np.zeros_like(self.covariance)
        for i in range(self.used):
            for j in range(self.used):
                total += self.known[i, j] * (self.squares[i][j] - self.slopes[i] @ phi @ self.slopes[j])
        covariance = np.asarray(phi + 2 * phi @ total @ phi, dtype=np.float64)
        return covariance, self.known


def _scaling(parts: _Parts, weights: Floats, q: int) -> tuple[float, float]:
    """The factor and denominator degrees of freedom of Kenward and Roger 1997, section 2.3."""
    phi = parts.covariance
    inner = np.zeros_like(phi)
    inner[-q:, -q:] = np.linalg.inv(phi[-q:, -q:])
    turned = [inner @ phi @ slope @ phi for slope in parts.slopes[: parts.used]]
    pairs = [(i, j) for i in range(parts.used) for j in range(parts.used)]
    a1 = sum(weights[i, j] * float(np.trace(turned[i]) * np.trace(turned[j])) for i, j in pairs)
    a2 = sum(weights[i, j] * float(np.trace(turned[i] @ turned[j])) for i, j in pairs)
    b = (a1 + 6 * a2) / (2 * q)
    g = ((q + 1) * a1 - (q + 4) * a2) / ((q + 2) * a2)
    below = 3 * q + 2 * (1 - g)
    c1, c2, c3 = g / below, (q - g) / below, (q + 2 - g) / below
    mean = 1 / (1 - a2 / q)
    variance = 2 / q * (1 + c1 * b) / ((1 - c2 * b) ** 2 * (1 - c3 * b))
    dof2 = 4 + (q + 2) / (q * variance / (2 * mean**2) - 1)
    return float(dof2 / (mean * (dof2 - 2))), float(dof2)
