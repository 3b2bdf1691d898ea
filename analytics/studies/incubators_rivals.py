"""What else than temperature moves a hatch, and what these records say of it; looked at before `cool`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import mean, variance

from analytics.measures.intervals import LEVEL, t_quantile
from analytics.reference.hatch_shifts import storage_hours_a_day
from analytics.reference.signs import CandidateCause, causes_of
from analytics.reference.sources import Status, source_table
from analytics.store.timing import CountedBatch
from analytics.studies.incubators_records import Rival, Says
from analytics.studies.wording import counted, listed
from analytics.values import label_order

TEMPERATURE = ("too warm", "too cool", "far too hot")
"""Causes in the table of signs that are the question itself."""
STORED, LARGE, RELATED, SMALL, COLD, HIGH, CUTS = (
    "stored long",
    "large eggs, or eggs of old hens",
    "related parents",
    "small eggs",
    "cold eggs when set, or a machine slow to warm up",
    "high ground, thin air",
    "power cuts",
)
"""Causes in the table of signs for which the records can say something, or cannot by their nature."""
STORED_SHORT = "stored shorter"
OWN_ADVICE = "our own advice"
_HOUR = 1.0
_PART = 0.25
"""Part of the hours, or of the batches, from which a cause counts as spoken for (our own choice)."""
_SHARED = 0.5
"""Part of the batches that must share pens with the others to speak against the pens (our own choice)."""


@dataclass(frozen=True, slots=True)
class Sides:
    """Batches that hatched apart, and those they are held against.

    Attributes:
        these: the former.
        those: the latter.
        hours: by how much the former were late, or early (negative).
        own_months: whether the latter are of the same machine.
        cut: how many of the former lived through a power cut that is written down, or None where nothing that
            happened to the machine is.
    """

    these: Sequence[CountedBatch]
    those: Sequence[CountedBatch]
    hours: float
    own_months: bool
    cut: int | None

    @property
    def late(self) -> bool:
        """Whether the former were late."""
        return self.hours > 0


def rivals(sides: Sides) -> tuple[Rival, ...]:
    """The rivals of a warm or cool machine, in the order in which to look; the pens before all others."""
    found = [_pens(sides)] if sides.those else []
    if not sides.late:
        says, sentence = _storage(sides)
        source = _sources(causes_of("late_hatch")[0])
        found.append(Rival(STORED_SHORT, says, sentence, "Compare trays by days stored", source))
    causes = [row for row in causes_of(_SIGN[sides.late]) if row.cause not in TEMPERATURE]
    return (*found, *(_rival(row, sides) for row in causes))


def _pens(sides: Sides) -> Rival:
    """Whether the same pens' eggs stand on the other side: without them pen and machine are one."""
    those = {pen for one in sides.those for pen in one.traits.pens}
    here = sorted({pen for one in sides.these for pen in one.traits.pens}, key=label_order)
    shared = sum(not those.isdisjoint(one.traits.pens) for one in sides.these)
    cause = f"pens that hatch {'late' if sides.late else 'early'} by themselves"
    check = "Set eggs of the same pen in two machines on one day"
    where = "at another time" if sides.own_months else "in another machine"
    if not shared:
        said = f"No eggs of {listed(here)} were counted {where}: pen and machine cannot be told apart."
        return Rival(cause, "not_recorded", said, check, OWN_ADVICE)
    batches = counted(len(sides.these), "batch", "batches")
    said = f"{shared} of {batches} held eggs of pens that were counted {where} too"
    if shared < _SHARED * len(sides.these):
        said = f"Only {said}: too few to tell pen and machine apart."
        return Rival(cause, "not_recorded", said, check, OWN_ADVICE)
    return Rival(cause, "against", f"{said}.", check, OWN_ADVICE)


_SIGN = {True: "late_hatch", False: "early_hatch"}


def _rival(row: CandidateCause, sides: Sides) -> Rival:
    says, sentence = _TOLD[row.cause](sides) if row.cause in _TOLD else _not_told(sides)
    return Rival(row.cause, says, sentence, row.next_check, _sources(row))


def _sources(row: CandidateCause) -> str:
    if row.status is Status.MEMORY:
        return "common practice, no source"
    return "; ".join(source_table()[one].words() for one in row.source_ids)


def _storage(sides: Sides) -> tuple[Says, str]:
    these, those = (_told(side, lambda one: one.traits.storage_days) for side in (sides.these, sides.those))
    if not these or not those:
        return "not_recorded", "Days of storage are not recorded."
    days = mean(these) - mean(those)
    least, most = sorted(abs(days) * rate for rate in storage_hours_a_day())
    apart = f"Stored {mean(these):.1f} days, {_them(sides)} {mean(those):.1f}"
    if (days > 0) is not sides.late or most < _HOUR:
        return "against", f"{apart}: that does not make it {'late' if sides.late else 'early'}."
    says: Says = "for" if most >= _PART * abs(sides.hours) else "against"
    return says, f"{apart}: that makes {least:.0f} to {most:.0f} of the hours, which allow for it already."


def _weight(sides: Sides) -> tuple[Says, str]:
    return _compared(
        sides, lambda one: one.traits.egg_g, "Eggs weighed {:.1f} g, {} {:.1f}", "Weights of eggs"
    )


def _weight_or_age(sides: Sides) -> tuple[Says, str]:
    says, weighed = _weight(sides)
    older, aged = _compared(
        sides, lambda one: one.traits.hen_weeks, "Hens were {:.0f} weeks old, {} {:.0f}", "Ages of hens"
    )
    both: tuple[Says, Says] = (says, older)
    order: tuple[Says, ...] = ("for", "against", "not_recorded")
    return next(one for one in order if one in both), f"{weighed} {aged}"


def _compared(
    sides: Sides, number: Callable[[CountedBatch], float | None], words: str, name: str
) -> tuple[Says, str]:
    """Whether the batches differ the way that would explain it, by more than chance."""
    these, those = _told(sides.these, number), _told(sides.those, number)
    if not these or not those:
        return "not_recorded", f"{name} are not recorded."
    apart = words.format(mean(these), _them(sides), mean(those))
    if len(these) < 2 or len(those) < 2:
        return "not_recorded", f"{apart}: too few batches to compare."
    error = (variance(these) / len(these) + variance(those) / len(those)) ** 0.5
    half = t_quantile(LEVEL, min(len(these), len(those)) - 1) * error
    if words.format(0, "", mean(these)) == words.format(0, "", mean(those)):
        return "against", f"{apart}: alike."
    beyond = (mean(these) - mean(those)) * (1 if sides.late else -1)
    if beyond > max(half, 0.0):
        return "for", f"{apart}: more than chance."
    return "against", f"{apart}: no more than chance." if beyond > 0 else f"{apart}: the other way."


def _cuts(sides: Sides) -> tuple[Says, str]:
    if sides.cut is None:
        return "not_recorded", "Nothing that happened to this machine is written down."
    if not sides.cut:
        return "against", "No power cut is written down while these eggs were in."
    said = f"{sides.cut} of {counted(len(sides.these), 'batch', 'batches')} lived through a power cut"
    return ("for" if sides.cut >= _PART * len(sides.these) else "against"), f"{said} that is written down."


def _ground(_: Sides) -> tuple[Says, str]:
    return "not_recorded", "How high a machine stands is not recorded; machines of one house have it alike."


def _not_told(sides: Sides) -> tuple[Says, str]:
    return "not_recorded", "The record sheets have no place for it."


def _kinship(sides: Sides) -> tuple[Says, str]:
    return "not_recorded", "Kinship is not looked at here; a machine that holds the same pens has it alike."


_TOLD: dict[str, Callable[[Sides], tuple[Says, str]]] = {
    STORED: _storage,
    LARGE: _weight_or_age,
    RELATED: _kinship,
    SMALL: _weight,
    HIGH: _ground,
    CUTS: _cuts,
}


def _told(side: Sequence[CountedBatch], number: Callable[[CountedBatch], float | None]) -> list[float]:
    return [value for one in side if (value := number(one)) is not None]


def _them(sides: Sides) -> str:
    return "its other batches" if sides.own_months else "the others"
