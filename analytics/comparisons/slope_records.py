"""What a trend along a number of each tray is told in."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.comparisons.hypothesis import HypothesisTest

LEVEL = 0.95
BEND = "mixed-model F test of a bend, batches random, Kenward-Roger"


_LARGEST_LOG = 700.0
"""Log odds beyond which a number of this computer ends."""


@dataclass(frozen=True, slots=True)
class OddsRatio:
    """Change of the odds of a rate per unit of x, as a factor.

    Attributes:
        ratio: odds one unit further over odds here; 1 = no change.
        low: lower end of the 95 % interval.
        high: upper end.
    """

    ratio: float
    low: float
    high: float

    @classmethod
    def from_log(cls, log_ratio: float, error: float, dof: float) -> OddsRatio:
        """From its logarithm and the standard error of that, with Student's t."""
        half = error * t_of(dof)
        return cls(*(_factor(value) for value in (log_ratio, log_ratio - half, log_ratio + half)))

    def per(self, units: float) -> OddsRatio:
        """The same for another number of units of x (above 0)."""
        return OddsRatio(*(_factor(units * float(np.log(at))) for at in (self.ratio, self.low, self.high)))


def _factor(log_ratio: float) -> float:
    return float(np.exp(min(max(log_ratio, -_LARGEST_LOG), _LARGEST_LOG)))


def t_of(dof: float) -> float:
    """The t of a 95 % interval; the normal one for infinite `dof`."""
    from scipy.special import ndtri, stdtrit

    tail = (1 + LEVEL) / 2
    return float(stdtrit(dof, tail) if np.isfinite(dof) else ndtri(tail))


@dataclass(frozen=True, slots=True)
class Slope:
    """Change of a rate per unit of x.

    Attributes:
        estimate: in shares, -1..1 per unit, or None.
        low: lower end of the 95 % interval, or None.
        high: upper end, or None.
        error: standard error, or None.
        dof: degrees of freedom of its t, or None.
        p_value: two-sided, that the slope is 0, or None.
        why: why there is none; "" otherwise.
        odds: the same as an odds ratio per unit, or None where there is none.
    """

    estimate: float | None
    low: float | None
    high: float | None
    error: float | None
    dof: float | None
    p_value: float | None
    why: str
    odds: OddsRatio | None = None

    @classmethod
    def missing(cls, why: str) -> Slope:
        """A slope that could not be had."""
        return cls(None, None, None, None, None, None, why)

    @classmethod
    def from_error(cls, estimate: float, error: float, dof: float, odds: OddsRatio | None = None) -> Slope:
        """A slope with Student's t interval; the normal one for infinite `dof`."""
        from scipy.special import ndtr, stdtr

        half = error * t_of(dof)
        t = abs(estimate) / error if error > 0 else np.inf
        p_value = 2 * float(stdtr(dof, -t) if np.isfinite(dof) else ndtr(-t))
        return cls(estimate, estimate - half, estimate + half, error, dof, p_value, "", odds)

    def known(self) -> tuple[float, float, float, float]:
        """Lower end, estimate, upper end and p-value of a slope that is there."""
        assert self.low is not None
        assert self.estimate is not None
        assert self.high is not None
        assert self.p_value is not None
        return self.low, self.estimate, self.high, self.p_value


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """A point of the smooth curve.

    Attributes:
        x: in the unit of x.
        rate: fitted rate of an average tray, 0..1.
        low: lower end of the pointwise 95 % band.
        high: upper end.
    """

    x: float
    rate: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class ClusteredSlope:
    """How a rate goes with x, trays and batches allowed for.

    Attributes:
        method: the model in words.
        within: the slope with pens and machines held equal.
        same_batch: that slope among trays of one batch alone, so that nothing of the season is in it.
        between: how pens' own rates go with their own mean x; whatever else sets pens apart is in it.
        bend: F test that the curve is a straight line.
        curve: the smooth curve over the range of the data.
        tray_rho: correlation of two eggs of a tray beyond their batch, or None.
        batch_variance: variance of batches' rates, below 0 where they are more alike than chance
            makes them; or None.
        trays: trays used.
        batches: batches used.
        pens: pens used.
    """

    method: str
    within: Slope
    same_batch: Slope
    between: Slope
    bend: HypothesisTest
    curve: tuple[CurvePoint, ...]
    tray_rho: float | None
    batch_variance: float | None
    trays: int
    batches: int
    pens: int

    @classmethod
    def missing(cls, method: str, why: str) -> ClusteredSlope:
        """A trend that could not be judged."""
        none = Slope.missing(why)
        return cls(method, none, none, none, HypothesisTest.missing(BEND, why), (), None, None, 0, 0, 0)
