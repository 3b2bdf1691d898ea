"""The trays that the question of losses learns from, and those of them whose losses are counted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import numpy as np

from analytics.attribution.terms import Trays
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.reference.marks import usual_mark
from analytics.store.birds import males_written
from analytics.store.cells import Labels
from analytics.store.changes_dated import laying_days
from analytics.store.counts import breeder_targets, counting
from analytics.store.ladder import Asked, Flags, LadderTrays, asked_for, ladder_trays
from analytics.studies.causes_records import Mark, Scope
from analytics.studies.parents import Parents, parents_of, with_fathers
from analytics.studies.wording import counted, percent, species_words
from analytics.values import Period

MOST_TRAYS = 4000
"""Trays that are learnt from: the latest months that hold no more. Bounds the time of an answer."""
FEW_STAGED = 0.5
"""Below this share of the eggs whose hatch is known, too few steps are written down to be told apart."""


@dataclass(frozen=True, slots=True)
class LossData:
    """One species.

    Attributes:
        asked: what the selection holds.
        ladder: trays that are learnt from; `wanted` are counted.
        older: trays of earlier months that are not learnt from.
        older_wanted: those among them that the selection asks for, and the eggs set in them.
        mark: what chicks are held against.
        parents: whose eggs they are.
    """

    asked: Asked
    ladder: LadderTrays
    older: int
    older_wanted: tuple[int, int]
    mark: Mark
    parents: Parents = field(default_factory=Parents)

    @property
    def month(self) -> Labels:
        """Month of hatch of each tray, YYYY-MM."""
        return self.ladder.hatch_on.astype("datetime64[M]").astype(str)

    def months(self, *, counted: bool = False) -> tuple[str, str]:
        """First and last month of all trays, or of those counted."""
        found = self.ladder.hatch_on[self.ladder.wanted | (not counted)].astype("datetime64[M]")
        return str(found.min()), str(found.max())

    def trays(self, also: str = "") -> Trays:
        """The trays as the ledger takes them.

        Args:
            also: "sire" or "dam": those too that can only be told from others of their one pen.
        """
        ladder, label = self.ladder, self.ladder.labels
        return Trays(
            steps=ladder.steps,
            eggs=ladder.eggs,
            passed=ladder.passed,
            pen=label["pen"],
            setter=label["setter"],
            hatcher=label["hatcher"],
            batch=label["batch"],
            month=self.month,
            storage_days=ladder.numbers["storage_days"],
            hen_weeks=ladder.numbers["hen_weeks"],
            diets=ladder.diets,
            parents=self.parents.terms(also),
        )

    def scope(self, which: Flags, left_out: tuple[int, int] = (0, 0)) -> Scope:
        """What some of the trays are."""
        ladder = self.ladder
        days = ladder.hatch_on[which]
        first, last = days.min().astype(date), days.max().astype(date)
        return Scope(
            first_day=first,
            last_day=last,
            trays=int(which.sum()),
            batches=len(np.unique(ladder.labels["batch"][which])),
            pens=len(np.unique(ladder.labels["pen"][which])),
            eggs=float(ladder.eggs[which].sum()),
            hatched=float(ladder.passed[which, -1].sum()),
            left_out=left_out[0],
            left_out_eggs=left_out[1],
            cracked=float((ladder.numbers["eggs_set"] - ladder.eggs)[which].sum()),
        )

    def counted(self) -> Scope:
        """The trays whose losses are counted; those too old to be learnt from are not among the left out."""
        wanted = self.ladder.wanted
        eggs = round(float(self.ladder.numbers["eggs_set"][wanted].sum()))
        trays = self.asked.trays - int(wanted.sum()) - self.older_wanted[0]
        return self.scope(wanted, (trays, self.asked.eggs_set - eggs - self.older_wanted[1]))


def loss_data(store: Path, selection: Selection, target: float | None) -> tuple[LossData, ...]:
    """Asks the store, species by species, the one with most eggs first.

    Learnt from are all closed batches of the species up to the end of the period, whatever the other filters.

    Args:
        store: the store's file.
        selection: the filters: what is counted.
        target: chicks per egg, or None for the breeder's own aim, else the rule of thumb.

    Raises:
        DataTooThin: the selection has no closed tray.
        as `counting`.
    """
    with counting(store, selection) as connection:
        asked, aims = asked_for(connection), breeder_targets(connection)
        if not asked:
            raise DataTooThin(
                "No closed batch of this selection has a tray",
                "Losses are counted in batches that hatched",
                "Widen the days, pens or machines asked for",
            )
        written, found = males_written(connection), []
        for one in asked:
            wide = Selection(Period(None, selection.period.end), (one.species,))
            ladder = ladder_trays(connection, wide, "staged")
            if _told(ladder, one) < FEW_STAGED:
                ladder = ladder_trays(connection, wide, "hatch")
            mark = mark_of(one.species, target, aims.get(one.species, {}))
            laid = laying_days(connection, ladder)
            found.append(_of_species(one, *with_fathers(ladder, laid, written, one.species), mark))
        return tuple(found)


def _told(ladder: LadderTrays, asked: Asked) -> float:
    """Share of the eggs whose hatch is known that are in the ladder."""
    told = float(ladder.numbers["eggs_set"][ladder.wanted].sum())
    return told / asked.hatch_known if asked.hatch_known else 1.0


def mark_of(species: str, target: float | None, aims: Mapping[str, float]) -> Mark:
    """What chicks are held against: what was given, else the breeder's own aim, else the rule of thumb."""
    if target is not None:
        return Mark(target, "given", "one that you gave")
    if "hatch_of_set" in aims:
        return Mark(aims["hatch_of_set"], "own", "your own aim in the sheet targets")
    usual = usual_mark(species)
    words = (
        f"a rule of thumb without a source, {percent(usual.hatch_of_set)} % of set: no aim for "
        f"{species_words(species)} is written into the sheet targets"
    )
    return Mark(usual.hatch_of_set, "rule", words)


def _of_species(asked: Asked, ladder: LadderTrays, why: Labels, mark: Mark) -> LossData:
    month = ladder.hatch_on.astype("datetime64[M]")
    late = month >= _first_month(month)
    older = int((~late).sum())
    lost = ~late & ladder.wanted
    older_wanted = int(lost.sum()), round(float(ladder.numbers["eggs_set"][lost].sum()))
    kept = ladder.kept(late)
    parents = parents_of(kept, why[late], asked.species)
    return LossData(asked, kept, older, older_wanted, mark, parents)


def _first_month(month: np.ndarray) -> np.datetime64:
    """The first of the latest months that hold no more trays than are learnt from; at least one month."""
    if not len(month):
        return np.datetime64("1970-01")
    months, trays = np.unique(month, return_counts=True)
    fits = np.cumsum(trays[::-1]) <= MOST_TRAYS
    first: np.datetime64 = months[::-1][max(int(fits.sum()), 1) - 1]
    return first


def why_no_answer(data: LossData) -> str:
    """Why a species allows no answer, as a sentence; "" where it does."""
    ladder, name = data.ladder, species_words(data.asked.species)
    if not ladder.wanted.any():
        if data.older_wanted[0]:
            return f"The {name} trays asked for are older than those that can be learnt from."
        trays = counted(data.asked.trays, "tray")
        return f"Of {trays} of {name} none says what became of its eggs: write that into the sheet trays."
    eggs, chicks = float(ladder.eggs.sum()), float(ladder.passed[:, -1].sum())
    if len(np.unique(ladder.labels["batch"])) < 2:
        return (
            f"Only one batch of {name} has hatched: it cannot tell pens and machine from chance. "
            "A second batch is needed, better several."
        )
    if chicks >= eggs - 1e-9:
        return f"All {eggs:,.0f} eggs of {name} hatched: there is no loss to share out."
    if chicks <= 1e-9:
        return (
            f"None of the {eggs:,.0f} eggs of {name} hatched: nothing sets one pen or machine apart from "
            "another. Look at what they have in common first: temperature, storage, the males."
        )
    return ""
