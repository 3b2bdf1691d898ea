"""Did the changes work, as a review tells it: each comes back in many reviews, and that is allowed for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from analytics.changes.verdict import ALPHA, Judged
from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer, Event, StepAnswer
from analytics.studies.changes_words import whole_sentence, worded
from analytics.studies.records import MonthRest
from analytics.studies.wording import counted, listed, short_day

REVIEWS = 13
"""Reviews in which a change comes back: that of its month and the twelve after it."""
RULE = (
    f"A change is looked at anew in up to {REVIEWS} reviews. So that all of them are seldom wrong, each "
    f"calls a step better or worse only where that p is under {ALPHA / REVIEWS:.4f} (Bonferroni)."
)
ONLY_A_HINT = (
    "So far a hint: a change is looked at in many reviews, and each asks for more than a single look would."
)
"""Why a step is not called that a single look would call."""


def over_reviews(answer: ChangesAnswer) -> ChangesAnswer:
    """The answer with better and worse only where the number of reviews is allowed for too.

    Its first note is of made-up dates, on which a single look was tried; `RULE` stands instead of it.
    """
    changes = tuple(
        worded(change.event, change.compared, [_judged_again(step) for step in change.steps])
        for change in answer.changes
    )
    return replace(answer, changes=changes, sentence=whole_sentence(changes), notes=(*answer.notes[1:], RULE))


def _judged_again(step: StepAnswer) -> StepAnswer:
    known = step.judged.p_adjusted
    if step.verdict not in ("better", "worse") or (known is not None and known < ALPHA / REVIEWS):
        return step
    return replace(step, judged=Judged("no_clear_change", ONLY_A_HINT, known), opened=None)


def changes_words(rest: MonthRest) -> tuple[str, ...]:
    """Every change in few lines, or why nothing is told."""
    return changes_lines(rest.changes) if rest.changes else (rest.changes_why,)


def changes_lines(answer: ChangesAnswer) -> tuple[str, ...]:
    """Every change in few lines: what moved, what did not, and what cannot be told and why.

    What a single look would call and the number of reviews does not, is not said to have moved: of changes
    that do nothing it is so too often.
    """
    moved = [one for one in answer.changes if one.with_verdict("better", "worse")]
    rest = [one for one in answer.changes if one not in moved]
    same = [one for one in rest if one.with_verdict("no_clear_change")]
    open_yet = [_name(one) for one in same if _is_open(one)]
    still = [_name(one) for one in same if not _is_open(one)]
    said = [f"Not settled yet: {listed(open_yet)}; the next hatches tell."] if open_yet else []
    said += [f"No clear change: {listed(still)}."] if still else []
    return (*(one.sentence for one in moved), *said, *_untold(one for one in rest if one not in same))


def _untold(changes: Iterable[ChangeAnswer]) -> list[str]:
    """What cannot be told, those with the same reason together."""
    names: dict[str, list[str]] = {}
    for one in changes:
        why = one.compared.why or next((step.judged.why for step in one.steps if step.judged.why), "")
        names.setdefault(why, []).append(_name(one))
    return [
        f"Cannot be told: {listed(those)}. {_short(_of_them(why) if those[1:] else why)}".rstrip()
        for why, those in names.items()
    ]


def _of_them(why: str) -> str:
    """The reason as said of several."""
    return f"They {why.removeprefix('It ')}" if why.startswith("It touched ") else why


def _short(why: str) -> str:
    """The reason up to its colon: what follows stands on the page of changes."""
    said, *more = why.split(": ", 1)
    return f"{said}." if more else why


def _is_open(change: ChangeAnswer) -> bool:
    return any(step.judged.why == ONLY_A_HINT for step in change.steps)


def _name(change: ChangeAnswer) -> str:
    """`new male in Cedar (6 Dec 2025)`."""
    event = change.event
    return f"{event.what}{_where(event)} ({short_day(event.first_day)})"


def _where(event: Event) -> str:
    """Where it was changed; the words say it where it was everywhere."""
    if len(event.targets) > 3:
        return f" in {counted(len(event.targets), 'machine' if event.scope == 'incubator' else 'pen')}"
    return f" in {listed(event.targets)}" if event.targets else ""
