"""Signs of the clock: a hatch that comes early, late or uneven beside the farm's other batches.

Hours are those of `analytics/measures/hatch_timing.py`, storage taken off at the middle of what is published,
a value a batch.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from analytics.incubation.signs_causes import OWN
from analytics.incubation.signs_conditions import condition
from analytics.incubation.signs_farm import Farm, conditions_of, is_apart
from analytics.incubation.signs_records import Comparisons, Condition, Facts, Placed
from analytics.incubation.signs_shares import level_for, share_of
from analytics.measures.counts import Clustering
from analytics.measures.hatch_timing import HatchCounts, hatch_window
from analytics.reference.hatch_shifts import storage_hours_a_day

EARLY_OR_LATE = ("early_hatch", "late_hatch")
HOUR_SIGNS = ("early_hatch", "late_hatch", "uneven_hatch")
WORD_OF = {"early_hatch": "hours", "late_hatch": "hours", "uneven_hatch": "spread_hours"}
ALIKE_HOURS = Clustering(0.15, 0.15, 0.05, 0.05, assumed=True)
"""Chicks of a batch come out together (assumed, no source)."""


def batch_hours(batches: Mapping[str, HatchCounts]) -> dict[str, dict[str, float]]:
    """`hours` and `spread_hours` -> batch -> middle hour with storage taken off, and spread of its chicks."""
    a_day = sum(storage_hours_a_day()) / 2
    windows = {name: hatch_window(counts) for name, counts in batches.items()}
    return {
        "hours": {name: one.median - a_day * batches[name].storage_days for name, one in windows.items()},
        "spread_hours": {name: one.spread for name, one in windows.items() if one.spread is not None},
    }


def hours_beside(farm: Farm, sign: str, placed: Placed, level: str, places: int) -> Condition | None:
    """The hours of a place beside the others', at the level that so many places ask for."""
    here = farm.labels(placed, sign) == level
    by_batch = farm.notes.get(WORD_OF[sign], {})
    own, others = (
        [by_batch[name] for name in np.unique(farm.batch[which]).tolist() if name in by_batch]
        for which in (here, ~here)
    )
    return condition(own, others, level=level_for(places))


def is_seen(sign: str, beside: Condition | None) -> bool:
    """Whether a hatch is surely early, late or uneven."""
    if beside is None:
        return False
    return beside.is_less if sign == "early_hatch" else beside.is_more


def hour_facts(
    farm: Farm, sign: str, placed: Placed, level: str, places: int, counts: Mapping[str, HatchCounts]
) -> Facts | None:
    """The facts of a sign of the clock; None where it is not seen.

    The eggs that show it are chicks out before (or after) the hour at which half of the others' were out, for
    an uneven hatch those farther from their batch's middle than the others' spread.
    """
    beside = hours_beside(farm, sign, placed, level, places)
    if beside is None or beside.others is None or not is_seen(sign, beside):
        return None
    here = farm.labels(placed, sign) == level
    names = [name for name in np.unique(farm.batch[here]).tolist() if name in counts]
    seen = [_showing(sign, counts[name], farm.notes["hours"][name], beside.others) for name in names]
    chicks = [float(counts[name].chicks) for name in names]
    own = share_of(seen, chicks, np.array(names), ALIKE_HOURS)
    if own is None:
        return None
    conditions = conditions_of(farm, placed, level, here)
    own_word = conditions.pop(WORD_OF[sign], None)
    return Facts(
        sign=sign,
        placed=placed,
        level=level,
        own=own,
        comparisons=Comparisons(),
        conditions={**conditions, f"{OWN}{WORD_OF[sign]}": own_word or beside},
        places=places,
        is_apart=is_apart(farm, sign, placed, here),
    )


def _showing(sign: str, counts: HatchCounts, hours: float, others: float) -> float:
    """Chicks of one batch that show the sign; between two counts they are spread evenly."""
    taken_off = sum(storage_hours_a_day()) / 2 * counts.storage_days
    if sign == "uneven_hatch":
        middle = hours + taken_off
        return counts.chicks - _out_by(counts, middle + others) + _out_by(counts, middle - others)
    by_then = _out_by(counts, others + taken_off)
    return by_then if sign == "early_hatch" else counts.chicks - by_then


def _out_by(counts: HatchCounts, hour: float) -> float:
    last: Sequence[float] = (*counts.hours, counts.hours[-1] + 24.0)
    return float(np.interp(hour, (0.0, *last), (0, *counts.out, counts.chicks)))
