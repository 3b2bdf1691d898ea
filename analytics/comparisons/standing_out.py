"""Which pens stand out, and all pairs of them, from one or two models of the same pens.

Two models where clear eggs leave a rate open: one with all of them infertile, one with none. What is said
must hold in both, so the larger p-value counts, and a difference that changes its direction counts as none.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Protocol

from analytics.comparisons.differences import adjusted
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.pen_model import Contrast

ALPHA = 0.05


class Judge(Protocol):
    """What the models of pens, lines and deals have in common."""

    labels: tuple[object, ...]
    groups: tuple[tuple[int, ...], ...]
    test: HypothesisTest

    def test_of(self, groups: Sequence[Sequence[int]]) -> HypothesisTest:
        """Whether pens differ within groups."""

    def difference(self, first: int, second: int) -> Contrast:
        """One rate less another."""

    def against(self, pen: int, others: Sequence[int]) -> Contrast:
        """One rate less the mean of others."""


@dataclass(frozen=True, slots=True)
class Apart:
    """A pen that stands out.

    Attributes:
        pen: its place in the labels.
        others: places of the pens it was held against.
        contrasts: its distance from their mean, one a model.
        p_value: the larger one, times the pens that were candidates (Holm 1979).
    """

    pen: int
    others: tuple[int, ...]
    contrasts: tuple[Contrast, ...]
    p_value: float


def stand_out(judges: Sequence[Judge], low_is_poor: bool = True) -> tuple[Apart, ...]:
    """Pens that stand out, one after another: each is set aside before the others are looked at again.

    Without that a single poor pen would lower the others' mean and make sound pens stand above it. A pen is
    called only while the F test of the pens left finds a difference at 5 %, and its own distance passes
    Holm's procedure over them. Of two pens alone the poorer one is called.

    Args:
        judges: models of the same pens, one an end of what is open.
        low_is_poor: whether a low rate is the poor one.
    """
    groups = [list(group) for group in judges[0].groups if len(group) > 1]
    found: list[Apart] = []
    while groups and _differ(judges, groups):
        candidates = [_apart(judges, pen, group) for group in groups for pen in group]
        tests = len(candidates) - sum(len(group) == 2 for group in groups)
        best = min(candidates, key=lambda one: (one.p_value, _sign(one) * (1 if low_is_poor else -1)))
        if best.p_value * tests >= ALPHA:
            break
        found.append(Apart(best.pen, best.others, best.contrasts, best.p_value * tests))
        groups = [[pen for pen in group if pen != best.pen] for group in groups]
        groups = [group for group in groups if len(group) > 1]
    return tuple(found)


def _differ(judges: Sequence[Judge], groups: Sequence[Sequence[int]]) -> bool:
    tests = [judge.test_of(groups) for judge in judges]
    return all(test.p_value is not None and test.p_value < ALPHA for test in tests)


def _apart(judges: Sequence[Judge], pen: int, group: Sequence[int]) -> Apart:
    others = tuple(other for other in group if other != pen)
    contrasts = tuple(judge.against(pen, others) for judge in judges)
    return Apart(pen, others, contrasts, larger_p(contrasts))


def _sign(one: Apart) -> float:
    return sum(contrast.estimate for contrast in one.contrasts)


def larger_p(contrasts: Sequence[Contrast]) -> float:
    """The larger p-value; 1 where the contrasts disagree about the direction."""
    if min(one.estimate for one in contrasts) < 0 < max(one.estimate for one in contrasts):
        return 1.0
    return max(one.p_value for one in contrasts)


@dataclass(frozen=True, slots=True)
class Pair:
    """Two pens.

    Attributes:
        first: place of the first.
        second: place of the second.
        contrasts: first less second, one a model; () where they cannot be compared.
        p_value: as `larger_p`, or None.
        q_value: of Benjamini and Hochberg over all pairs, or None.
    """

    first: int
    second: int
    contrasts: tuple[Contrast, ...]
    p_value: float | None
    q_value: float | None


def pairs(judges: Sequence[Judge]) -> tuple[Pair, ...]:
    """All pairs, those that cannot be compared too."""
    together = {pen: number for number, group in enumerate(judges[0].groups) for pen in group}
    places = list(combinations(range(len(judges[0].labels)), 2))
    contrasts = [
        tuple(judge.difference(a, b) for judge in judges) if together[a] == together[b] else ()
        for a, b in places
    ]
    p_values = [larger_p(found) if found else None for found in contrasts]
    q_values = adjusted(p_values, "benjamini-hochberg")
    return tuple(
        Pair(*place, found, p, q)
        for place, found, p, q in zip(places, contrasts, p_values, q_values, strict=True)
    )


def smallest_seen(judges: Sequence[Judge], power: float = 0.8) -> float | None:
    """The distance from the others' mean at which a typical pen would have been called with that power.

    Returns:
        In shares; None where no pens can be compared.
    """
    from scipy.special import ndtri

    found = [_apart(judges, pen, group) for group in judges[0].groups if len(group) > 1 for pen in group]
    if not found:
        return None
    errors = sorted(max(one.error for one in apart.contrasts) for apart in found)
    reach = max(one.reach(1 - ALPHA / len(found)) for apart in found for one in apart.contrasts)
    return errors[len(errors) // 2] * (reach + float(ndtri(power)))


def eggs_to_decide(contrast: Contrast, tray_variance: float, tray: float, power: float = 0.8) -> float | None:
    """How many more eggs of each of two pens, set side by side, would show the difference now seen.

    Args:
        contrast: the difference as it stands.
        tray_variance: variance of the rate of a tray of that many eggs.
        tray: eggs of a tray.
        power: chance wanted of seeing it at 5 %.

    Returns:
        Eggs of each pen, 0 where these suffice; None where no difference is seen at all.
    """
    from scipy.special import ndtri

    if contrast.estimate == 0:
        return None
    wanted = (abs(contrast.estimate) / (contrast.reach(1 - ALPHA) + float(ndtri(power)))) ** 2
    missing = max(1 / wanted - 1 / contrast.error**2, 0.0)
    return 2 * tray_variance * missing * tray
