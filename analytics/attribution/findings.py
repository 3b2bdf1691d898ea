"""Which items of the ledger stand out, and how strongly that may be said.

Rule: of all items of all steps that lost chicks or won them, q is the false discovery rate of Benjamini and
Hochberg (J. R. Stat. Soc. B 57, 1995, 289-300). Findings are losses with q below .20, or with p below .05:
`clear` where q is at most .01, `likely` where q is at most .05, else `hint`. A loss of fewer chicks than one
in 100 eggs set is at most a hint.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.attribution.ledger import ALL_STEPS, ItemLine, LossLedger

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

    items = [item for item in ledger.items if item.step != ALL_STEPS and item.high > item.low]
    if not items:
        return ()
    q_values = false_discovery_control(np.array([item.p_value for item in items]))
    enough = WORTH_SAYING * ledger.eggs_set
    found = [
        Finding(item, float(q), _strength(item, float(q), enough))
        for item, q in zip(items, q_values, strict=True)
        if item.eggs > 0 and (q < HINT_BELOW or item.p_value < HINT_P)
    ]
    return tuple(sorted(found, key=lambda one: (STRENGTHS.index(one.strength), -one.item.eggs)))


def _strength(item: ItemLine, q_value: float, enough: float) -> str:
    if q_value > LIKELY_BELOW or item.eggs < enough:
        return HINT
    return CLEAR if q_value <= CLEAR_BELOW else LIKELY
