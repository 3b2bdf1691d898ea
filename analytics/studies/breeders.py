"""Which breeders to keep, watch or replace."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from pathlib import Path

import numpy as np

from analytics.attribution.ledger import account, check_eggs, check_target
from analytics.attribution.terms import Terms
from analytics.breeders.ranking import CostRule, Standing, check_costs, eggs_to_know, own_rates, rank
from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.store.lay import Laid, laid
from analytics.studies.breeders_made import Made, made_of, pen_in
from analytics.studies.breeders_records import BreederRow, Breeders, BreedersAnswer
from analytics.studies.breeders_words import (
    alone_words,
    beside_words,
    how_words,
    notes_words,
    parents_told,
    sentence_words,
    together_words,
    why_words,
)
from analytics.studies.causes_data import LossData, loss_data, why_no_answer
from analytics.studies.causes_records import NoAnswer
from analytics.studies.kinship import young_of
from analytics.studies.ledger_drawn import Kept

BY = ("pen", "sire", "dam")
NOBODY = np.array([], dtype=str)
MONTHS = 6
"""Latest months whose eggs count unless days are asked for: breeders are kept for what they are now."""
LAID_BEFORE = timedelta(days=30)
"""Laying counts from so long before the first hatch on: about storage and incubation."""


def breeders(
    store: Path,
    selection: Selection,
    *,
    by: str = "pen",
    target: float | None = None,
    rule: CostRule | None = None,
    kept: Kept | None = None,
) -> Breeders:
    """Ranks pens, sires or dams, species by species, and says what to do with each.

    Pens and machines are learnt from all closed batches up to the end of the period; counted are the eggs of
    the selection, of its latest six months where it has no first day.

    Args:
        store: the store's file.
        selection: the filters; pens only say which rows are shown.
        by: pen, sire or dam.
        target: chicks per egg set that each is held against, 0..1; None = the others' median.
        rule: the costs; None = the usual ones.
        kept: what was learnt for other questions of the same review.

    Raises:
        WrongUsage: an unknown `by`, a target outside 0..1, costs that are none, a filter that names nothing.
        DataTooThin: no species allows an answer; says why.
        StoreError and its kinds: as `reading`.
    """
    rule = rule or CostRule()
    check_costs(rule)
    if by not in BY:
        raise WrongUsage(f"By {by!r}", f"Breeders are ranked by {', '.join(BY)}")
    if target is not None:
        check_target(target)
    answers, without = [], []
    for data in loss_data(store, replace(selection, pens=()), None):
        why = why_no_answer(data)
        if not why:
            try:
                answers.append(_answer(store, data, selection, by, target, rule, kept or Kept()))
            except DataTooThin as error:
                why = error.sentence()
        if why:
            without.append(NoAnswer(data.asked.species, why))
    if not answers:
        raise DataTooThin(without[0].why, " ".join(one.why for one in without[1:]))
    return Breeders(by, selection, target, rule, tuple(answers), tuple(without))


def _answer(
    store: Path,
    data: LossData,
    selection: Selection,
    by: str,
    target: float | None,
    rule: CostRule,
    kept: Kept,
) -> BreedersAnswer:
    if by != "pen" and len(np.unique(data.parents.known.get(by, NOBODY))) < 2:
        raise DataTooThin(
            f"Fewer than two {by}s are written down with the trays",
            f"A {by} is ranked from trays that name it",
            f"Fill in the column {by} of the sheet trays",
        )
    data = _latest(data) if selection.period.start is None else data
    trays, counted = data.trays("" if by == "pen" else by), data.ladder.wanted
    check_eggs(trays)
    learnt = kept.drawn(trays)
    terms, drawn, judged = learnt.terms, learnt.draws, learnt.judged
    made = made_of(data, by)
    own = own_rates(
        account(trays, data.mark.rate, terms, drawn, counted),
        {name: one.eggs for name, one in made.items()},
        {name: one.chicks for name, one in made.items()},
        by,
        {name: one.parts for name, one in made.items()},
    )
    scope = data.counted()
    ground = _Ground(
        by=by,
        made=made,
        lay=laid(store, scope.first_day - LAID_BEFORE, scope.last_day),
        homes=_homes(terms),
        alone=_alone(terms),
        young=young_of(store, by, scope.last_day),
    )
    rows = [_row(one, own.lost_of(one.name), ground, target) for one in rank(own, rule, target)]
    return BreedersAnswer(
        species=data.asked.species,
        rows=_shown(rows, selection.pens) if by == "pen" else tuple(rows),
        typical=float(own.typical.mean()),
        counted=scope,
        sentence=sentence_words(rows, by, scope, beside_words(target)),
        notes=notes_words(data, by, ground.homes, judged.doubts),
        how=how_words(rule, target, by),
        parents=parents_told(data),
    )


@dataclass(frozen=True, slots=True)
class _Ground:
    """What a row needs besides its standing.

    Attributes:
        by: pen, sire or dam.
        made: label -> what each is made of.
        lay: pen -> what it laid.
        homes: pens outside the largest camp of pens and machines -> the machines of theirs.
        alone: pens that met no other in any machine.
        young: label -> expected inbreeding of the chicks.
    """

    by: str
    made: Mapping[str, Made]
    lay: Mapping[str, Laid]
    homes: Mapping[str, tuple[str, ...]]
    alone: frozenset[str]
    young: Mapping[str, float]


def _latest(data: LossData) -> LossData:
    """The same, counting only the latest months of hatch."""
    ladder = data.ladder
    month = ladder.hatch_on.astype("datetime64[M]")
    recent = ladder.wanted & (month > month[ladder.wanted].max() - MONTHS)
    older = ladder.wanted & ~recent
    trays, eggs = int(older.sum()), round(float(ladder.numbers["eggs_set"][older].sum()))
    known = data.older_wanted
    return replace(
        data, ladder=replace(ladder, wanted=recent), older_wanted=(known[0] + trays, known[1] + eggs)
    )


def _homes(terms: list[Terms]) -> dict[str, tuple[str, ...]]:
    """Pens outside the largest camp of pens and machines -> the machines of theirs."""
    for term in terms:
        for meeting in term.apart:
            if meeting.first == "pen":
                camps = sorted(meeting.islands, key=lambda island: -len(island.first))
                return {pen: island.second for island in camps[1:] for pen in island.first}
    return {}


def _alone(terms: list[Terms]) -> frozenset[str]:
    """Pens that met no other pen in any machine: nothing is known of them that is not their machine's."""
    return frozenset(
        island.first[0]
        for term in terms
        for meeting in term.apart
        if meeting.first == "pen"
        for island in meeting.islands
        if len(island.first) == 1
    )


def _row(one: Standing, lost: dict[str, float], ground: _Ground, target: float | None) -> BreederRow:
    made = ground.made[one.name]
    pen = made.pens[0] if len(made.pens) == 1 and (ground.by == "pen" or pen_in(made)) else ""
    laying = ground.lay[pen].per_hen_month if pen in ground.lay else None
    home, is_alone = ground.homes.get(pen, ()), pen in ground.alone
    if is_alone:
        one = replace(one, advice="too_few_eggs")
    why = alone_words(home) if is_alone else why_words(one, lost, home, beside_words(target))
    together = "" if ground.by == "pen" else together_words(one.name, ground.by, made)
    return BreederRow(
        standing=one,
        lost=lost,
        chicks_per_hen_month=None if laying is None else laying * one.rate,
        inbreeding=ground.young.get(one.name),
        eggs_to_know=eggs_to_know(one) if one.advice == "too_few_eggs" and not is_alone else None,
        why=f"{why} {together}".strip(),
        is_alone=is_alone,
        pens=made.pens,
        one_with=made.one_with,
    )


def _shown(rows: list[BreederRow], pens: tuple[str, ...]) -> tuple[BreederRow, ...]:
    wanted = {pen.strip().casefold() for pen in pens}
    return tuple(row for row in rows if not wanted or row.standing.name.strip().casefold() in wanted)
