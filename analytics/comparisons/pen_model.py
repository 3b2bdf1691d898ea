"""Pens compared with machine, storage and batch taken out: one model, and every contrast of pens from it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.counts import Codes, Floats, shared_counts
from analytics.comparisons.designs import comparable_levels, kept_columns, marks
from analytics.comparisons.heavy_tails import AlikeTrays
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.mixed_rates import KenwardRoger, TrayRates
from analytics.comparisons.overdispersion import Labels

METHOD = "mixed-model F test of pens, batches random, Kenward-Roger, tails as trays permuted"
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class Contrast:
    """A difference of rates with everything else in the model held equal.

    Attributes:
        estimate: in shares, -1..1.
        error: standard error.
        dof: degrees of freedom of the denominator of (estimate / error) squared as F.
        p_value: two-sided.
        stretch: degrees of freedom of the numerator: 1 where tails are normal, and it is t squared.
    """

    estimate: float
    error: float
    dof: float
    p_value: float
    stretch: float = 1.0

    @classmethod
    def of_squares(cls, estimate: float, error: float, dof: float, stretch: float) -> Contrast:
        """From normal theory's degrees of freedom and the factor that stretches them."""
        squared = (estimate / error) ** 2 if error > 0 else 0.0
        return cls(estimate, error, dof * stretch, _beyond(squared, stretch, dof * stretch), stretch)

    def reach(self, level: float) -> float:
        """How many standard errors an interval of that level reaches to either side."""
        from scipy.special import chdtri, fdtri

        if np.isfinite(self.dof):
            return float(np.sqrt(fdtri(self.stretch, self.dof, level)))
        return float(np.sqrt(chdtri(self.stretch, 1 - level) / self.stretch))

    def limits(self, level: float = 0.95) -> tuple[float, float]:
        """Lower and upper end of its interval, -1..1."""
        half = self.error * self.reach(level)
        return max(self.estimate - half, -1.0), min(self.estimate + half, 1.0)


def _beyond(squared: float, above: float, below: float) -> float:
    """Chance that F with these degrees of freedom is larger; the lower ones may be infinite."""
    from scipy.special import chdtrc, fdtrc

    if np.isfinite(below):
        return float(fdtrc(above, below, squared))
    return float(chdtrc(above, above * squared))


class PenModel:
    """The fitted model.

    Attributes:
        labels: of the pens, sorted.
        groups: places in `labels` of pens that can be compared with one another, largest group first; pens
            that the machine (or another factor) sets apart stand in groups of their own.
        test: F test that the pens of each group do not differ, its degrees of freedom stretched as the
            trays' tails ask (`heavy_tails`).
        tray_rho: correlation of two eggs of a tray beyond their batch, or None.
        batch_variance: variance of batches' rates, or None.
        egg_variance: variance of one egg's outcome, or None.
        trays: trays used.
    """

    def __init__(self, pens: tuple[object, ...], trays: int) -> None:
        self.labels, self.trays = pens, trays
        self.groups: tuple[tuple[int, ...], ...] = ()
        self.test = HypothesisTest.missing(METHOD, "")
        self.tray_rho: float | None = None
        self.batch_variance: float | None = None
        self.egg_variance: float | None = None
        self._known: KenwardRoger | None = None
        self._alike: AlikeTrays | None = None
        self._columns = np.zeros(0, dtype=np.intp)

    @property
    def stands(self) -> bool:
        """Whether contrasts can be asked for."""
        return self._known is not None

    def contrast(self, weights: Floats) -> Contrast:
        """A weighted sum of pens' rates.

        Args:
            weights: one a pen, adding up to 0 within each group; only while `stands`.
        """
        assert self._known
        assert self._alike
        inside = self._inside(weights[None, :])
        error, dof = self._known.error_and_dof(inside[0])
        estimate = float(inside[0] @ self._known.fit.coefficients)
        return Contrast.of_squares(estimate, error, dof, self._alike.stretch(inside))

    def difference(self, first: int, second: int) -> Contrast:
        """The first pen's rate less the second's; both of one group."""
        weights = np.zeros(len(self.labels))
        weights[first], weights[second] = 1.0, -1.0
        return self.contrast(weights)

    def against(self, pen: int, others: Sequence[int]) -> Contrast:
        """A pen's rate less the mean of others of its group."""
        weights = np.zeros(len(self.labels))
        weights[list(others)] = -1 / len(others)
        weights[pen] = 1.0
        return self.contrast(weights)

    def test_of(self, groups: Sequence[Sequence[int]]) -> HypothesisTest:
        """F test that pens do not differ within each of these groups (parts of `groups`)."""
        assert self._known
        assert self._alike
        rows = [_step(len(self.labels), pens[0], other) for pens in groups for other in pens[1:]]
        if not rows:
            return HypothesisTest.missing(METHOD, "There is no pen to compare with another.")
        inside = self._inside(np.array(rows))
        return self._known.f_test(inside, METHOD).stretched(self._alike.stretch(inside))

    def covariance_of(self, weights: Floats) -> tuple[Floats, Floats]:
        """Values of several contrasts, one a row of `weights`, and their covariance."""
        assert self._known
        inside = self._inside(weights)
        return inside @ self._known.fit.coefficients, inside @ self._known.adjusted @ inside.T

    def tray_variance(self, eggs: float) -> float:
        """Variance of the rate of a tray of so many eggs about its pen and batch."""
        assert self._known
        return self._known.fit.scale * (1 + (eggs - 1) * (self.tray_rho or 0.0)) / eggs

    def _inside(self, weights: Floats) -> Floats:
        """Contrasts of pens as contrasts of the columns that were kept."""
        assert self._known
        found = np.zeros((len(weights), len(self._known.fit.coefficients)))
        kept = self._columns >= 0
        found[:, self._columns[kept]] = weights[:, kept]
        return found


def _step(pens: int, first: int, other: int) -> Floats:
    row = np.zeros(pens)
    row[first], row[other] = -1.0, 1.0
    return row


def pen_model(
    passed: ArrayLike,
    eggs: ArrayLike,
    pen: Labels,
    batch: Labels,
    others: Sequence[Labels] = (),
    covariates: Sequence[ArrayLike] = (),
    rho_near: float | None = None,
) -> PenModel:
    """Fits the model.

    Args:
        passed: eggs that passed, one entry a tray; need not be whole where eggs were shared out.
        eggs: eggs that entered, likewise; trays with none are left out.
        pen: pen of each tray.
        batch: batch of each tray.
        others: further factors whose effects are taken out (species, machine).
        covariates: numbers whose straight-line effects are taken out (storage days), finite.
        rho_near: where the correlation of a tray is looked for first (that of a fit much like this one).

    Returns:
        The model; where it cannot be fitted `test.why` says why and `stands` is False.
    """
    came, entered = shared_counts(passed, eggs)
    kept = entered > _NOTHING
    came, entered = came[kept], entered[kept]
    pens, pen_code = _coded(pen, kept)
    model = PenModel(pens, len(entered))
    why = _why_none(came, entered, len(pens))
    if why:
        model.test = HypothesisTest.missing(METHOD, why)
        return model
    before = [np.ones((len(entered), 1))]
    before += [marks(_coded(other, kept)[1])[:, 1:] for other in others]
    before += [_standard(np.asarray(values, dtype=float)[kept])[:, None] for values in covariates]
    _fit(model, came, entered, np.hstack(before), pen_code, _coded(batch, kept)[1], rho_near)
    return model


def _coded(labels: Labels, kept: np.ndarray) -> tuple[tuple[object, ...], Codes]:
    found, code = np.unique(np.asarray(labels)[kept], return_inverse=True)
    return tuple(found.tolist()), code.astype(np.intp)


def _why_none(came: Floats, entered: Floats, pens: int) -> str:
    if not entered.size:
        return "There are no eggs to compare."
    if pens < 2:
        return "Only one pen has eggs."
    if came.sum() <= _NOTHING or entered.sum() - came.sum() <= _NOTHING:
        return "All eggs had the same outcome, so no difference can show."
    return ""


def _standard(values: Floats) -> Floats:
    spread = float(values.std())
    found: Floats = (values - values.mean()) / spread if spread > 0 else np.zeros_like(values)
    return found


def _fit(
    model: PenModel,
    came: Floats,
    entered: Floats,
    before: Floats,
    pen_code: Codes,
    batch: Codes,
    rho_near: float | None,
) -> None:
    whole = np.hstack((before, marks(pen_code)))
    gram = whole.T @ whole
    kept = kept_columns(gram)
    model.groups = comparable_levels(gram, before.shape[1])
    contrasts = sum(len(group) - 1 for group in model.groups)
    why = _why_no_room(len(entered), len(kept), contrasts)
    if not why:
        rates = TrayRates(came / entered, entered, whole[:, kept], batch)
        rate = float(came.sum() / entered.sum())
        rho = rates.tray_rho(rate * (1 - rate), rho_near)
        fit = rates.fitted(rho)
        if fit.scale <= 1e-12:
            why = "The trays of a pen do not differ at all, so chance cannot be measured."
    if why:
        model.test = HypothesisTest.missing(METHOD, why)
        return
    model.tray_rho, model.egg_variance, model.batch_variance = rho, fit.scale, fit.scale * fit.ratio
    model._known = KenwardRoger(rates, fit)
    model._alike = AlikeTrays(model._known)
    model._columns = np.array(
        [
            kept.index(before.shape[1] + p) if before.shape[1] + p in kept else -1
            for p in range(len(model.labels))
        ]
    )
    model.test = model.test_of([group for group in model.groups if len(group) > 1])


def _why_no_room(trays: int, columns: int, contrasts: int) -> str:
    if not contrasts:
        return "Pens cannot be told apart from the other factors here."
    if trays - columns < 2:
        return "There are too few trays to see how much trays of one pen differ."
    return ""
