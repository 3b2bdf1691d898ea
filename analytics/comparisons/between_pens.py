"""How pens' own rates go with a number of each pen: pens differ besides, so each counts once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analytics.comparisons.counts import Floats
from analytics.comparisons.slope_odds import log_odds_slope
from analytics.comparisons.slope_records import OddsRatio, Slope


class BetweenPens:
    """Pens' rates with their covariance, regressed on x; what else sets them apart is a variance of its own.

    Restricted likelihood for that variance; the standard error is scaled by the scatter found, with Student's
    t (Knapp and Hartung 2003, Statistics in Medicine 22:2693-2710; from memory).
    """

    def __init__(self, x: Floats, rates: Floats, covariance: Floats, groups: Sequence[Sequence[int]]) -> None:
        used = [pen for group in groups if len(group) > 1 for pen in group]
        self.x, self.rates = x[used], rates[used]
        self.covariance = covariance[np.ix_(used, used)]
        member = np.repeat(np.arange(len(groups)), [len(group) if len(group) > 1 else 0 for group in groups])
        inside = (member[:, None] == np.unique(member)[None, :]).astype(float)
        self.columns = np.column_stack((inside, self.x))
        self.free = len(used) - self.columns.shape[1]

    def slope(self) -> Slope:
        """The slope, or why there is none."""
        if self.free < 2:
            return Slope.missing("There are too few pens that can be compared with one another.")
        left = self.x - self.columns[:, :-1] @ np.linalg.lstsq(self.columns[:, :-1], self.x, rcond=None)[0]
        if float(np.abs(left).max()) <= 1e-9 * max(1.0, float(np.abs(self.x).max())):
            return Slope.missing("It is on average the same for all pens that can be compared.")
        extra = self._extra()
        beta, inside, scatter = self._solved(extra)
        error = float(np.sqrt(scatter * np.linalg.inv(inside)[-1, -1]))
        return Slope.from_error(float(beta[-1]), error, self.free, self._odds(extra, scatter))

    def _odds(self, extra: float, scatter: float) -> OddsRatio | None:
        whole = self.covariance + extra * np.eye(len(self.x))
        solved = np.linalg.solve(whole, self.columns)
        found = log_odds_slope(self.columns, self.rates, solved, lambda rows: whole @ rows)
        return OddsRatio.from_log(found[0], float(np.sqrt(scatter)) * found[1], self.free) if found else None

    def _solved(self, extra: float) -> tuple[Floats, Floats, float]:
        """Coefficients, their information, and the scatter about them, with so much extra variance."""
        inverse = np.linalg.inv(self.covariance + extra * np.eye(len(self.x)))
        inside = self.columns.T @ inverse @ self.columns
        beta = np.linalg.solve(inside, self.columns.T @ inverse @ self.rates)
        left = self.rates - self.columns @ beta
        return np.asarray(beta, dtype=float), inside, float(left @ inverse @ left) / self.free

    def _extra(self) -> float:
        """Variance of pens beyond what chance gives them, by restricted likelihood."""
        from scipy.optimize import minimize_scalar

        top = 4 * float(np.var(self.rates)) + 1e-12

        def minus_log(extra: float) -> float:
            whole = self.covariance + extra * np.eye(len(self.x))
            _, inside, scatter = self._solved(extra)
            logs = np.linalg.slogdet(whole)[1] + np.linalg.slogdet(inside)[1]
            return float(logs + self.free * scatter) / 2

        found = minimize_scalar(minus_log, bounds=(0.0, top), method="bounded", options={"xatol": 1e-7 * top})
        return float(found.x) if found.fun < minus_log(0.0) else 0.0
