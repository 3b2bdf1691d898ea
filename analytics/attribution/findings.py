"""Which items of the ledger stand out, and how strongly that may be said.

Rule: an item's p value is of effects that are drawn towards the typical level already, by the sds of the
model. So the share of false ones among the items that are at least as sure is the mean of their p values, the
item's q (the local false sign rates of M. Stephens, Biostatistics 18, 2017, 275-294, both signs counted; from
memory). A second correction for the number of items, such as that of Benjamini and Hochberg, would count it
twice. The slopes of covariates are hardly drawn in, so their p values count times their number. Findings are
losses with q at most .05: `clear` with q at most .001, `likely` with q at most .01, else `hint`. A loss of
fewer than two chicks in 1,000 eggs set is at most a hint. A pen's or machine's months enter as its worst run
of months, not one by one; of the run and the whole pen or machine in the same step only the one with the
smaller p is said. Where only some months are counted, these months stand for the whole pen or machine.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.attribution.ledger import ALL_STEPS, ItemLine, LossLedger
from analytics.attribution.terms import BY_MONTH

CLEAR, LIKELY, HINT = "clear", "likely", "hint"
STRENGTHS = (CLEAR, LIKELY, HINT)
CLEAR_MOST, LIKELY_MOST, HINT_MOST = 0.001, 0.01, 0.05
WORTH_SAYING = 0.002


@dataclass(frozen=True, slots=True)
class Finding:
    """An item that stands out.

    Attributes:
        item: the item, with its chicks lost and its p value.
        q_value: share of false ones among the items that are at least as sure.
        strength: clear, likely or hint.
    """

    item: ItemLine
    q_value: float
    strength: str


def findings(ledger: LossLedger) -> tuple[Finding, ...]:
    """The findings, strongest first, among equals the largest loss first.

    Args:
        ledger: with its items.
    """
    instead = {(item.factor, item.level, item.step) for item in ledger.months}
    whole = (item for item in ledger.items if (item.factor, item.level, item.step) not in instead)
    items = [
        item
        for item in (*whole, *ledger.runs, *ledger.months)
        if item.step != ALL_STEPS and item.high > item.low and not item.factor.endswith(BY_MONTH)
    ]
    slopes = sum(item.level == "" for item in items)
    unsure = {item: min(1.0, item.p_value * (1 if item.level else slopes)) for item in items}
    items.sort(key=unsure.__getitem__)
    q_values = np.cumsum([unsure[item] for item in items]) / np.arange(1, len(items) + 1)
    enough = WORTH_SAYING * ledger.eggs_set
    surest: dict[tuple[str, str, str], Finding] = {}
    for item, q in zip(items, q_values.tolist(), strict=True):
        if item.eggs > 0 and q <= HINT_MOST:
            surest.setdefault(
                (item.factor, item.level, item.step), Finding(item, q, _strength(item, q, enough))
            )
    return tuple(sorted(surest.values(), key=lambda one: (STRENGTHS.index(one.strength), -one.item.eggs)))


def _strength(item: ItemLine, q_value: float, enough: float) -> str:
    if q_value > LIKELY_MOST or item.eggs < enough:
        return HINT
    return CLEAR if q_value <= CLEAR_MOST else LIKELY
