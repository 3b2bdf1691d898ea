"""Pens by batches beside what typical pens in typical batches would have given: where stripes run."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import numpy as np

from analytics.attribution.expected import Expected
from analytics.store.cells import Floats
from analytics.store.ladder import LadderTrays
from analytics.studies.causes_records import ALL, StripeBatch, StripeCell, StripeMap
from analytics.values import label_order

FEW_EGGS = 12
"""Fewer eggs than these in a cell are not looked at by themselves (our own choice, no source)."""
EXPECTED_AS = (
    "A cell is what came, less what as many eggs, as long stored, of a typical pen in a typical machine, "
    "batch and month would have given. A stripe along a pen points to the flock, one down a batch or a "
    "machine to the incubator."
)


def stripe_maps(ladder: LadderTrays, typical: Sequence[Expected]) -> tuple[StripeMap, ...]:
    """The map of the whole way, then that of each step, of the trays counted.

    Args:
        ladder: the trays learnt from.
        typical: of the whole way and of each step, for these trays.
    """
    batches = _batches(ladder)
    pens = tuple(sorted(set(ladder.labels["pen"][ladder.wanted].tolist()), key=label_order))
    passed = np.column_stack((ladder.eggs, ladder.passed))
    ways = [(ALL, ladder.eggs, passed[:, -1])]
    ways += [(step, passed[:, at], passed[:, at + 1]) for at, step in enumerate(ladder.steps)]
    return tuple(
        StripeMap(step, pens, batches, _cells(ladder, pens, batches, eggs, came, one), EXPECTED_AS)
        for (step, eggs, came), one in zip(ways, typical, strict=True)
    )


def _batches(ladder: LadderTrays) -> tuple[StripeBatch, ...]:
    """Columns: machines by name, within each by day of setting."""
    found = {}
    for at in np.flatnonzero(ladder.wanted):
        batch = str(ladder.labels["batch"][at])
        found[batch] = StripeBatch(
            batch,
            str(ladder.labels["setter"][at]),
            str(ladder.labels["hatcher"][at]),
            _day(ladder.set_on[at]),
            _day(ladder.hatch_on[at]),
        )
    return tuple(
        sorted(found.values(), key=lambda one: (label_order(one.machine), one.set_on, label_order(one.batch)))
    )


def _day(day: np.datetime64) -> date:
    found: date = day.astype("datetime64[D]").item()
    return found


def _cells(
    ladder: LadderTrays,
    pens: Sequence[str],
    batches: Sequence[StripeBatch],
    eggs: Floats,
    came: Floats,
    typical: Expected,
) -> tuple[StripeCell, ...]:
    row = {pen: at for at, pen in enumerate(pens)}
    column = {one.batch: at for at, one in enumerate(batches)}
    places: dict[tuple[int, int], list[int]] = {}
    for at in np.flatnonzero(ladder.wanted & (eggs > 1e-9)).tolist():
        place = row[str(ladder.labels["pen"][at])], column[str(ladder.labels["batch"][at])]
        places.setdefault(place, []).append(at)
    spread = typical.variance(eggs)
    return tuple(
        _cell(ladder, pens[place[0]], batches[place[1]].batch, places[place], eggs, came, typical, spread)
        for place in sorted(places)
    )


def _cell(
    ladder: LadderTrays,
    pen: str,
    batch: str,
    at: list[int],
    eggs: Floats,
    came: Floats,
    typical: Expected,
    spread: Floats,
) -> StripeCell:
    entered, passed = float(eggs[at].sum()), float(came[at].sum())
    expected = float((eggs[at] * typical.mean[at]).sum())
    sd = float(np.sqrt(spread[at].sum()))
    return StripeCell(
        pen=pen,
        batch=batch,
        eggs=entered,
        came=passed,
        expected=expected,
        residual=(passed - expected) / sd if sd > 0 else 0.0,
        few=entered < FEW_EGGS,
        trays=tuple(str(label) for label in ladder.labels["tray"][at]),
    )
