"""From the effects on the steps to a verdict: how many tests were made is allowed for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from analytics.changes.records import StepEffect

Verdict = Literal["better", "worse", "no_clear_change", "cannot_tell"]
ALPHA = 0.05
WIDE = 0.10
"""An interval that reaches this far to both sides of 0 tells nothing (our choice, no source)."""
TOO_WIDE = "Anything from much worse to much better would fit so few eggs."


@dataclass(frozen=True, slots=True)
class Judged:
    """The verdict on one step.

    Attributes:
        verdict: better, worse, no_clear_change or cannot_tell.
        why: why it cannot be told; "" otherwise.
        p_adjusted: the p-value with the number of steps tested allowed for (Holm 1979), or None.
    """

    verdict: Verdict
    why: str
    p_adjusted: float | None


def judged(effects: Sequence[StepEffect]) -> tuple[Judged, ...]:
    """Verdicts on the steps of one change.

    Args:
        effects: one a step; those without a test do not count among the tests.

    Returns:
        In the order given. A step is called better or worse only where its adjusted p is under 0.05.
    """
    p_values = holm([effect.p_value for effect in effects])
    return tuple(_judged(effect, p) for effect, p in zip(effects, p_values, strict=True))


def holm(p_values: Sequence[float | None]) -> tuple[float | None, ...]:
    """Holm's adjusted p-values, as `comparisons.differences.adjusted` has them without its wait.

    Args:
        p_values: 0..1; None where no test was made (it stays None and does not count).

    Returns:
        In the order given. Source: Holm 1979, Scandinavian Journal of Statistics 6:65-70 (from memory).
    """
    made = sorted((p, place) for place, p in enumerate(p_values) if p is not None)
    found: list[float | None] = [None] * len(p_values)
    highest = 0.0
    for rank, (p, place) in enumerate(made):
        highest = max(highest, min(1.0, p * (len(made) - rank)))
        found[place] = highest
    return tuple(found)


def _judged(effect: StepEffect, p_adjusted: float | None) -> Judged:
    if effect.why or p_adjusted is None:
        return Judged("cannot_tell", effect.why, None)
    low, difference, high, _ = effect.known()
    if p_adjusted < ALPHA:
        return Judged("better" if difference > 0 else "worse", "", p_adjusted)
    if low < -WIDE and high > WIDE:
        return Judged("cannot_tell", TOO_WIDE, p_adjusted)
    return Judged("no_clear_change", "", p_adjusted)
