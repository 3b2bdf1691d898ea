"""Shells, water and eggs that die late: one pen beside the others of its batches, one machine beside others.

A pen that loses little water where other pens of the same machine lose the usual may have shells that let
little through; a machine in which each pen loses less than elsewhere may be too humid. A shell too
hard to leave is only a hypothesis: thick shells measured, little water lost, and more late or pipped losses
than other pens of the same batches.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from analytics.incubation.signs_conditions import NO_RANGE, condition, paired
from analytics.incubation.signs_farm import (
    FED,
    Farm,
    Flags,
    Floats,
    batch_means,
    conditions_of,
    day_means,
    is_apart,
    usual_of,
)
from analytics.incubation.signs_records import Condition, Placed, Share
from analytics.incubation.signs_shares import FEWEST_SEEN, level_for, stands_above

LOSSES = ("dead_late", "pipped")
Samples = Mapping[str, Mapping[str, float]]
"""Pen -> day -> mean of the sample."""


@dataclass(frozen=True, slots=True)
class PenShells:
    """One pen on one feed, beside the other pens of the same batches on the usual feed; None = not recorded.

    Attributes:
        pen: label.
        feed: what its feed has beyond the usual one, "" for the usual one.
        thickness: mm, beside samples of the same days.
        gravity: specific gravity, likewise.
        water: share of the weight lost by the move, beside the same batches.
        late: eggs dead late, and those of the others.
        pipped: eggs pipped and not out, and those of the others.
    """

    pen: str
    feed: str
    thickness: Condition | None
    gravity: Condition | None
    water: Condition | None
    late: tuple[Share, Share] | None
    pipped: tuple[Share, Share] | None

    @property
    def conditions(self) -> tuple[bool | None, bool | None, bool | None]:
        """Whether shells are thick, little water is lost, more eggs die late or pipped; None = not known."""
        pairs = [pair for pair in (self.late, self.pipped) if pair]
        more = any(own.seen >= FEWEST_SEEN and stands_above(own, other) for own, other in pairs)
        thick, water = self.thickness, self.water
        return (
            thick.is_more if thick and thick.low is not None else None,
            water.is_less if water and water.low is not None else None,
            more if pairs else None,
        )

    @property
    def may_be_too_hard(self) -> bool:
        """Whether all conditions of the hypothesis are met."""
        return all(one is True for one in self.conditions)


@dataclass(frozen=True, slots=True)
class MachineWater:
    """A machine's water loss beside the other machines'; None = not recorded.

    Attributes:
        incubator: label.
        water: share of the weight lost by the move, a value a batch.
        apart: the same where it surely differs, as `machines_apart` has it; else None.
        against: labels of the machines that this was held against.
        humidity: humidity in the setter, %, likewise.
        pens: labels of the pens whose eggs were in it.
        is_apart: whether these pens also had eggs in other machines.
    """

    incubator: str
    water: Condition | None
    apart: Condition | None
    against: tuple[str, ...]
    humidity: Condition | None
    pens: tuple[str, ...]
    is_apart: bool


def pen_shells(farm: Farm, gravity: Samples) -> tuple[PenShells, ...]:
    """Every pen on every feed it had, by label, the usual feed first.

    Args:
        farm: the trays.
        gravity: specific gravity.
    """
    return tuple(_row(farm, gravity, pen, feed, own) for pen, feed, own in _stays(farm))


def _stays(farm: Farm) -> Iterator[tuple[str, str, Flags]]:
    on_any = np.zeros(len(farm.pen), bool)
    for share in farm.feeds.values():
        on_any |= share > FED
    for pen in np.unique(farm.pen).tolist():
        here = farm.pen == pen
        if (here & ~on_any).any():
            yield pen, "", here & ~on_any
        for feed, share in farm.feeds.items():
            if (here & (share > FED)).any():
                yield pen, feed, here & (share > FED)


def _row(farm: Farm, gravity: Samples, pen: str, feed: str, own: Flags) -> PenShells:
    part = farm.kept(own | _usual_others(farm, pen))
    conditions = conditions_of(part, Placed.PEN, pen, part.pen == pen)
    return PenShells(
        pen=pen,
        feed=feed,
        thickness=_of_samples(farm, farm.shells, pen, feed),
        gravity=_of_samples(farm, gravity, pen, feed),
        water=conditions.get("water_loss"),
        late=_pair(part, "dead_late", pen),
        pipped=_pair(part, "pipped", pen),
    )


def _of_samples(farm: Farm, samples: Samples, pen: str, feed: str) -> Condition | None:
    """A pen's samples of its days on a feed, beside those of other pens on the usual feed."""
    usual = {name: _on_feed(farm, samples, name, "") for name in samples}
    own = _on_feed(farm, samples, pen, feed)
    return paired(own, day_means(usual, pen)) if own else None


def _on_feed(farm: Farm, samples: Samples, pen: str, feed: str) -> dict[str, float]:
    """Samples of the days from a pen's first to its last setting on a feed; others are of the usual one."""
    fed = {
        name: farm.set_day[(farm.pen == pen) & (share > FED)]
        for name, share in farm.feeds.items()
        if ((farm.pen == pen) & (share > FED)).any()
    }

    def feed_of(day: str) -> str:
        number = float(np.datetime64(day, "D").astype(int))
        return next((name for name, days in fed.items() if days.min() <= number <= days.max()), "")

    return {day: value for day, value in samples.get(pen, {}).items() if feed_of(day) == feed}


def _pair(farm: Farm, sign: str, pen: str) -> tuple[Share, Share] | None:
    if sign not in farm.signs:
        return None
    own, others = farm.share(sign, farm.pen == pen), usual_of(farm, sign, Placed.PEN, pen)
    return (own, others) if own and others else None


def pens_apart(farm: Farm) -> tuple[tuple[str, str, Condition], ...]:
    """Pens that surely lose less or more water than other pens of the same batches, the farthest first.

    Each is set aside before the others are looked at again, so that one pen does not make its fellows differ;
    the level is raised with the number of pens and feeds.

    Returns:
        Pen, its feed as in `PenShells`, and its water beside the others' without those named before.
    """
    left = farm
    level = level_for(len(list(_stays(farm))))
    found: list[tuple[str, str, Condition]] = []
    while True:
        sure = [
            (pen, feed, known, own)
            for pen, feed, own in _stays(left)
            for known in (_water(left, pen, own, level),)
            if known is not None and (known.is_less or known.is_more)
        ]
        if not sure:
            return tuple(found)
        pen, feed, known, own = max(sure, key=lambda one: abs(one[2].own - (one[2].others or 0.0)))
        found.append((pen, feed, known))
        left = left.kept(~own)


def _water(farm: Farm, pen: str, own: Flags, level: float) -> Condition | None:
    values = farm.numbers["water_loss"]
    return paired(
        batch_means(farm, values, own), batch_means(farm, values, _usual_others(farm, pen)), level=level
    )


def _usual_others(farm: Farm, pen: str) -> Flags:
    """Other pens' trays on the usual feed."""
    others: Flags = farm.pen != pen
    for share in farm.feeds.values():
        others &= share <= FED
    return others


def machine_water(farm: Farm) -> tuple[MachineWater, ...]:
    """Every setter, by label."""
    found = []
    sure = machines_apart(farm)
    for name in np.unique(farm.setter).tolist():
        here = farm.setter == name
        known = conditions_of(farm, Placed.INCUBATOR, name, here)
        pens = tuple(np.unique(farm.pen[here]).tolist())
        apart = is_apart(farm, "dead_mid", Placed.INCUBATOR, here)
        water, against = sure.get(name, (None, ()))
        found.append(
            MachineWater(name, known.get("water_loss"), water, against, known.get("setter_rh"), pens, apart)
        )
    return tuple(found)


def machines_apart(farm: Farm) -> dict[str, tuple[Condition, tuple[str, ...]]]:
    """Machines whose eggs surely lose less or more water than the others', each pen beside itself.

    Each is set aside before the others are looked at again, the farthest first; the level is raised with the
    number of machines. Of two machines alone the first by label stands for the difference of both. A machine
    whose pens were nowhere else is held against all others as they are.

    Returns:
        Machine -> its water beside the others', both with the pens' means taken off and that of all put on;
        and the machines that it was held against.
    """
    left = farm
    found: dict[str, tuple[Condition, tuple[str, ...]]] = {}
    level = level_for(len(np.unique(farm.setter)))
    while True:
        sure = {
            name: known
            for name in np.unique(left.setter).tolist()
            for known in (_machine_beside(left, name, level),)
            if known is not None and (known.is_less or known.is_more)
        }
        if not sure:
            return found
        far = max(sure, key=lambda name: round(abs(sure[name].own - (sure[name].others or 0.0)), 9))
        left, known = left.kept(left.setter != far), sure[far]
        weighed = np.isfinite(left.numbers["water_loss"])
        found[far] = known, tuple(np.unique(left.setter[weighed]).tolist())


def _machine_beside(farm: Farm, name: str, level: float) -> Condition | None:
    here = farm.setter == name
    values = farm.numbers["water_loss"]
    if is_apart(farm, "dead_mid", Placed.INCUBATOR, here):
        values = _within_pens(farm, values)
    own, others = batch_means(farm, values, here), batch_means(farm, values, ~here)
    kind = farm.ranges.get(name, {}).get("water_loss", NO_RANGE)
    return condition(list(own.values()), list(others.values()), kind, level)


def _within_pens(farm: Farm, values: Floats) -> Floats:
    """Values with the pen's mean taken off and that of all put on; NaN for pens of one machine only."""
    found = np.full(len(values), np.nan)
    known = np.isfinite(values)
    for pen in np.unique(farm.pen[known]):
        own = known & (farm.pen == pen)
        if len(np.unique(farm.setter[own])) > 1:
            found[own] = values[own] - values[own].mean() + values[known].mean()
    return found
