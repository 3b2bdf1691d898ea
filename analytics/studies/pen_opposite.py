"""Whether a pen would stand out even if its clear eggs were the opposite of everybody else's."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from analytics.comparisons.standing_out import stand_out
from analytics.studies.pen_data import PenData, taken
from analytics.studies.pen_judging import judged

_NOTHING = 1e-9


def stands_opposite(data: PenData, pen: str, *, below: bool, low_is_poor: bool) -> bool:
    """Takes the pen's clear eggs as what makes the difference least, and the others' the other way.

    The tests of the answer take all clear eggs alike, at two ends; this is the end hardest on a finding.

    Args:
        data: the trays, with two ends.
        pen: who stands out, a pen or a line.
        below: whether it stands below the others.
        low_is_poor: whether a low rate of this measure is the poor one.
    """
    ends, own = data.ends(), data.label == pen
    rates = [float(passed[own].sum()) / max(float(eggs[own].sum()), _NOTHING) for passed, eggs in ends]
    kind = rates.index(max(rates) if below else min(rates))
    passed, eggs = (
        np.where(own, mine, theirs) for mine, theirs in zip(ends[kind], ends[1 - kind], strict=True)
    )
    kept = eggs > _NOTHING
    settled = replace(data.cells, passed=passed, eggs=eggs, clear=np.zeros(len(eggs)))
    found = judged(replace(data, cells=taken(settled, kept), label=data.label[kept]))
    if not found.judges:
        return False
    labels = [str(label) for label in found.judges[0].labels]
    return any(
        labels[one.pen] == pen and (one.contrasts[0].estimate < 0) == below
        for one in stand_out(found.judges, low_is_poor)
    )
