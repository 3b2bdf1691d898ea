"""Degrees of freedom that allow for trays' rates with heavy tails.

At high rates a few trays hold most of the losses, and F by normal theory calls differences too rarely. If
pens do not differ, the residuals, made alike by the inverse root of their covariance, could have been any
tray's. Over their permutations the share of squares that a contrast takes, W = SSB / SST, keeps its mean
q / N, and its variance is that of normal theory times

    1 + k * ((n + 1) D / (2 q (N - q)) - 1 / n),    n = N + 1,

with k the kurtosis of the residuals (Fisher's k4 / k2^2) and D how unevenly the contrast leans on trays. A
beta of that mean and variance is F with both degrees of freedom times one factor. Sources: Pitman 1937,
Biometrika 29:322-335; Welch 1937, Biometrika 29:21-52; Box and Andersen 1955, J. R. Statist. Soc. B 17:1-26;
Box and Watson 1962, Biometrika 49:93-106 (its abstract seen, the others from memory; the formula is derived
and held to all permutations of small tables). Exact where one mean is taken out of alike trays; elsewhere an
approximation whose level is measured by simulation.
"""

from __future__ import annotations

import numpy as np

from analytics.comparisons.counts import Floats
from analytics.comparisons.mixed_rates import KenwardRoger

_LEAST, _MOST = 0.5, 2.0
"""The factor is held between these: beyond them so few trays hold the losses that no beta fits."""
_FEWEST = 4
"""Residual squares below which kurtosis cannot be told; the factor is then 1."""


class AlikeTrays:
    """Trays of a fit with their covariance taken out, so that residuals could change places."""

    def __init__(self, known: KenwardRoger) -> None:
        self._known = known
        rates, coefficients = known.rates, known.fit.coefficients
        weight = np.sqrt(known.weight)
        pull = known.held * known.shrink
        pull = (1 - np.sqrt(1 - pull)) / known.held
        columns = self._alike(rates.columns, weight, pull)
        self._left = self._alike(rates.both[:, -1:], weight, pull)[:, 0] - columns @ coefficients
        self._reach: Floats = columns @ known.covariance
        self._free: Floats = 1 - (self._reach * columns).sum(axis=1)

    def _alike(self, rows: Floats, weight: Floats, pull: Floats) -> Floats:
        """The inverse root of the trays' covariance times rows."""
        weighted = weight[:, None] * rows
        shared = self._known.rates.sums(weight[:, None] * weighted) * pull[:, None]
        found: Floats = weighted - weight[:, None] * shared[self._known.place]
        return found

    def stretch(self, contrasts: Floats) -> float:
        """The factor of both degrees of freedom for a test that contrasts, shape (q, columns), are 0."""
        used = np.flatnonzero(contrasts.any(axis=0))
        taken = contrasts[:, used]
        lean = self._reach[:, used] @ taken.T
        spread = taken @ self._known.covariance[np.ix_(used, used)] @ taken.T
        solved = np.linalg.solve(spread, lean.T).T
        share = (lean * solved).sum(axis=1)
        left = self._left + solved @ (taken @ self._known.fit.coefficients[used])
        return permuted_stretch(left, share, self._free + share, len(contrasts))


def permuted_stretch(left: Floats, share: Floats, free: Floats, q: int) -> float:
    """The factor from residuals and from how far each enters the sums of squares.

    Args:
        left: residuals with the tested contrasts still in them, one a tray.
        share: diagonal of the projection on the tested contrasts.
        free: diagonal of the projection on all that the other columns leave.
        q: contrasts tested.
    """
    whole = round(float(free.sum()))
    n = whole + 1
    square = left * left
    squares = float(square.sum())
    if whole < max(_FEWEST, q + 1) or squares <= 0:
        return 1.0
    fourth = whole * (whole + 2) * float(square @ square) / squares**2
    kurtosis = (fourth - 3 * float(free @ free)) * n / ((n - 2) * (n - 3))
    apart = share - q / whole * free
    uneven = float(apart @ apart)
    extra = kurtosis * ((n + 1) * uneven / (2 * q * (whole - q)) - 1 / n)
    factor = ((whole + 2) / max(1 + extra, 1e-9) - 2) / whole
    return min(max(factor, _LEAST), _MOST)
