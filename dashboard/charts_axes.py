"""Axes of shares, written as everywhere else: 20 %, with a space."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dashboard.look import Look

_STEPS = (1, 2, 5, 10, 20, 50)
"""Distances of ticks in percent."""
_MOST = 6
"""Ticks that an axis has at most: more would touch on a phone."""


def share_axis(look: Look, drawn: Sequence[float]) -> dict[str, Any]:
    """An axis about what is drawn: marks need no zero, and what differs is to be seen.

    Args:
        look: colours.
        drawn: the shares that are to be seen, 0..1.
    """
    low, high = min(drawn, default=0.0), max(drawn, default=1.0)
    room = max(0.08 * (high - low), 0.02)
    return _axis(look, max(low - room, -0.02), min(high + room, 1.02))


def share_axis_from_nothing(look: Look, top: float) -> dict[str, Any]:
    """An axis from 0 up to a share."""
    return _axis(look, 0.0, top * 1.02)


def ticks(low: float, high: float) -> list[int]:
    """Whole percents within two shares, evenly apart, at most six."""
    first, last = max(low, 0.0) * 100, min(high, 1.0) * 100
    for step in _STEPS:
        found = [place * step for place in range(101) if first - 1e-9 <= place * step <= last + 1e-9]
        if len(found) <= _MOST:
            return found
    return [0, 50, 100]


def _axis(look: Look, low: float, high: float) -> dict[str, Any]:
    shown = ticks(low, high)
    return {
        "range": [low, high],
        "tickmode": "array",
        "tickvals": [tick / 100 for tick in shown],
        "ticktext": [f"{tick}\N{NO-BREAK SPACE}%" for tick in shown],
        "gridcolor": look.line,
        "gridwidth": 1,
        "zeroline": False,
        "tickfont": {"color": look.faded, "size": 14},
        "automargin": True,
        "fixedrange": True,
    }
