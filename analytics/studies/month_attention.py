"""What of a month needs attention: each thing with its evidence and what to do next, and what else to do."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from analytics.attribution.findings import HINT
from analytics.studies.causes_findings import CHECKS, chicks_words, level_of
from analytics.studies.causes_records import CauseFinding, CausesAnswer
from analytics.studies.causes_words import called, said_plainly
from analytics.studies.changes_records import ChangeAnswer
from analytics.studies.changes_words import title
from analytics.studies.month_losses import standing_out
from analytics.studies.records import Attention, MonthRest, MonthReview
from analytics.studies.signal_records import Signal
from analytics.studies.wording import STRENGTHS, counted, month_name, species_title, species_words

MOST = 7
"""Things that are named, and lines of `look_first`."""
MORE = 3
"""Losses that are named after the first."""
NOTHING = "Nothing stands out from chance this month."
LEAST_OF_SET = 0.01
"""Chicks lost, as a share of the eggs set, from which a loss needs attention (our own choice, no source)."""
NEW_SIGNAL = "A new signal; chance alone gives about one in twelve reviews."
"""How far a new signal goes; `tests/simulation/monitoring.py` has the rate."""
ADVISED = 2
"""Months after a change in which it is said how to settle the next of its kind."""
NOTE = (
    "Note what you change, with its day and pen or machine (`penwise note`, or the sheet changes): "
    "the reviews after it say what it did."
)
NO_MORE = "Nothing beyond what stands above."
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
    """What needs attention, at most seven things.

    In this order: what stands out of the losses, signals that are not among these, a hint where there is
    neither, batches past their time.

    Args:
        review: with its losses and signals, as far as they were asked.
    """
    signals = review.signals.signals if review.signals else ()
    pairs = _worth_it(review)
    surer = [pair for pair in pairs if pair[1].strength != HINT][: MORE + 1]
    named = {level_of(one.item).casefold() for _, one in surer}
    out = list(_of_signals(signals, named))
    lost = [_of_losses(review, *pair) for pair in surer or (() if out else pairs[:1])]
    late = list(_overdue(review))
    return (*lost, *out[: MOST - len(lost) - len(late)], *late)


def _worth_it(review: MonthReview) -> list[tuple[CausesAnswer, CauseFinding]]:
    """What stands out and costs enough, the surest first."""
    found = review.losses.causes if review.losses else None
    least = {one.species: LEAST_OF_SET * one.eggs_set for one in review.species}
    return [
        (answer, one)
        for answer, one in (standing_out(found) if found else [])
        if one.item.eggs >= least.get(answer.species, 0.0)
    ]


def _of_losses(review: MonthReview, answer: CausesAnswer, one: CauseFinding) -> Attention:
    """`More of Hazel's eggs were infertile ...`, with the chicks, and the signal that says the same."""
    item = one.item
    chicks = chicks_words(item.eggs, item.low, item.high)
    what = said_plainly(one).removesuffix(f": {chicks}.")
    if sum(bool(species.eggs_set) for species in review.species) > 1:
        what = f"{species_title(answer.species)}: {_small(what)}"
    evidence = f"{_large(chicks)} this month. {_large(STRENGTHS[one.strength])}."
    signals = review.signals.signals if review.signals else ()
    same = next((signal for signal in signals if _is_of(signal, one)), None)
    if same:
        evidence += f" {_watched(same)}"
    return Attention(f"{what}.", evidence, one.check, "losses", called(item), one.strength)


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
            who = signal.label or f"all {species_words(signal.species)} pens"
            new = "" if signal.known else NEW_SIGNAL
            yield Attention(signal.sentence, new, _check(signal), "signals", who)


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
        yield Attention(f"{past}{also}.", evidence, _LOOK_IN, "machines", f"batch {first.batch}")


def opening(review: MonthReview) -> tuple[str, tuple[str, ...]]:
    """The first line, and how the month went; what needs attention is told by `attention`."""
    losses = review.losses
    if losses and losses.causes:
        return _lead(attention(review)), (*review.headline, *_untold(review))
    return review.headline[0], (*review.headline[1:], *_untold(review))


def look_first(review: MonthReview) -> tuple[str, ...]:
    """The first line and then what needs attention, as lines of their own, at most seven.

    Where it cannot be told what stands out, that stands first instead; () before it is asked.
    """
    losses = review.losses
    if losses is None:
        return ()
    first = (_lead(attention(review)),) if losses.causes else _untold(review)
    return (*first, *(line for one in attention(review) for line in _lines(one)))[:MOST]


def _lines(one: Attention) -> Iterator[str]:
    yield f"{one.what} {one.evidence}".rstrip()
    if one.next_step:
        yield f"Next: {_small(one.next_step)}"


def _untold(review: MonthReview) -> tuple[str, ...]:
    """Why it is not told what stands out of the month's eggs, species by species where only some are told."""
    losses, there = review.losses, [species.species for species in review.species if species.eggs_set]
    if losses is None or not there:
        return ()
    if losses.causes is None:
        return (f"What stands out cannot be told yet. {losses.why}",)
    return tuple(
        f"What stands out of {species_words(one.species)} eggs cannot be told yet. {one.why}"
        for one in losses.causes.without
        if one.species in there
    )


def _lead(found: Sequence[Attention]) -> str:
    """What to look at first, if anything is sure."""
    first = next((one for one in found if one.source != "machines"), None)
    if first is None:
        return NOTHING
    if first.strength == HINT:
        return f"Nothing is sure this month. A hint: {first.who}."
    return f"Look at {first.who} first."


def breeders_lines(review: MonthReview, rest: MonthRest) -> tuple[str, ...]:
    """Which breeders to keep, for the species of which eggs hatched in the month."""
    if rest.breeders is None:
        return (rest.breeders_why,)
    there = [one.species for one in review.species if one.eggs_set]
    told = {one.species: one.sentence for one in rest.breeders.answers}
    told |= {one.species: one.why for one in rest.breeders.without}
    asked = [name for name in there if name in told]
    if len(there) == 1:
        return tuple(told[name] for name in asked)
    return tuple(_of_bird(name, told[name]) for name in asked)


def _of_bird(species: str, said: str) -> str:
    """`Chukar, hatches of May 2026: keep all.`"""
    apart = "," if said.startswith("Hatches ") else ":"
    return f"{species_title(species)}{apart} {_small(said)}"


def next_steps(review: MonthReview) -> tuple[str, ...]:
    """What to do besides what stands with the things that need attention.

    That changes are to be noted is said while none is.
    """
    found = review.losses and review.losses.causes
    said = []
    for answer in found.answers if found else ():
        if answer.cannot_separate:
            one = answer.cannot_separate[0]
            said.append(f"{one.why} {one.next_step.split('. ')[0].rstrip('.')}.")
            break
    changes = review.rest and review.rest.changes
    since = review.month.back(ADVISED).period().start
    unsettled = [
        one
        for one in (changes.changes if changes else ())
        if one.compared.settle and since and one.event.first_day >= since
    ]
    if unsettled:
        said.append(_to_settle(unsettled[-1]))
    if not (changes and changes.changes):
        said.append(NOTE)
    return tuple(said) or (NO_MORE,)


def _to_settle(change: ChangeAnswer) -> str:
    return f"{title(change.event)}: {_small(change.compared.settle)}"


def _small(words: str) -> str:
    return f"{words[:1].lower()}{words[1:]}"


def _large(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
