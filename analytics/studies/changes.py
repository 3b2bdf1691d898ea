"""Did the change work: each dated change against the pens, or machines, that it did not touch."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np

from analytics.changes.effect import joined, step_effect
from analytics.changes.opening import opening
from analytics.changes.records import StepEffect
from analytics.changes.verdict import ALPHA, Judged, judged
from analytics.comparisons.counts import Floats
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.reference.fertile_period import fertile_period
from analytics.store.changes_dated import (
    diet_periods,
    laying_days,
    male_arrivals,
    written_changes,
)
from analytics.store.counts import counting
from analytics.store.ladder import LadderTrays, asked_for, ladder_trays
from analytics.studies import changes_words as words
from analytics.studies.changes_events import events_of
from analytics.studies.changes_made_up import made_up_events
from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer, Event, MadeUp, StepAnswer
from analytics.studies.changes_trays import LATE_STEPS, ChangeTrays, Question, key_of, question
from analytics.values import Period

FEW_STAGED = 0.5
"""Below this share of the eggs whose hatch is known, only the hatch is judged."""
FEW_CONTROLS, HALF = 3, 0.5
"""Untouched pens from which on no single one may make half of what is called."""
NOT_OF_MACHINES = "An egg is fertile or not before it is set: a machine cannot change that."
Own = Mapping[str, Sequence[Event]]


def changes(
    store: Path, selection: Selection, progress: Callable[[float, str], None] | None = None
) -> ChangesAnswer:
    """Judges every dated change.

    Trays that hatched up to the end of the period are used, whatever the other filters: these say which
    changes are told (dated within the period, of those pens or machines or of everything).

    Args:
        store: the store's file.
        selection: filters.
        progress: told the share done (0..1) and what is being done.

    Returns:
        The answer; a change that cannot be judged is in it, with why.

    Raises:
        DataTooThin: no closed batch, or nothing was changed.
        WrongUsage, StoreError and its kinds: as `counting`.
    """
    with counting(store, selection) as connection:
        asked = asked_for(connection)
        if not asked:
            raise DataTooThin(
                "No closed batch of this selection has a tray",
                "Changes are judged by batches that hatched",
                "Widen the days, pens or machines asked for",
            )
        wide = Selection(Period(None, selection.period.end))
        ladder = ladder_trays(connection, wide, "staged")
        if _told(ladder) < FEW_STAGED * sum(one.hatch_known for one in asked):
            ladder = ladder_trays(connection, wide, "hatch")
        trays = ChangeTrays(ladder, *laying_days(connection, ladder))
        written = events_of(written_changes(connection), diet_periods(connection), male_arrivals(connection))
    events = tuple(_with_lag(event, ladder) for event in written)
    shown = [event for event in events if _is_asked(event, selection, ladder)]
    if not shown:
        raise DataTooThin(
            "No change with a date is written down for this selection",
            "Changes come from the sheets changes and diets, and from machines that were moved",
            "Write what you change, when and where, into the sheet changes",
        )
    return _answer(selection, trays, events, shown, progress or (lambda share, what: None))


def _told(ladder: LadderTrays) -> float:
    return float(ladder.numbers["eggs_set"][ladder.wanted].sum())


def _with_lag(event: Event, ladder: LadderTrays) -> Event:
    """The days in which the sire is open, of the bird with the longest such time among its pens."""
    if event.kind != "male":
        return event
    birds = _birds_of(ladder, [event]) or ["any"]
    return replace(event, lag_days=max(fertile_period(bird).days for bird in birds))


def _birds_of(ladder: LadderTrays, events: Sequence[Event]) -> list[str]:
    """Species in the pens of some changes."""
    keys = {key_of(label) for event in events for label in event.targets}
    pens = np.array([key_of(label) in keys for label in ladder.labels["pen"].tolist()], dtype=bool)
    return [str(bird) for bird in np.unique(ladder.labels["species"][pens])]


def _is_asked(event: Event, selection: Selection, ladder: LadderTrays) -> bool:
    first, last = selection.period.start or date.min, selection.period.end or date.max
    if not first <= event.first_day <= last:
        return False
    asked = {("pen", key_of(label)) for label in selection.pens}
    asked |= {("incubator", key_of(label)) for label in selection.incubators}
    if asked and event.targets and not asked & {(event.scope, key_of(label)) for label in event.targets}:
        return False
    return not selection.species or event.scope != "pen" or _is_of(event, selection, ladder)


def _is_of(event: Event, selection: Selection, ladder: LadderTrays) -> bool:
    """Whether one of its pens holds a bird asked for."""
    species = {key_of(key) for key in selection.species}
    bird_of = dict(zip(ladder.labels["pen"].tolist(), ladder.labels["species"].tolist(), strict=True))
    birds = {key_of(pen): bird for pen, bird in bird_of.items()}
    return any(birds.get(key_of(label)) in species for label in event.targets)


def own_changes(events: Sequence[Event], scope: str) -> Own:
    """Key of a pen (machine) -> its own changes."""
    found: dict[str, list[Event]] = {}
    for event in events:
        if (event.scope == "incubator") == (scope == "incubator"):
            for label in event.targets:
                found.setdefault(key_of(label), []).append(event)
    return found


def _answer(
    selection: Selection,
    trays: ChangeTrays,
    events: Sequence[Event],
    shown: Sequence[Event],
    progress: Callable[[float, str], None],
) -> ChangesAnswer:
    made_up = made_up_events(trays, events)
    whole = len(shown) + len(made_up)
    answers = []
    for place, event in enumerate(shown):
        progress(place / whole, event.what)
        answers.append(judge(event, trays, own_changes(events, event.scope)))
    cried = []
    for place, event in enumerate(made_up, start=len(shown)):
        progress(place / whole, "made-up dates")
        found = judge(event, trays, own_changes(events, event.scope), quick=True)
        cried.append([step.step for step in found.with_verdict("better", "worse")])
    told = tuple(
        (event.targets[0], event.first_day, step)
        for event, steps in zip(made_up, cried, strict=True)
        for step in steps
    )
    check = MadeUp(len(made_up), sum(bool(steps) for steps in cried), told)
    birds = _birds_of(trays.ladder, [event for event in shown if event.kind == "male"])
    return ChangesAnswer(
        selection=selection,
        changes=tuple(answers),
        made_up=check,
        steps=trays.ladder.steps,
        sentence=words.whole_sentence(answers),
        notes=words.whole_notes(check, trays.ladder.steps, birds),
        fertile_days={bird: fertile_period(bird).days for bird in birds},
    )


def judge(event: Event, trays: ChangeTrays, own: Own, *, quick: bool = False) -> ChangeAnswer:
    """One change, step by step.

    Args:
        event: the change.
        trays: all trays.
        own: from `own_changes`.
        quick: whether only the verdicts are wanted.
    """
    trays, names = trays.near(event), trays.ladder.steps
    found: dict[bool, Question] = {}
    for step in names:
        late = step in LATE_STEPS and event.scope == "incubator"
        if late not in found:
            found[late] = question(event, trays, step, own)
    asked = [found[step in LATE_STEPS and event.scope == "incubator"] for step in names]
    compared = asked[0].compared
    effects = [
        _effect(event, trays, place, one, quick=quick) for place, one in enumerate(asked)
    ]  # fmt: skip
    verdicts = [
        _unless_one_decides(event, trays, place, one, effect, verdict)
        for place, (one, effect, verdict) in enumerate(zip(asked, effects, judged(effects), strict=True))
    ]
    steps = tuple(
        StepAnswer(step, effect, verdict, _opened(trays, place, one) if _is_clear(verdict.verdict) else None)
        for place, (step, effect, verdict, one) in enumerate(
            zip(names, effects, verdicts, asked, strict=True)
        )
    )
    return words.worded(event, compared, steps)


def _unless_one_decides(
    event: Event, trays: ChangeTrays, place: int, asked: Question, effect: StepEffect, verdict: Judged
) -> Judged:
    """Takes back a verdict of which one untouched pen makes half or more: that pen may have its own cause."""
    controls = asked.compared.controls
    if not _is_clear(verdict.verdict) or len(controls) < FEW_CONTROLS:
        return verdict
    _, whole, _, _ = effect.known()
    for label in controls:
        left = _effect(event, trays, place, asked.without(label), quick=True)
        if left.p_value is None or left.p_value < ALPHA:
            continue
        if left.known()[1] / whole < HALF:
            return Judged("no_clear_change", words.hangs_on(event, label), verdict.p_adjusted)
    return verdict


def _is_clear(verdict: str) -> bool:
    return verdict in ("better", "worse")


def _effect(event: Event, trays: ChangeTrays, place: int, asked: Question, *, quick: bool) -> StepEffect:
    """The effect on one step; quick: without odds, no second end where the first calls nothing."""
    why = asked.compared.why
    if not why and event.scope == "incubator" and trays.ladder.steps[place] == "fertile":
        why = NOT_OF_MACHINES
    effects: list[StepEffect] = []
    for passed, eggs in _ends(trays.ladder, place, asked):
        effects.append(step_effect(passed, eggs, asked.layout, odds=not (quick or why)))
        if quick and (effects[0].p_value or 0.0) >= ALPHA:
            break
    found = joined(effects)
    return StepEffect.missing(found.sides, why) if why else found


def _ends(ladder: LadderTrays, place: int, asked: Question) -> list[tuple[Floats, Floats]]:
    """Passed and entered eggs; twice where clear eggs leave it open: all infertile, then none."""
    which = asked.which
    passed, clear = ladder.passed[which, place], ladder.numbers["clear"][which]
    entered = ladder.passed[which, place - 1] if place else ladder.eggs[which]
    if len(ladder.steps) == 1 or place > 1 or not clear.any():
        return [(passed, entered)]
    if place == 0:
        return [(passed, entered), (np.minimum(passed + clear, entered), entered)]
    return [(passed, entered), (passed, entered + clear)]


def _opened(trays: ChangeTrays, place: int, asked: Question) -> date | None:
    """First month after the largest break of the gap between touched and untouched, by months of setting."""
    passed, entered = _ends(trays.ladder, place, asked)[0]
    month, touched = trays.month[asked.which], asked.layout.touched
    gaps, weights, months = [], [], []
    for one in np.unique(month):
        sums = [
            (float(passed[here].sum()), float(entered[here].sum()))
            for here in ((month == one) & touched, (month == one) & ~touched)
        ]
        if all(eggs > 0 for _, eggs in sums):
            gaps.append(sums[0][0] / sums[0][1] - sums[1][0] / sums[1][1])
            weights.append(1 / sum(1 / eggs for _, eggs in sums))
            months.append(str(one))
    broken = opening(gaps, weights)
    return date.fromisoformat(f"{months[broken.place]}-01") if broken else None
