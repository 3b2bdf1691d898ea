"""Power and sample size of the tests that take every egg as independent.

A plan for trays and batches multiplies these numbers by the design effect.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from analytics.comparisons.pingouin_tables import chi_square_eggs, chi_square_power


@dataclass(frozen=True, slots=True)
class EggsNeeded:
    """How many eggs a comparison takes.

    Attributes:
        method: the formula in words.
        eggs: eggs (in all for chi-square, per group for two proportions), not rounded, or None.
        why: why there is no number; "" otherwise.
    """

    method: str
    eggs: float | None
    why: str


def power_of_chi_square(effect_w: float, eggs: float, dof: int, alpha: float = 0.05) -> float:
    """Power of a chi-square test.

    Args:
        effect_w: Cohen's w, above 0.
        eggs: eggs in all.
        dof: degrees of freedom.
        alpha: level of the test.

    Returns:
        Power 0..1. Source: Cohen 1988, Statistical Power Analysis, 2nd ed., chapter 7.
    """
    return chi_square_power(effect_w, eggs, dof, alpha)


def eggs_for_chi_square(effect_w: float, dof: int, power: float = 0.8, alpha: float = 0.05) -> EggsNeeded:
    """Eggs in all for a chi-square test to reach a power.

    Args:
        effect_w: Cohen's w.
        dof: degrees of freedom.
        power: wanted power, above alpha and below 1.
        alpha: level of the test.
    """
    method = "noncentral chi-square at Cohen's w"
    eggs = chi_square_eggs(effect_w, power, dof, alpha) if effect_w > 0 else math.nan
    if not math.isfinite(eggs):
        return EggsNeeded(method, None, "No number of eggs shows so small a difference with this power.")
    return EggsNeeded(method, eggs, "")


def power_of_two_rates_h(effect_h: float, eggs: float, other_eggs: float, alpha: float, sides: int) -> float:
    """Power of comparing two rates on the arcsine scale.

    Args:
        effect_h: Cohen's h = 2 asin sqrt(p1) - 2 asin sqrt(p2), in the direction tested.
        eggs: eggs of one group.
        other_eggs: eggs of the other.
        alpha: level of the test.
        sides: 1 or 2.

    Returns:
        Power 0..1. Source: Cohen 1988, chapter 6.
    """
    from scipy.special import ndtr, ndtri

    shift = effect_h * math.sqrt(eggs * other_eggs / (eggs + other_eggs))
    cut = -float(ndtri(alpha / sides))
    other_tail = float(ndtr(-cut - shift)) if sides == 2 else 0.0
    return float(ndtr(shift - cut)) + other_tail


def power_of_two_rates(rate: float, other: float, eggs: float, alpha: float = 0.05) -> float:
    """Power of a two-sided comparison of two rates with equal eggs, counting the true side only.

    Args:
        rate: rate of one group, 0..1.
        other: rate of the other group.
        eggs: eggs per group.
        alpha: level of the test.

    Returns:
        Power 0..1. The same normal approximation as R's power.prop.test (strict = FALSE).
    """
    from scipy.special import ndtr, ndtri

    spread_null, spread = _spreads(rate, other)
    cut = -float(ndtri(alpha / 2)) * spread_null
    return float(ndtr((math.sqrt(eggs) * abs(rate - other) - cut) / spread))


def eggs_for_two_rates(
    rate: float, other: float, power: float = 0.8, alpha: float = 0.05, continuity: bool = False
) -> EggsNeeded:
    """Eggs per group for a two-sided comparison of two rates.

    Args:
        rate: rate of one group, strictly between 0 and 1.
        other: rate of the other group.
        power: wanted power.
        alpha: level of the test.
        continuity: add Fleiss' continuity correction.

    Returns:
        The number. Source: Fleiss, Levin and Paik 2003, chapter 4.
    """
    from scipy.special import ndtri

    method = "normal approximation" + (" with continuity correction" if continuity else "")
    gap = abs(rate - other)
    if gap == 0:
        return EggsNeeded(method, None, "The two rates are equal, so no number of eggs tells them apart.")
    spread_null, spread = _spreads(rate, other)
    plain = ((-float(ndtri(alpha / 2)) * spread_null + float(ndtri(power)) * spread) / gap) ** 2
    if continuity:
        plain = plain / 4 * (1 + math.sqrt(1 + 4 / (plain * gap))) ** 2
    return EggsNeeded(method, plain, "")


def _spreads(rate: float, other: float) -> tuple[float, float]:
    middle = (rate + other) / 2
    return math.sqrt(2 * middle * (1 - middle)), math.sqrt(rate * (1 - rate) + other * (1 - other))
