"""How a rate goes with a number of each tray (days of storage, hens' age, month), eggs not independent.

The rates of trays are the linear mixed model of `mixed_rates`: pens and machines fixed, batches random. With
pens fixed, the slope is the one *within* pens: a pen that is always stored long, or always old, does not
pass for harm of storage or age. The slope *between* pens is told apart. Where all trays of a batch have the
same number, batches being random let the batches carry the comparison.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from analytics.comparisons.between_pens import BetweenPens
from analytics.comparisons.counts import Codes, Floats, by_level, shared_counts
from analytics.comparisons.designs import comparable_levels, kept_columns, marks
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.mixed_rates import KenwardRoger, TrayRates
from analytics.comparisons.overdispersion import Labels
from analytics.comparisons.slope_odds import odds_of_last
from analytics.comparisons.slope_records import BEND, ClusteredSlope, CurvePoint, Slope
from analytics.comparisons.splines import bends, knots_for

METHOD = "mixed-model slope within pens, batches random, Kenward-Roger"
_GRID = 41
_NOTHING = 1e-9


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Trays with eggs: rates, and the columns before x (intercept, other factors, pens)."""

    rate: Floats
    eggs: Floats
    x: Floats
    before: Floats
    pens_from: int
    pen: Codes
    batch: Codes
    pooled: float

    def kept(self, *more: Floats) -> tuple[Floats, list[int]]:
        """The columns with more behind them, and the places of those that stand."""
        whole = np.column_stack((self.before, *more))
        return whole, kept_columns(whole.T @ whole)

    def part(self, kept: np.ndarray) -> _Sheet:
        """Some of the trays."""
        names = ("rate", "eggs", "x", "before", "pen", "batch")
        return replace(self, **{name: getattr(self, name)[kept] for name in names})

    def rates(self, columns: Floats) -> TrayRates:
        """The trays on these columns; a variance of batches held at 0 from below would widen slopes."""
        return TrayRates(self.rate, self.eggs, columns, self.batch, below_zero=True)


def clustered_slope(
    passed: ArrayLike,
    eggs: ArrayLike,
    x: ArrayLike,
    pen: Labels,
    batch: Labels,
    others: Sequence[Labels] = (),
    near: float | None = None,
) -> ClusteredSlope:
    """Fits how the rate of trays goes with x.

    Args:
        passed: eggs that passed, one entry a tray; need not be whole where eggs were shared out.
        eggs: eggs that entered, likewise; trays with none are left out.
        x: the number of each tray; trays where it is NaN are left out.
        pen: pen of each tray.
        batch: batch of each tray.
        others: further factors whose effects are taken out (machines).
        near: a likely tray correlation, which only speeds the search up.

    Returns:
        The slopes and the curve; where one cannot be had its `why` says why. Sources: Kenward and Roger 1997,
        Biometrics 53:983-997; batch means as a covariate: Mundlak 1978, Econometrica 46:69-85; both from
        memory.
    """
    sheet = _sheet(passed, eggs, x, pen, batch, others)
    if isinstance(sheet, str):
        return ClusteredSlope.missing(METHOD, sheet)
    return _answer(sheet, near)


def _sheet(
    passed: ArrayLike, eggs: ArrayLike, x: ArrayLike, pen: Labels, batch: Labels, others: Sequence[Labels]
) -> _Sheet | str:
    (came, entered), at = shared_counts(passed, eggs), np.asarray(x, dtype=float)
    if at.shape != came.shape:
        raise ValueError("x and eggs are two rows of equal length")
    held = (entered > _NOTHING) & np.isfinite(at)
    why = _why_none(came[held], entered[held], at[held])
    if why:
        return why
    codes = [_coded(labels, held) for labels in (*others, pen, batch)]
    before = [np.ones((int(held.sum()), 1)), *(marks(code)[:, 1:] for code in codes[:-2])]
    pens_from = sum(part.shape[1] for part in before)
    return _Sheet(
        rate=came[held] / entered[held],
        eggs=entered[held],
        x=at[held],
        before=np.hstack([*before, marks(codes[-2])]),
        pens_from=pens_from,
        pen=codes[-2],
        batch=codes[-1],
        pooled=float(came[held].sum() / entered[held].sum()),
    )


def _coded(labels: Labels, held: np.ndarray) -> Codes:
    return np.unique(np.asarray(labels)[held], return_inverse=True)[1].astype(np.intp)


def _why_none(came: Floats, entered: Floats, x: Floats) -> str:
    if not entered.size:
        return "No tray has both eggs and this number."
    if came.sum() <= _NOTHING or entered.sum() - came.sum() <= _NOTHING:
        return "All eggs had the same outcome, so no trend can show."
    if np.ptp(x) <= _NOTHING * max(1.0, float(np.abs(x).max())):
        return "It is the same for all trays, so no trend can show."
    return ""


def _answer(sheet: _Sheet, near: float | None) -> ClusteredSlope:
    middle, scale = float(sheet.x.mean()), float(sheet.x.std())
    x = (sheet.x - middle) / scale
    whole, kept = sheet.kept(x)
    stands = whole.shape[1] - 1 in kept
    why = "" if stands else _why_no_slope(sheet, x)
    columns = whole[:, kept]
    if len(x) - len(kept) < 2:
        return ClusteredSlope.missing(METHOD, "There are too few trays to see how much trays differ.")
    rates = sheet.rates(columns)
    rho = rates.tray_rho(sheet.pooled * (1 - sheet.pooled), near)
    fit = rates.fitted(rho)
    if fit.scale <= 1e-12:
        return ClusteredSlope.missing(METHOD, "The trays do not differ at all, so chance cannot be measured.")
    known = KenwardRoger(rates, fit)
    bend, curve = _curve(sheet, x, rho) if stands else (HypothesisTest.missing(BEND, why), ())
    return ClusteredSlope(
        method=METHOD,
        within=_within(sheet, x, known, rho, scale) if stands else Slope.missing(why),
        same_batch=_same_batch(sheet, x, rho, scale) if stands else Slope.missing(why),
        between=_between(sheet, x, known, kept, scale),
        bend=bend,
        curve=tuple(CurvePoint(middle + scale * at, *band) for at, *band in curve),
        tray_rho=rho,
        batch_variance=fit.scale * fit.ratio,
        trays=len(x),
        batches=rates.batches,
        pens=int(sheet.pen.max()) + 1,
    )


def _why_no_slope(sheet: _Sheet, x: Floats) -> str:
    pens = int(sheet.pen.max()) + 1
    centred = x - (by_level(x, sheet.pen, pens) / by_level(np.ones_like(x), sheet.pen, pens))[sheet.pen]
    if np.abs(centred).max() < 1e-6:
        return "It never varies within a pen, so only pens could be compared with one another."
    return "Within pens it cannot be told apart from the machines."


def _within(sheet: _Sheet, x: Floats, known: KenwardRoger, rho: float, scale: float) -> Slope:
    """The slope within pens; a pen in which all eggs passed, or none, has nothing to say of odds."""
    slope, told = _last(known, scale), _of_two_minds(sheet)
    if slope.odds or told.all() or not told.any():
        return slope
    part = sheet.part(told)
    whole, kept = part.kept(x[told])
    if whole.shape[1] - 1 not in kept or len(part.x) - len(kept) < 2:
        return slope
    rates = part.rates(whole[:, kept])
    fit = rates.fitted(rho)
    return replace(slope, odds=odds_of_last(KenwardRoger(rates, fit), scale)) if fit.scale > 1e-12 else slope


def _of_two_minds(sheet: _Sheet) -> np.ndarray:
    """Trays of pens in which some eggs passed and some did not."""
    pens = int(sheet.pen.max()) + 1
    share = by_level(sheet.rate * sheet.eggs, sheet.pen, pens) / by_level(sheet.eggs, sheet.pen, pens)
    return np.asarray(((share > _NOTHING) & (share < 1 - _NOTHING))[sheet.pen])


def _last(known: KenwardRoger, scale: float) -> Slope:
    """The slope in the last column, in shares per unit of x."""
    last = np.zeros(len(known.fit.coefficients))
    last[-1] = 1 / scale
    error, dof = known.error_and_dof(last)
    if not dof > 0:
        return Slope.missing("There are too few trays and batches to know how much chance moves it.")
    odds = odds_of_last(known, scale)
    return Slope.from_error(float(last @ known.fit.coefficients), error, dof, odds)


def _same_batch(sheet: _Sheet, x: Floats, rho: float, scale: float) -> Slope:
    """The slope among trays of one batch: the batch's mean of x beside x takes the rest up."""
    weight = sheet.eggs / (1 + (sheet.eggs - 1) * rho)
    batches = int(sheet.batch.max()) + 1
    mean = by_level(weight * x, sheet.batch, batches) / by_level(weight, sheet.batch, batches)
    whole, kept = sheet.kept(mean[sheet.batch], x)
    if whole.shape[1] - 1 not in kept:
        return Slope.missing("It never varies within a batch, pens apart.")
    if len(x) - len(kept) < 2:
        return Slope.missing("There are too few trays.")
    rates = sheet.rates(whole[:, kept])
    return _last(KenwardRoger(rates, rates.fitted(rho)), scale)


def _curve(
    sheet: _Sheet, x: Floats, rho: float
) -> tuple[HypothesisTest, list[tuple[float, float, float, float]]]:
    """The test of a bend, and the smooth curve with its 95 % band within the data, for the average tray."""
    knots = knots_for(x)
    whole, kept = sheet.kept(x, bends(x, knots))
    if len(x) - len(kept) < 2:
        return HypothesisTest.missing(BEND, "There are too few trays."), []
    rates = sheet.rates(whole[:, kept])
    known = KenwardRoger(rates, rates.fitted(rho))
    first = sheet.before.shape[1]
    bent = [place for place, column in enumerate(kept) if column > first]
    why = "It has too few different values for a curve."
    bend = known.f_test(np.eye(len(kept))[bent], BEND) if bent else HypothesisTest.missing(BEND, why)
    typical = np.average(sheet.before, axis=0, weights=sheet.eggs)
    grid = np.linspace(x.min(), x.max(), _GRID)
    rows = np.column_stack((np.tile(typical, (_GRID, 1)), grid, bends(grid, knots)))[:, kept]
    return bend, [(float(at), *_band(known, row)) for at, row in zip(grid, rows, strict=True)]


def _band(known: KenwardRoger, row: Floats) -> tuple[float, float, float]:
    error, dof = known.error_and_dof(row)
    at = Slope.from_error(float(row @ known.fit.coefficients), error, dof)
    low, rate, high = (min(max(value, 0.0), 1.0) for value in at.known()[:3])
    return rate, low, high


def _between(sheet: _Sheet, x: Floats, known: KenwardRoger, kept: list[int], scale: float) -> Slope:
    """How the pens' own rates, each at its own mean x, go with that mean."""
    pens = int(sheet.pen.max()) + 1
    weight = 1 / (1 / sheet.eggs + max(known.fit.ratio, 0.0))
    mean = by_level(weight * x, sheet.pen, pens) / by_level(weight, sheet.pen, pens)
    typical = np.average(sheet.before, axis=0, weights=sheet.eggs)
    rows = np.column_stack((np.tile(typical, (pens, 1)), mean))
    rows[:, sheet.pens_from : sheet.pens_from + pens] = np.eye(pens)
    groups = comparable_levels(sheet.before.T @ sheet.before, sheet.pens_from)
    rows = rows[:, kept]
    levels = BetweenPens(mean * scale, rows @ known.fit.coefficients, rows @ known.adjusted @ rows.T, groups)
    return levels.slope()
