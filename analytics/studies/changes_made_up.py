"""Made-up dates: changes that nobody made, put to the same test, to see how often it cries wolf."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from analytics.studies.changes_records import Event
from analytics.studies.changes_trays import ChangeTrays, key_of

MOST = 20
_SEED = 20260608
"""Dates are drawn from a fixed seed, so that the same records give the same answer."""
_APART = timedelta(days=60)
"""A made-up date lies at least so far from the ends of a pen's stretch."""


def made_up_events(trays: ChangeTrays, events: Sequence[Event]) -> tuple[Event, ...]:
    """Made-up changes of single pens, on days in stretches in which nothing was changed in them.

    Args:
        trays: all trays.
        events: the changes that were made.

    Returns:
        At most 20, no two within 30 days in one pen; fewer where the records are short.
    """
    random = np.random.default_rng(_SEED)
    days = [(pen, day) for pen, first, last in _stretches(trays, events) for day in _days(first, last)]
    chosen = random.permutation(len(days))[:MOST]
    return tuple(
        Event(day, day, "pen", (pen,), "made up", "", "other")
        for pen, day in sorted((days[place] for place in chosen), key=lambda one: (one[1], one[0]))
    )


def _days(first: date, last: date) -> list[date]:
    """Every thirtieth day of a stretch, its ends apart."""
    return [
        first + _APART + timedelta(days=30 * k)
        for k in range(max(0, (last - first - 2 * _APART).days // 30 + 1))
    ]


def _stretches(trays: ChangeTrays, events: Sequence[Event]) -> list[tuple[str, date, date]]:
    """Pen, first and last day of lay between two of its changes."""
    found = []
    pens = trays.ladder.labels["pen"]
    known = ~(np.isnat(trays.laid_first) | np.isnat(trays.laid_last))
    for pen in np.unique(pens).tolist():
        own = (pens == pen) & known
        if not own.any():
            continue
        ends = [
            trays.laid_first[own].min().item(),
            *sorted(
                event.first_day
                for event in events
                if event.scope == "pen" and key_of(pen) in map(key_of, event.targets)
            ),
            trays.laid_last[own].max().item(),
        ]
        found += [(pen, first, last) for first, last in pairwise(ends) if first < last]
    return found
