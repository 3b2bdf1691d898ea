"""What a dated change did to one step: difference in differences of trays' rates, against untouched pens.

The rate of a tray is a sum: what its batch does (machine, month and season are in it), what its pen is, and,
for trays of a changed pen laid after the change, the change. Batches and pens are fixed, so that only pens
that lay in the same batch are held against each other. Trays of one pen in one month may fail together for
reasons of their own; such pen-months are random, and it is they, not eggs, that a change is judged by:
differences in differences call far too often when the trays of a pen are taken for independent (Bertrand,
Duflo and Mullainathan 2004, Quarterly Journal of Economics 119:249-275, from memory). The linear mixed model
and its degrees of freedom are those of `comparisons.mixed_rates` and `comparisons.heavy_tails`. A machine is
judged likewise, with pens and months fixed and machine-months random.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from analytics.changes.layout import Layout, coded
from analytics.changes.odds import odds_of_change
from analytics.changes.records import SideRate, Sides, StepEffect
from analytics.comparisons.counts import Codes, Floats, shared_counts
from analytics.comparisons.heavy_tails import AlikeTrays
from analytics.comparisons.mixed_rates import KenwardRoger, MixedFit, TrayRates
from analytics.comparisons.pen_model import Contrast
from analytics.comparisons.slope_records import OddsRatio
from analytics.measures.intervals import LEVEL, score_limits, t_quantile

METHOD = (
    "difference in differences of trays' rates; batches and pens fixed, pen-months random, Kenward-Roger, "
    "tails as trays permuted"
)
_ALIKE = "There are too few trays to see how much trays differ by themselves."
_FEWEST = 2
_NOTHING, _NO_SCALE = 1e-9, 1e-12


def step_effect(passed: ArrayLike, eggs: ArrayLike, layout: Layout, *, odds: bool = True) -> StepEffect:
    """What the change did to the rate of passing one step.

    Args:
        passed: eggs that passed the step, one entry a tray; need not be whole.
        eggs: eggs that entered it, likewise; trays with none are left out.
        layout: the trays.
        odds: whether the odds ratio is worked out as well.

    Returns:
        The effect; where none can be told `why` says why, and the four plain rates stand.
    """
    came, entered = shared_counts(passed, eggs)
    there = entered > _NOTHING
    came, entered, layout = came[there], entered[there], layout.kept(there)
    columns, told = layout.told_columns() if there.any() else (np.zeros((0, 0)), False)
    why = _why_none(came, entered, layout, told) or _why_no_room(len(entered) - columns.shape[1])
    if why:
        return StepEffect.missing(_sides(came, entered, layout), why)
    rates = TrayRates(came / entered, entered, columns, coded(layout.alike), below_zero=True)
    pooled = float(came.sum() / entered.sum())
    fit = rates.fitted(rates.tray_rho(pooled * (1 - pooled)))
    sides = _sides(came, entered, layout, fit, rates.free)
    contrast = _contrast(rates, fit)
    if contrast is None:
        return StepEffect.missing(sides, _ALIKE)
    low, high = contrast.limits(LEVEL)
    ratio = odds_of_change(came, entered, layout) if odds else None
    return StepEffect(sides, contrast.estimate, low, high, contrast.p_value, contrast.dof, ratio, "")


def _why_none(came: Floats, entered: Floats, layout: Layout, told: bool) -> str:
    """Why these trays cannot tell the change, as a sentence; "" where they can."""
    for touched, what in ((True, "what was changed"), (False, "what was left as it was")):
        for after, when in ((False, "before"), (True, "after")):
            trays = int(((layout.touched == touched) & (layout.after == after)).sum())
            if trays < _FEWEST:
                number = "Only one tray" if trays else "No tray"
                return f"{number} of {what} has eggs at this step {when} the change."
    if came.sum() <= _NOTHING or entered.sum() - came.sum() <= _NOTHING:
        return "All eggs had the same outcome, so no difference can show."
    return "" if told else "What was changed met what was left as it was too rarely to be told apart."


def _why_no_room(room: int) -> str:
    return _ALIKE if room < 2 else ""


def _contrast(rates: TrayRates, fit: MixedFit) -> Contrast | None:
    """The change as a contrast of the last column; None where chance has no measure."""
    if fit.scale <= _NO_SCALE:
        return None
    known = KenwardRoger(rates, fit)
    last = np.eye(rates.size)[-1]
    error, dof = known.error_and_dof(last)
    if not (dof > 0 and np.isfinite(error) and error > 0):
        return None
    stretch = AlikeTrays(known).stretch(last[None, :])
    return Contrast.of_squares(float(fit.coefficients[-1]), error, dof, stretch)


@dataclass(frozen=True, slots=True)
class _Noise:
    """Variances over that of one egg: of each tray, and of what trays share; and the degrees of freedom."""

    spread: Floats
    together: float
    free: float


def _sides(
    came: Floats, entered: Floats, layout: Layout, fit: MixedFit | None = None, free: float = np.inf
) -> Sides:
    """The four plain rates; their intervals need a fit."""
    alike = coded(layout.alike)
    noise = _noise(came, entered, alike, fit, free) if fit else None
    return Sides(*(
        _side(came, entered, alike, (layout.touched == touched) & (layout.after == after), noise)
        for touched in (True, False)
        for after in (False, True)
    ))  # fmt: skip


def _noise(came: Floats, entered: Floats, alike: Codes, fit: MixedFit, free: float) -> _Noise:
    """The fit's variances in the order in which the trays came."""
    rate = float(came.sum() / entered.sum())
    scale = fit.scale / (rate * (1 - rate))
    spread = np.empty(len(alike))
    spread[np.argsort(alike, kind="stable")] = scale * fit.spread
    return _Noise(spread, scale * max(fit.ratio, 0.0), free)


def _side(
    came: Floats, entered: Floats, alike: Codes, own: np.ndarray, noise: _Noise | None
) -> SideRate:  # fmt: skip
    """A plain rate; its interval is Wilson's on as many independent eggs as these are worth."""
    eggs, passed, trays = float(entered[own].sum()), float(came[own].sum()), int(own.sum())
    if eggs <= _NOTHING:
        return SideRate(eggs, passed, trays)
    rate = min(passed / eggs, 1.0)
    if noise is None:
        return SideRate(eggs, passed, trays, rate)
    share = entered[own] / eggs
    shared = float((np.bincount(alike[own], weights=share) ** 2).sum())
    variance = float((share**2) @ noise.spread[own]) + noise.together * shared
    limits = score_limits(rate, eggs / max(variance * eggs, 1.0), t_quantile(LEVEL, noise.free))
    return SideRate(eggs, passed, trays, rate, *limits)


def joined(ends: Sequence[StepEffect]) -> StepEffect:
    """One effect of the ends that clear eggs leave open: the wider interval, the larger p.

    Args:
        ends: one effect with all clear eggs infertile, one with none; or one effect alone.

    Returns:
        The middle of the two; p = 1 where they disagree about the direction.
    """
    if len(ends) == 1:
        return ends[0]
    missing = next((one for one in ends if one.why), None)
    if missing:
        return missing
    one, other = ends
    low, middle, high, p_value = one.known()
    other_low, other_middle, other_high, other_p = other.known()
    weaker = one if p_value >= other_p else other
    return StepEffect(
        Sides(*(_open(a, b) for a, b in zip(one.sides.in_order(), other.sides.in_order(), strict=True))),
        (middle + other_middle) / 2,
        min(low, other_low),
        max(high, other_high),
        max(p_value, other_p) if middle * other_middle > 0 else 1.0,
        weaker.dof,
        _joined_odds(one.odds, other.odds),
        "",
    )


def _open(one: SideRate, other: SideRate) -> SideRate:
    """A rate that lies somewhere between two: the middle, with the wider interval."""
    eggs, passed = (one.eggs + other.eggs) / 2, (one.passed + other.passed) / 2
    rates = [rate for side in (one, other) for rate in (side.low, side.rate, side.high) if rate is not None]
    if one.rate is None or other.rate is None:
        return SideRate(eggs, passed, one.trays)
    return SideRate(eggs, passed, one.trays, (one.rate + other.rate) / 2, min(rates), max(rates))


def _joined_odds(one: OddsRatio | None, other: OddsRatio | None) -> OddsRatio | None:
    if one is None or other is None:
        return None
    middle = float(np.sqrt(one.ratio * other.ratio))
    return OddsRatio(middle, min(one.low, other.low), max(one.high, other.high))
