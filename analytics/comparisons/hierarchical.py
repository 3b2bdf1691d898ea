"""Rates of pens under a common distribution that is itself uncertain, from eggs counted at their worth.

Each pen's eggs are divided by its design effect first, so a pen of few trays counts as the few independent
eggs that it is worth. The common beta distribution is not fixed at its best value but weighed over all likely
ones, so that with few pens little is taken for granted.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Floats
from analytics.comparisons.shrinkage import ShrunkRates
from analytics.values import Interval

_METHOD = "beta-binomial on effective eggs, common distribution weighed over"
_MEANS, _SPREADS = 60, 40
_LOWEST_TOTAL = 1.0
"""Least alpha + beta: a common distribution has one peak, or is flat."""


def shrunk_by_worth(rate: ArrayLike, worth: ArrayLike, level: float = 0.95) -> ShrunkRates:
    """Rates drawn towards what the pens have in common, the more so the fewer eggs a pen has.

    Args:
        rate: raw rate a pen, 0..1.
        worth: effective eggs a pen (eggs over design effect), above 0.
        level: of the intervals.

    Returns:
        Posterior means and central intervals in the order given; none with fewer than two pens. Prior density
        of the common distribution (alpha + beta)^(-5/2), cut at alpha + beta = 1; source: Gelman et al. 2013,
        Bayesian Data Analysis, section 5.3.
    """
    raw, eggs = np.asarray(rate, dtype=float), np.asarray(worth, dtype=float)
    if len(raw) < 2:
        return ShrunkRates(
            _METHOD, None, None, (), (), (), "One pen alone shows nothing that pens have in common."
        )
    alpha, beta, weight = _common(raw * eggs, (1 - raw) * eggs)
    a = alpha[:, None] + raw * eggs
    b = beta[:, None] + (1 - raw) * eggs
    means = weight @ (a / (a + b))
    squares = weight @ (a / (a + b) * (a + 1) / (a + b + 1))
    ends = [_quantile(a, b, weight, at) for at in ((1 - level) / 2, (1 + level) / 2)]
    return ShrunkRates(
        method=_METHOD,
        alpha=float(weight @ alpha),
        beta=float(weight @ beta),
        rates=tuple(means.tolist()),
        deviations=tuple(np.sqrt(np.maximum(squares - means**2, 0.0)).tolist()),
        intervals=tuple(
            Interval(low, high, level, f"{_METHOD}, posterior") for low, high in zip(*ends, strict=True)
        ),
        why="",
    )


def _common(came: Floats, failed: Floats) -> tuple[Floats, Floats, Floats]:
    """Points of the common distribution's posterior: alpha, beta and weight, the unlikely ones dropped.

    The prior is even over the mean and over (alpha + beta)^(-1/2).
    """
    from scipy.special import betaln

    pooled = (came.sum() + 0.5) / (came.sum() + failed.sum() + 1)
    error = np.sqrt(pooled * (1 - pooled) * (1 / (came + failed).sum() + 1 / len(came)))
    low, high = max(pooled - 5 * error, 0.0), min(pooled + 5 * error, 1.0)
    mean = low + (high - low) * (np.arange(_MEANS) + 0.5) / _MEANS
    spread = (np.arange(_SPREADS) + 0.5) / _SPREADS / np.sqrt(_LOWEST_TOTAL)
    centre, total = (grid.ravel() for grid in np.meshgrid(mean, spread**-2.0))
    alpha, beta = centre * total, (1 - centre) * total
    log = (betaln(alpha[:, None] + came, beta[:, None] + failed) - betaln(alpha, beta)[:, None]).sum(axis=1)
    weight = np.exp(log - log.max())
    kept = weight > 1e-4
    return alpha[kept], beta[kept], weight[kept] / weight[kept].sum()


def _quantile(a: Floats, b: Floats, weight: Floats, share: float) -> list[float]:
    """The quantile of each pen's mixture of beta distributions, by halving."""
    from scipy.special import betainc

    low, high = np.zeros(a.shape[1]), np.ones(a.shape[1])
    for _ in range(24):
        middle = (low + high) / 2
        below = weight @ betainc(a, b, middle) < share
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return [float(value) for value in (low + high) / 2]
