"""Farms as a further level: pens and machines belong to one farm each, and farms differ.

A farm's eggs never meet another farm's machines, so nothing tells whether all pens of a farm are worse, or
all its machines, or the farm. All three are the farm's: of its pens and machines only differences within it
are theirs. Where a farm's own pens and machines fall into islands, what lies between these is shared.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from analytics.attribution.layout import Factor, Flags, Floats, Ints
from analytics.attribution.separability import Meeting
from analytics.attribution.terms import Grouping, Labels, Terms, factor_of

FARM = "farm"
"""Name of the factor."""
FARMS = "farms"
"""Its group in the ledger."""


def with_farms(terms: Terms, farm: Labels, used: Flags) -> Terms:
    """The terms of a step with farms beside pens and machines.

    Args:
        terms: of trays whose pens and machines carry their farm in their labels.
        farm: the farm of each tray.
        used: trays with eggs, shape (trays,).
    """
    if len(np.unique(farm[used])) < 2:
        return replace(terms, left_out={**terms.left_out, FARM: "only one level has eggs"})
    groupings = (*terms.groupings, Grouping(FARMS, factor_of(FARM, farm)))
    return replace(terms, groupings=tuple(sorted(groupings, key=lambda each: each.factor.name)))


def farm_of(inner: Factor, farm: Factor) -> Ints:
    """The farm of each level of a factor that lies within farms, -1 = no tray."""
    found = np.full(len(inner.levels), -1, dtype=np.int64)
    both = (inner.codes >= 0) & (farm.codes >= 0)
    found[inner.codes[both]] = farm.codes[both]
    return found


def within_farms(meeting: Meeting, factors: Mapping[str, Factor]) -> bool:
    """Whether the islands of two factors lie within farms."""
    if FARM not in factors:
        return False
    for name, island in ((meeting.first, meeting.first_island), (meeting.second, meeting.second_island)):
        of = farm_of(factors[name], factors[FARM])
        for at in range(len(meeting.islands)):
            if len(np.unique(of[(island == at) & (of >= 0)])) > 1:
                return False
    return True


def islands_of_farms(
    meeting: Meeting, factors: Mapping[str, Factor], middles: Floats
) -> tuple[Floats, Floats]:
    """What of the islands' middles is their farm's.

    Args:
        meeting: of two factors within farms.
        factors: all, the farm's too.
        middles: draws x islands.

    Returns:
        each farm's typical middle, that of the median level of the first factor, draws x farms, and what is
        left of the islands' middles, draws x islands.
    """
    of = farm_of(factors[meeting.first], factors[FARM])
    farms = np.zeros((len(middles), len(factors[FARM].levels)))
    for at in range(farms.shape[1]):
        levels = meeting.first_island[(of == at) & (meeting.first_island >= 0)]
        if len(levels):
            farms[:, at] = np.median(middles[:, levels], axis=1)
    owner = np.array(
        [of[meeting.first_island == at][0] for at in range(len(meeting.islands))], dtype=np.int64
    )
    return farms, middles - farms[:, owner]
