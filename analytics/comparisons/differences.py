"""Two rates against each other, and many such comparisons at once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analytics.values import Interval


@dataclass(frozen=True, slots=True)
class RateDifference:
    """The difference of two rates.

    Attributes:
        difference: first rate less second, -1..1, or None.
        interval: around it, or None.
        why: why there is no difference; "" otherwise.
    """

    difference: float | None
    interval: Interval | None
    why: str


Adjustment = Literal["holm", "benjamini-hochberg", "bonferroni", "hochberg"]


def newcombe(
    passed: float,
    eggs: float,
    other_passed: float,
    other_eggs: float,
    level: float = 0.95,
    design_effects: tuple[float, float] = (1.0, 1.0),
) -> RateDifference:
    """Newcombe's hybrid score interval (method 10) for a difference of two rates.

    Args:
        passed: eggs of the first group that passed.
        eggs: eggs of the first group.
        other_passed: eggs of the second group that passed.
        other_eggs: eggs of the second group.
        level: confidence level.
        design_effects: what each group's counts are divided by to allow for trays, 1 or more.

    Returns:
        The difference. Source: Newcombe 1998, Statistics in Medicine 17:873-890.
    """
    from statsmodels.stats.proportion import confint_proportions_2indep

    if not 0 <= passed <= eggs or not 0 <= other_passed <= other_eggs or min(design_effects) <= 0:
        raise ValueError("passed lies between 0 and eggs, design effects above 0")
    if not eggs or not other_eggs:
        return RateDifference(None, None, "One of the two has no eggs.")
    first, second = design_effects
    low, high = confint_proportions_2indep(
        passed / first,
        eggs / first,
        other_passed / second,
        other_eggs / second,
        compare="diff",
        method="newcomb",
        alpha=1 - level,
    )
    plain = design_effects == (1.0, 1.0)
    method = "Newcombe, eggs independent" if plain else "Newcombe, counts divided by design effects"
    return RateDifference(
        passed / eggs - other_passed / other_eggs, Interval(float(low), float(high), level, method), ""
    )


def adjusted(p_values: Sequence[float | None], adjustment: Adjustment) -> tuple[float | None, ...]:
    """p-values adjusted for how many comparisons were made.

    Args:
        p_values: 0..1; None where a comparison could not be made (it stays None and does not count).
        adjustment: "benjamini-hochberg" limits the share of false alarms among alarms; the others limit
            the chance of any false alarm.

    Returns:
        Adjusted p-values in the order given. Sources: Holm 1979; Benjamini and Hochberg 1995; Hochberg 1988.
    """
    from statsmodels.stats.multitest import multipletests

    made = [p for p in p_values if p is not None]
    if any(not 0 <= p <= 1 for p in made):
        raise ValueError("p-values lie between 0 and 1")
    if not made:
        return tuple(None for _ in p_values)
    name = {"benjamini-hochberg": "fdr_bh", "hochberg": "simes-hochberg"}.get(adjustment, adjustment)
    found = iter(multipletests(made, method=name)[1].tolist())
    return tuple(None if p is None else float(next(found)) for p in p_values)
