"""What of a month needs attention: each thing with its evidence and what to do next, and what else to do."""

from __future__ import annotations

from collections.abc import Collection, Iterator

from analytics.attribution.findings import HINT
from analytics.studies.causes_findings import CHECKS, chicks_words, level_of
from analytics.studies.causes_records import CauseFinding, Causes, CausesAnswer
from analytics.studies.causes_words import called, said_plainly
from analytics.studies.changes_records import ChangeAnswer
from analytics.studies.changes_words import title
from analytics.studies.month_losses import MORE, overdue_lines, standing_out
from analytics.studies.records import Attention, MonthReview
from analytics.studies.signal_records import Signal
from analytics.studies.wording import STRENGTHS, counted, month_name, species_title, species_words

MOST = 7
"""Things that are named."""
NOTE = (
    "Note what you change, with its day and pen or machine (`penwise note`, or the sheet changes): "
    "the reviews after it say what it did."
)
_STEPS = {
    "fertility": "fertile",
    "early_loss": "early",
    "mid_loss": "mid",
    "late_loss": "late",
    "shell_loss": "shell",
}
"""Watched measure -> the step it is the passing of."""
_OF_ALL = "Look at what all pens share: feed, storage, season, and who handles the eggs."
_LOOK_IN = "Look into the machine; if the hatch is over, write `pulled_on` (batches) and the counts (trays)."


def attention(review: MonthReview) -> tuple[Attention, ...]:
    """What needs attention, at most seven things: what stands out of the losses, signals, batches overdue.

    Args:
        review: with its losses and signals, as far as they were asked.
    """
    found = review.losses and review.losses.causes
    ranked = _surest(found) if found else []
    several = len(found.answers) > 1 if found else False
    signals = review.signals.signals if review.signals else ()
    lost = [_of_losses(answer, one, several, signals) for answer, one in ranked]
    known = {level_of(one.item).casefold() for _, one in ranked}
    late = list(_overdue(review))
    left = _of_signals(signals, known)
    room = MOST - len(lost) - len(late)
    return (*lost, *list(left)[:room], *late)


def _surest(found: Causes) -> list[tuple[CausesAnswer, CauseFinding]]:
    """What stands out; a hint only where nothing is surer, and one alone."""
    ranked = standing_out(found)
    surer = [pair for pair in ranked if pair[1].strength != HINT]
    return surer[: MORE + 1] or ranked[:1]


def _of_losses(
    answer: CausesAnswer, one: CauseFinding, several: bool, signals: Collection[Signal]
) -> Attention:
    """`More of Hazel's eggs were infertile ...`, with the chicks, and the signal that says the same."""
    item = one.item
    chicks = chicks_words(item.eggs, item.low, item.high)
    what = said_plainly(one).removesuffix(f": {chicks}.")
    if several:
        what = f"{species_title(answer.species)}: {what[:1].lower()}{what[1:]}"
    evidence = f"{_large(chicks)} this month. {_large(STRENGTHS[one.strength])}."
    same = next((signal for signal in signals if _is_of(signal, one)), None)
    if same:
        evidence += f" {_watched(same)}"
    return Attention(f"{what}.", evidence, one.check, "losses", _large(called(item)))


def _is_of(signal: Signal, one: CauseFinding) -> bool:
    same_unit = signal.label.casefold() == level_of(one.item).casefold()
    return bool(signal.label) and same_unit and signal.worse and _STEPS.get(signal.measure) == one.item.step


def _watched(signal: Signal) -> str:
    since = f"known since {month_name(signal.since)}" if signal.known else "new"
    return f"Beyond its limits too ({since})."


def _of_signals(signals: Collection[Signal], known: Collection[str]) -> Iterator[Attention]:
    """Signals for the worse of pens and machines that the losses do not name."""
    for signal in signals:
        if signal.worse and signal.label.casefold() not in known:
            known_since = f"A signal known since {month_name(signal.since)}."
            since = known_since if signal.known else "A new signal."
            who = signal.label or f"All {species_words(signal.species)} pens"
            yield Attention(signal.sentence, since, _check(signal), "signals", who)


def _check(signal: Signal) -> str:
    factor = "incubator" if signal.kind == "machine" else signal.kind
    return _OF_ALL if factor == "flock" else CHECKS.get((factor, _STEPS.get(signal.measure, "")), "")


def _overdue(review: MonthReview) -> Iterator[Attention]:
    """Batches past their time as one thing, the longest named."""
    late = sorted((one for one in review.open_batches if one.overdue_days), key=lambda one: -one.overdue_days)
    if late:
        first, more = late[0], len(late) - 1
        past = (
            f"Batch {first.batch} in {first.incubator} is {counted(first.overdue_days, 'day')} past its time"
        )
        also = f", and {counted(more, 'batch', 'batches')} more" if more else ""
        evidence = f"No hatch is written down of its {counted(first.eggs_set, 'egg')}."
        yield Attention(f"{past}{also}.", evidence, _LOOK_IN, "machines", f"Batch {first.batch}")


def opening(review: MonthReview) -> tuple[str, tuple[str, ...]]:
    """The first line, and how the month went; what needs attention is told by `attention`."""
    losses = review.losses
    if losses and losses.causes:
        return losses.first[0], review.headline
    late = overdue_lines(review.open_batches)
    untold = [line for line in losses.first if line not in late] if losses else []
    return review.headline[0], (*review.headline[1:], *untold)


def next_steps(review: MonthReview) -> tuple[str, ...]:
    """What to do besides what stands with the things that need attention."""
    found = review.losses and review.losses.causes
    said = []
    for answer in found.answers if found else ():
        if answer.cannot_separate:
            one = answer.cannot_separate[0]
            said.append(f"{one.why} {one.next_step}")
            break
    changes = review.rest and review.rest.changes
    unsettled = [one for one in changes.changes if one.compared.settle] if changes else []
    if unsettled:
        said.append(_to_settle(unsettled[-1]))
    return (*said, NOTE)


def _to_settle(change: ChangeAnswer) -> str:
    return f"{title(change.event)}: {change.compared.settle[:1].lower()}{change.compared.settle[1:]}"


def _large(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
