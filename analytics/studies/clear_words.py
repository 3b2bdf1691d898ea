"""What clear eggs are, in words."""

from __future__ import annotations

from analytics.measures.clear_records import ClearShare, ClearSplit
from analytics.studies.wording import counted


def clears_sentence(split: ClearSplit) -> str:
    """What the clear eggs probably were, and what would tell; "" without a clear egg."""
    share = split.whole
    clear = round(share.clear)
    if clear < 1:
        return ""
    if split.informed.silent:
        said = f"Of {counted(clear, 'clear egg')}, any number may be infertile or very early dead."
    else:
        said = f"Of {counted(clear, 'clear egg')}, {_span(share)} were probably infertile."
    eggs = split.advice.eggs
    return f"{said} Opening {counted(eggs, 'fresh egg')} would settle it." if eggs else said


def _span(share: ClearShare) -> str:
    low, high = round(share.infertile_low), round(share.infertile_high)
    return f"{low}" if low == high else f"{low} to {high}"
