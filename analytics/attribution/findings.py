"""Which items of the ledger stand out, and how strongly that may be said.

Rule: of all items of all steps that lost chicks or won them, q is the false discovery rate of Benjamini and
Hochberg (J. R. Stat. Soc. B 57, 1995, 289-300); single batches are one family, everything that lasts another.
Findings are losses with q below .20, or with p below .05:
`clear` where q is at most .01, `likely` where q is at most .05, else `hint`. A loss of fewer chicks than one
in 100 eggs set is at most a hint. A pen's or machine's months enter as its worst run of months, not one by
one; of the run and the whole pen or machine in the same step only the one with the smaller p is said.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.attribution.ledger import ALL_STEPS, ItemLine, LossLedger
from analytics.attribution.terms import BY_MONTH

CLEAR, LIKELY, HINT = "clear", "likely", "hint"
STRENGTHS = (CLEAR, LIKELY, HINT)
CLEAR_BELOW, LIKELY_BELOW, HINT_BELOW, HINT_P = 0.01, 0.05, 0.20, 0.05
WORTH_SAYING = 0.01


@dataclass(frozen=True, slots=True)
class Finding:
    """An item that stands out.

    Attributes:
        item: the item, with its chicks lost and its p value.
        q_value: share of false ones among all findings as strong as this.
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
    from scipy.stats import false_discovery_control

    items = [
        item
        for item in (*ledger.items, *ledger.runs)
        if item.step != ALL_STEPS and item.high > item.low and not item.factor.endswith(BY_MONTH)
    ]
    if not items:
        return ()
    p_values = np.array([item.p_value for item in items])
    once = np.array([item.factor.startswith("batch") for item in items])
    q_values = np.empty(len(items))
    for family in (once, ~once):
        q_values[family] = false_discovery_control(p_values[family])
    enough = WORTH_SAYING * ledger.eggs_set
    found = [
        Finding(item, float(q), _strength(item, float(q), enough))
        for item, q in zip(items, q_values, strict=True)
        if item.eggs > 0 and (q < HINT_BELOW or item.p_value < HINT_P)
    ]
    found.sort(key=lambda one: one.item.p_value)
    found = list({_place(one): one for one in reversed(found)}.values())
    return tuple(sorted(found, key=lambda one: (STRENGTHS.index(one.strength), -one.item.eggs)))


def _place(found: Finding) -> tuple[str, str, str]:
    return found.item.factor, found.item.level, found.item.step


def _strength(item: ItemLine, q_value: float, enough: float) -> str:
    if q_value > LIKELY_BELOW or item.eggs < enough:
        return HINT
    return CLEAR if q_value <= CLEAR_BELOW else LIKELY
