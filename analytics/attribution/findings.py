"""Which items of the ledger stand out, and how strongly that may be said.

Rule: a finding is a loss. Its evidence is the one-sided p value of its item in one step; q is that of
Benjamini and Hochberg (J. R. Stat. Soc. B 57, 1995, 289-300; from memory) over all items that could have
been one. With q at most .001 it is `clear`, at most .01 `likely`, at most .25 a `hint`: of hints one in four
may be false. A loss of fewer than two chicks in 1,000 eggs set is at most a hint.

What enters: every pen, machine, parent and covariate in every step. Where a run of a pen's or machine's
months stands out from its other months with p at most .05, all runs tried counted, the run is the item, with
the smaller of the two p values. Batches and months do not come back, and all differ a little: of them the
worst of a step enters, as far as it sticks out from its fellows. Where only some months are counted, these
stand for the whole pen or machine.

Order: clear before likely before hint; of those that are sure the largest loss, of hints the surest, first.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from analytics.attribution.evidence import MONTHS_MOST, OCCASIONS
from analytics.attribution.ledger import ALL_STEPS, ItemLine, LossLedger
from analytics.attribution.shares import JOINED
from analytics.attribution.terms import BY_MONTH

CLEAR, LIKELY, HINT = "clear", "likely", "hint"
STRENGTHS = (CLEAR, LIKELY, HINT)
CLEAR_MOST, LIKELY_MOST, HINT_MOST = 0.001, 0.01, 0.25
WORTH_SAYING = 0.002
TO_SD = 1.4826
"""From the median distance from the middle to the sd of a normal distribution."""
LEAST_P = 1e-300


@dataclass(frozen=True, slots=True)
class Finding:
    """An item that stands out.

    Attributes:
        item: the item, with its chicks lost and its p value.
        q_value: share of false ones to be expected among the items that are at least as sure.
        strength: clear, likely or hint.
    """

    item: ItemLine
    q_value: float
    strength: str


def findings(ledger: LossLedger) -> tuple[Finding, ...]:
    """The findings, strongest first.

    Args:
        ledger: with its items.
    """
    asked = [*_returning(ledger), *_occasions(ledger)]
    q_values = _false_share([p for _, p in asked])
    enough = WORTH_SAYING * ledger.eggs_set
    found = [
        Finding(item, q, _strength(item, q, enough))
        for (item, _), q in zip(asked, q_values, strict=True)
        if item.eggs > 0 and q <= HINT_MOST
    ]
    return tuple(sorted(found, key=_place))


def _place(one: Finding) -> tuple[int, float, float]:
    sure = one.strength != HINT
    return STRENGTHS.index(one.strength), -one.item.eggs if sure else one.q_value, one.item.p_value


def _strength(item: ItemLine, q_value: float, enough: float) -> str:
    if q_value > LIKELY_MOST or item.eggs < enough:
        return HINT
    return CLEAR if q_value <= CLEAR_MOST else LIKELY


def _false_share(p_values: list[float]) -> list[float]:
    """Benjamini and Hochberg's q values."""
    if not p_values:
        return []
    order = np.argsort(p_values)
    steps = np.array(p_values)[order] * len(p_values) / np.arange(1, len(p_values) + 1)
    q_values = np.empty(len(p_values))
    q_values[order] = np.minimum(np.minimum.accumulate(steps[::-1])[::-1], 1.0)
    return [float(q) for q in q_values]


def _one_sided(item: ItemLine) -> float:
    """Of no loss; a covariate may lose chicks both ways from its typical value, so both count."""
    if not item.level:
        return item.p_value if item.eggs > 0 else 1.0
    return item.p_value / 2 if item.eggs > 0 else 1 - item.p_value / 2


def _of_occasion(item: ItemLine) -> bool:
    return item.factor.split(JOINED)[0] in OCCASIONS


def _returning(ledger: LossLedger) -> list[tuple[ItemLine, float]]:
    """Pens, machines, parents and covariates in each step, or their months, and their p values."""
    chosen: dict[tuple[str, str, str], tuple[ItemLine, float]] = {}
    for item in _open((*ledger.items, *ledger.months)):
        if not _of_occasion(item):
            chosen[item.factor, item.level, item.step] = item, _one_sided(item)
    for item in _open(ledger.runs):
        key = item.factor, item.level, item.step
        if item.p_value <= MONTHS_MOST and item.eggs > 0:
            chosen[key] = item, min(_one_sided(item), chosen[key][1] if key in chosen else 1.0)
    return list(chosen.values())


def _open(items: Iterable[ItemLine]) -> list[ItemLine]:
    """Items of one step that have a part."""
    return [
        item
        for item in items
        if item.step != ALL_STEPS and item.high > item.low and not item.factor.endswith(BY_MONTH)
    ]


def _occasions(ledger: LossLedger) -> list[tuple[ItemLine, float]]:
    """The batch and the month that stick out most in each step, with their p values."""
    together: dict[tuple[str, str], list[ItemLine]] = {}
    for item in _open(ledger.items):
        if _of_occasion(item):
            together.setdefault((item.factor, item.step), []).append(item)
    return [_sticking_out(items) for items in together.values()]


def _sticking_out(items: list[ItemLine]) -> tuple[ItemLine, float]:
    """The worst of the levels of a factor, and how rarely the worst of so many is so bad.

    Their losses over their standard errors are held against how far these usually lie from their middle
    (never less than 1: what chance alone makes of them).
    """
    heights = np.array([
        -np.sign(item.eggs) * ndtri(max(item.p_value, LEAST_P) / 2) for item in items
    ])  # fmt: skip
    middle = np.median(heights)
    usual = max(1.0, TO_SD * float(np.median(np.abs(heights - middle))))
    worst = int(heights.argmax())
    p_value = float(ndtr(-(heights[worst] - max(middle, 0.0)) / usual))
    return items[worst], min(1.0, p_value * len(items))
