"""Whose loss is it: the flock's, handling's or the incubator's? And what can these records not tell?"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

from analytics.attribution.expected import expected
from analytics.attribution.findings import findings
from analytics.attribution.ledger import (
    Account,
    account,
    check_eggs,
    check_target,
    summary,
)
from analytics.attribution.terms import Trays
from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.studies.causes_apart import Planned, not_apart
from analytics.studies.causes_data import LossData, loss_data, why_no_answer
from analytics.studies.causes_findings import Setting, cause_finding
from analytics.studies.causes_records import Causes, CausesAnswer, NoAnswer
from analytics.studies.causes_words import causes_words
from analytics.studies.clear_records import Clears
from analytics.studies.clears import clears
from analytics.studies.ledger_drawn import SEED, Drawn, Kept
from analytics.studies.plan_records import SplitAnswer, SplitAsked
from analytics.studies.plan_split import plan_split
from analytics.studies.stripes import stripe_maps
from analytics.values import Period

Progress = Callable[[float, str], None]


def causes(
    store: Path,
    selection: Selection,
    *,
    target: float | None = None,
    progress: Progress | None = None,
    kept: Kept | None = None,
) -> Causes:
    """Shares the chicks short of a mark out, species by species.

    What pens, machines and the rest do is learnt from all closed batches of the species up to the end of the
    period; counted are the trays of the selection.

    Args:
        store: the store's file.
        selection: filters.
        target: chicks per egg set, 0..1; None = the breeder's own aim for hatch_of_set, else a rule of thumb.
        progress: told the share done (0..1) and what is being done.
        kept: what was learnt for other questions of the same review.

    Raises:
        WrongUsage: a target outside 0..1; a filter that names nothing.
        DataTooThin: no species allows an answer; says why.
        StoreError and its kinds: as `reading`.
    """
    if target is not None:
        check_target(target)
    asked, told = loss_data(store, selection, target), clears(store, selection)
    answers, without, kept = [], [], kept or Kept()
    for at, data in enumerate(asked):
        why = why_no_answer(data)
        if not why:
            try:
                drawn = kept.drawn(_checked(data), _part_of(progress, at, len(asked)))
                plan = _planned(store, data, selection)
                answers.append(_answer(data, selection, told, drawn, plan))
            except DataTooThin as error:
                why = error.sentence()
        if why:
            without.append(NoAnswer(data.asked.species, why))
    if not answers:
        first = without[0].why
        raise DataTooThin(first, " ".join(one.why for one in without[1:]))
    return Causes(selection, tuple(answers), tuple(without), told)


def _part_of(progress: Progress | None, at: int, parts: int) -> Progress | None:
    """The progress of one part of several equal ones."""
    if progress is None:
        return None
    told = progress
    return lambda share, what: told((at + share) / parts, what)


def _checked(data: LossData) -> Trays:
    """The trays, if they hold eggs enough."""
    trays = data.trays()
    check_eggs(trays)
    return trays


def _planned(store: Path, data: LossData, selection: Selection) -> Planned:
    """The split of the next set, as Plan lays it out from the same records; asked for only where needed."""

    @cache
    def plan() -> SplitAnswer | str:
        wide = Selection(Period(None, selection.period.end), (data.asked.species,))
        try:
            return plan_split(store, SplitAsked(SEED), wide)
        except (DataTooThin, WrongUsage) as error:
            return error.sentence()

    return plan


def _answer(data: LossData, selection: Selection, told: Clears, learnt: Drawn, plan: Planned) -> CausesAnswer:
    trays, counted = data.trays(), data.ladder.wanted
    terms, drawn, judged = learnt.terms, learnt.draws, learnt.judged
    found = account(trays, data.mark.rate, terms, drawn, counted)
    book = summary(trays, data.mark.rate, terms, found, judged, counted)
    setting = Setting(
        *data.months(),
        months_counted=("", "") if counted.all() else data.months(counted=True),
        clear=bool(data.ladder.numbers["clear"][counted].sum() > 0),
        slopes=_slopes(found),
    )
    standing = tuple(cause_finding(one, setting) for one in findings(book))
    apart = not_apart(data.ladder, book, terms, found, plan)
    return CausesAnswer(
        species=data.asked.species,
        selection=selection,
        counted=data.counted(),
        fitted=data.scope(trays.eggs > 0),
        mark=data.mark,
        groups=book.lines,
        causes=book.causes,
        steps=book.steps,
        findings=standing,
        cannot_separate=apart,
        stripes=stripe_maps(data.ladder, expected(trays, terms, drawn)),
        words=causes_words(data, book, standing, apart, told.of(data.asked.species), setting),
    )


def _slopes(found: Account) -> dict[tuple[str, str], float]:
    """Mean slope of each covariate in each step."""
    return {
        (factor, step): float(values.mean())
        for (_, factor), (_, by_step) in found.slopes.items()
        for step, values in by_step.items()
    }
