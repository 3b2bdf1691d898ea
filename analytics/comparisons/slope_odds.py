"""The slope of a rate once more on the scale of odds: by how much the odds of passing change per unit of x.

The straight line of rates is fitted with a covariance V of the trays (or pens). The same trays, columns X and
V give the odds: X'V^-1 (rates - logistic(X theta)) = 0, estimating equations whose expectation is 0 wherever
log odds are straight in x, whatever V is; with trays that share nothing they are the score equations of
logistic regression. Trays near 0 or 100 % scatter less than V says: the error of theta takes V with every
variance in proportion to the binomial one W (the sandwich M^-1 S'CS M^-T with S = V^-1 X, M = S'WX and
C = W^1/2 V W^1/2 over the mean of W; Liang and Zeger 1986, Biometrika 73:13-22, from memory), widened as
Kenward and Roger widen that of the straight slope, with the straight slope's degrees of freedom. So the
odds ratio is that of an average tray of a pen, and its interval may touch 1 where the slope's p is just under
0.05.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import numpy as np

from analytics.comparisons.counts import Floats
from analytics.comparisons.mixed_rates import KenwardRoger
from analytics.comparisons.slope_records import OddsRatio

_STEPS, _CLOSE, _FAR = 60, 1e-9, 2.0
_OUTERMOST = 25.0
"""Log odds beyond which a rate is 0 or 1."""


def odds_of_last(known: KenwardRoger, scale: float) -> OddsRatio | None:
    """The odds ratio of the last column of a fit.

    Args:
        known: the straight fit; its first column is the intercept.
        scale: units of x in one unit of the column.

    Returns:
        Per unit of x; None where rates too near 0 or 1 leave none.
    """
    rates = known.rates
    found = log_odds_slope(
        rates.columns, rates.both[:, -1], known.solve(rates.columns), partial(_spread, known)
    )
    if found is None:
        return None
    last = np.eye(rates.size)[-1]
    adjusted, dof = known.error_and_dof(last)
    wider = adjusted / float(np.sqrt(last @ known.covariance @ last))
    return OddsRatio.from_log(found[0] / scale, wider * found[1] / scale, dof)


def _spread(known: KenwardRoger, rows: Floats) -> Floats:
    """The covariance of the trays times rows."""
    fit = known.fit
    batches = fit.ratio * known.rates.sums(rows)[known.place]
    return np.asarray(fit.scale * (fit.spread[:, None] * rows + batches), dtype=float)


def log_odds_slope(
    columns: Floats, rates: Floats, solved: Floats, spread: Callable[[Floats], Floats]
) -> tuple[float, float] | None:
    """The last coefficient on the logit scale and its standard error.

    Args:
        columns: shape (n, k), with the intercept in their span.
        rates: n rates; a few may lie a little outside 0..1.
        solved: V^-1 times the columns.
        spread: V times rows.

    Returns:
        None where the equations have no solution within reach.
    """
    theta = _start(columns, rates)
    for _ in range(_STEPS):
        eta = np.clip(columns @ theta, -_OUTERMOST, _OUTERMOST)
        passing = 1 / (1 + np.exp(-eta))
        binomial = passing * (1 - passing)
        slopes = solved.T @ (binomial[:, None] * columns)
        if np.linalg.cond(slopes) > 1 / _CLOSE:
            return None
        step = np.linalg.solve(slopes, solved.T @ (rates - passing))
        far = float(np.abs(columns @ step).max())
        theta = theta + step * min(1.0, _FAR / max(far, _CLOSE))
        if far < _CLOSE:
            row = np.sqrt(binomial / binomial.mean()) * (solved @ np.linalg.inv(slopes)[-1])
            return float(theta[-1]), float(np.sqrt(row @ spread(row[:, None])[:, 0]))
    return None


def _start(columns: Floats, rates: Floats) -> Floats:
    """Everything at the mean rate."""
    mean = min(max(float(rates.mean()), 0.02), 0.98)
    flat = np.full(len(rates), np.log(mean / (1 - mean)))
    return np.asarray(np.linalg.lstsq(columns, flat, rcond=None)[0], dtype=float)
