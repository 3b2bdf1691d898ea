"""Which sires and dams can be told from their pens, which are one with them, and whose eggs are left out.

A parent is a term of the ledger where it, or one that it shared a pen with, stood in two pens or more. Where
the birds of one pen only followed one another, the pen with its birds is one: they are told from each other,
not from the pen, and only when asked for. As a term of the ledger they would hide what the pen itself loses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from analytics.attribution.separability import meet
from analytics.attribution.terms import factor_of
from analytics.breeders.fathers import Laid, Males, Stood, eggs_by_reason, fathers
from analytics.reference.fertile_period import FertilePeriod, fertile_period
from analytics.sheets.keys import normal_label
from analytics.store.birds import MalesWritten
from analytics.store.cells import Labels
from analytics.store.ladder import Days, Flags, LadderTrays
from analytics.studies.changes_events import events_of

PARENTS = ("sire", "dam")
NOT_CERTAIN = "not certain ("
"""Begins the name of the level of trays in a pen that have no certain parent while others have."""


@dataclass(frozen=True, slots=True)
class Camp:
    """Pens and the sires (or dams) that met only each other.

    Within a camp differences among its pens and among its birds are told. What all its pens and all its birds
    have in common is one number: of a camp of one pen and one bird, that is everything.

    Attributes:
        pens: labels.
        birds: labels.
    """

    pens: tuple[str, ...]
    birds: tuple[str, ...]

    @property
    def one_pen(self) -> bool:
        """Whether the birds stood in this pen only: each is told with it."""
        return len(self.pens) == 1

    @property
    def is_one(self) -> bool:
        """Whether pen and bird cannot be told apart at all."""
        return len(self.pens) == len(self.birds) == 1


@dataclass(frozen=True, slots=True)
class Parents:
    """Whose eggs they are.

    Attributes:
        known: "sire", "dam" -> the parent of each tray as far as certain, "" = not.
        apart: the same of those that can be told from their pens, as a term: `NOT_CERTAIN` begins the level
            of trays without a certain parent beside them; a parent that has none is not in it.
        within: the same with those that can be told from others of their one pen.
        camps: "sire", "dam" -> who met whom.
        couples: sire and dam that were only ever together in pens of theirs: the dam is one with the sire.
        why: why a tray's sire is left out, as `analytics.breeders.fathers` names it; "" = he is not.
        period: the days after a change of males in which a sire is open.
    """

    known: Mapping[str, Labels] = field(default_factory=dict)
    apart: Mapping[str, Labels] = field(default_factory=dict)
    within: Mapping[str, Labels] = field(default_factory=dict)
    camps: Mapping[str, tuple[Camp, ...]] = field(default_factory=dict)
    couples: tuple[tuple[str, str], ...] = ()
    why: Labels = field(default_factory=lambda: np.array([], dtype=str))
    period: FertilePeriod | None = None

    def terms(self, also: str = "") -> Mapping[str, Labels]:
        """The parents that are terms, of one of them also those told from others of their one pen."""
        asked = ("sire", also) if self.couples and also else (also,)
        return {**self.apart, **{one: self.within[one] for one in asked if one in self.within}}

    def told_apart(self, parent: str) -> tuple[str, ...]:
        """Birds that are told from their pens."""
        found = np.unique(self.apart[parent]).tolist() if parent in self.apart else []
        return tuple(bird for bird in found if bird and not bird.startswith(NOT_CERTAIN))

    def left_out(self, ladder: LadderTrays) -> Mapping[str, tuple[int, float]]:
        """Reason -> trays and eggs whose sire is left out, of those that are counted."""
        if not len(self.why):
            return {}
        return eggs_by_reason(self.why, ladder.numbers["eggs_set"], ladder.wanted)

    @property
    def all_one(self) -> tuple[str, ...]:
        """Parents of whom several are known, and none stood in two pens."""
        return tuple(one for one in self.known if one not in self.apart and len(self.camps[one]) > 1)

    @property
    def some_one(self) -> tuple[str, ...]:
        """Parents of whom some can be told from their pens and some cannot."""
        return tuple(one for one in self.apart if self.one_pens(one))

    def one_pens(self, parent: str) -> tuple[str, ...]:
        """Pens whose sires (or dams) stood nowhere else."""
        return tuple(camp.pens[0] for camp in self.camps.get(parent, ()) if camp.one_pen)

    def camp_of(self, parent: str, label: str) -> Camp | None:
        """The camp of a bird."""
        return next((camp for camp in self.camps.get(parent, ()) if label in camp.birds), None)

    def camp_with(self, parent: str, pen: str) -> Camp | None:
        """The camp that a pen is in."""
        return next((camp for camp in self.camps.get(parent, ()) if pen in camp.pens), None)


def with_fathers(
    ladder: LadderTrays, laid: tuple[Days, Days], written: MalesWritten, species: str
) -> tuple[LadderTrays, Labels]:
    """The trays with their sires as far as these are certain, and why the others are left out.

    Args:
        ladder: the trays.
        laid: first and last day of lay of each.
        written: what the sheets say of males.
        species: key; says how long eggs may still be a former male's.
    """
    males = _males(written, ladder.labels["sire"])
    if not males.stood and not (ladder.labels["sire"] != "").any():
        return ladder, np.full(len(ladder.eggs), "", dtype=str)
    days = Laid(ladder.labels["pen"], ladder.labels["sire"], *laid, ladder.set_on)
    sire, why = fathers(days, males, fertile_period(species).days)
    return _with_label(ladder, "sire", sire), why


def _with_label(ladder: LadderTrays, name: str, labels: Labels) -> LadderTrays:
    every = np.ones(len(labels), dtype=bool)
    found = ladder.kept(every)
    found.labels[name] = labels
    return found


def _males(written: MalesWritten, sires: Labels) -> Males:
    """Stays of males, changes of males without names, and pens of several; a male has one spelling."""
    spelled = {normal_label(label): label for label in np.unique(sires).tolist() if label}
    by_key = {normal_label(pen): pen for pen in written.kept}
    stood = tuple(
        Stood(one.pen, spelled.get(normal_label(one.bird), one.bird), one.start, one.end)
        for one in written.stood
    )
    swaps = tuple(
        (by_key[normal_label(pen)], event.first_day)
        for event in events_of(written.changes, (), written.arrivals)
        if event.kind == "male"
        for pen in event.targets
        if normal_label(pen) in by_key
    )
    several = frozenset(pen for pen, males in written.kept.items() if (males or 1) > 1)
    return Males(stood, swaps, several)


def parents_of(ladder: LadderTrays, why: Labels, species: str) -> Parents:
    """Who can be told from their pens.

    Args:
        ladder: from `with_fathers`.
        why: likewise.
        species: key.
    """
    pens = factor_of("pen", ladder.labels["pen"])
    known = {parent: ladder.labels[parent] for parent in PARENTS if (ladder.labels[parent] != "").any()}
    camps = {
        parent: tuple(
            Camp(island.first, island.second)
            for island in meet(pens, factor_of(parent, labels), ladder.eggs > 0).islands
        )
        for parent, labels in known.items()
    }
    within: dict[str, Labels] = {}
    couples: tuple[tuple[str, str], ...] = ()
    for parent, labels in known.items():
        within[parent] = _without(labels, [camp.birds[0] for camp in camps[parent] if camp.is_one])
    if len(within) == len(PARENTS):
        couples = _couples(within["sire"], within["dam"], ladder.eggs > 0)
        within["dam"] = _without(within["dam"], [dam for _, dam in couples])
    apart = {
        parent: _without(labels, [bird for camp in camps[parent] if camp.one_pen for bird in camp.birds])
        for parent, labels in within.items()
    }
    label = ladder.labels["pen"]
    return Parents(
        known, _filled(apart, label), _filled(within, label), camps, couples, why, fertile_period(species)
    )


def _filled(parents: Mapping[str, Labels], pen: Labels) -> dict[str, Labels]:
    """Terms: where a tray of a pen has no certain parent and others have, the pen's open one is a level.

    Left blank, such trays would be taken for eggs of a middling bird, and would settle by that assumption
    what of a loss is the pen's and what its birds'.
    """
    found = {}
    for parent, labels in parents.items():
        open_ = (labels == "") & np.isin(pen, np.unique(pen[labels != ""]))
        if (labels != "").any():
            found[parent] = np.where(open_, np.char.add(np.char.add(NOT_CERTAIN, pen), ")"), labels)
    return found


def _without(labels: Labels, birds: Sequence[str]) -> Labels:
    return np.where(np.isin(labels, list(birds)), "", labels)


def _couples(sire: Labels, dam: Labels, used: Flags) -> tuple[tuple[str, str], ...]:
    """Sires and dams that were only ever with each other."""
    islands = meet(factor_of("sire", sire), factor_of("dam", dam), used).islands
    return tuple(
        (island.first[0], island.second[0])
        for island in islands
        if len(island.first) == len(island.second) == 1
    )
