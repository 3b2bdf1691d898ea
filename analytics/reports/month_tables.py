"""The tables of a review's workbook beside its rates: attention, signals, changes, breeders and so on."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from analytics.studies import wording
from analytics.studies.breeders_words import ADVICE
from analytics.studies.changes_records import ChangeAnswer
from analytics.studies.changes_words import STEP_NAMES, VERDICTS
from analytics.studies.month_attention import attention, next_steps
from analytics.studies.month_method import method_lines, sources
from analytics.studies.records import MonthReview
from analytics.studies.signal_words import BASES, unit_words

Cell = str | int | float | None

NOTES: dict[str, str] = {
    "what": "what needs attention, or was changed, or is to be done",
    "evidence": "what speaks for it",
    "next step": "what to look at or do",
    "found by": "losses, signals or machines",
    "unit": "the pen, the machine, or all pens together",
    "state": "new, or known from a month before",
    "since": "month in which it began",
    "side": "worse or better",
    "usual": "what the months before let expect, as a share",
    "limit low": "below this is more than chance",
    "limit high": "above this is more than chance",
    "changed on": "first day",
    "where": "pens or machines; for gaps the first ten places",
    "step": "the step of the way from egg to chick that is passed",
    "before": "share that passed before, where it was changed",
    "after": "share that passed after it",
    "others before": "share that passed before, where it was not changed",
    "others after": "share that passed after it",
    "difference": "change there less change elsewhere, as a share; more is better",
    "difference low": "lower end of its 95 % range",
    "difference high": "upper end of it",
    "p": "chance of such a difference without an effect, the number of steps allowed for",
    "verdict": "better, worse, no clear change, or cannot tell; the number of reviews allowed for",
    "advice": "keep, watch, replace, or too few eggs",
    "own rate": "chicks per egg set, all else being typical",
    "held against": "the rate it is held against",
    "chance that replacing pays": "as a share",
    "lost of 100": "chicks lost of 100 eggs beside that; negative = won",
    "males": "males present on the day of the review",
    "hens": "hens present on that day",
    "chicks expected": "as such eggs gave in the twelve months before",
    "fewest": "lower end of the 95 % range of chicks",
    "most": "upper end of it",
    "first day": "first day the hatch is expected",
    "last day": "last day it is expected",
    "topic": "what the figure belongs to",
    "bird": "the bird it is for",
    "says": "the figure or sentence",
    "source": "author, year, title and place",
    "read": "SEEN = read in the source; SEEN-2nd = in a page that quotes it; MEMORY = not looked up",
    "remark": "what else to know",
    "part": "part of the review",
    "how it was worked out": "in a sentence",
}
"""Heading -> what stands beneath it; the rates' headings have theirs with them."""
SHARES = frozenset(
    {"usual", "limit low", "limit high", "before", "after", "others before", "others after",
     "difference", "difference low", "difference high", "own rate", "held against",
     "chance that replacing pays"}
)  # fmt: skip
LONG = {
    "what": 60, "evidence": 50, "next step": 60, "where": 40, "says": 60, "source": 60, "remark": 40,
    "how it was worked out": 110, "unit": 26, "topic": 26, "bird": 22, "step": 18, "verdict": 16,
}  # fmt: skip
_SIDES = ("before", "after", "others before", "others after")
_DIFFERENCE = ("difference", "difference low", "difference high", "p", "verdict")


@dataclass(frozen=True, slots=True)
class Table:
    """One worksheet.

    Attributes:
        name: of the worksheet.
        headings: of its columns.
        rows: cells, as many in each as there are headings.
    """

    name: str
    headings: tuple[str, ...]
    rows: Sequence[Sequence[Cell]]


def attention_table(review: MonthReview) -> Table:
    """What needs attention, and what else to do."""
    rows: list[tuple[Cell, ...]] = [
        (one.what, one.evidence, one.next_step, one.source) for one in attention(review)
    ]
    rows += [(None, None, line, "review") for line in next_steps(review)]
    return Table("attention", ("what", "evidence", "next step", "found by"), rows)


def rest_tables(review: MonthReview) -> tuple[Table, ...]:
    """The worksheets after the rates."""
    return (
        Table(
            "signals",
            ("species", "unit", "rate", "share of", "eggs", "this month", "usual", "limit low", "limit high",
             "side", "state", "since"),
            list(_signals(review)),
        ),
        Table(
            "changes",
            ("changed on", "what", "where", "step", *_SIDES, *_DIFFERENCE, "why", "next step"),
            [row for one in _changes(review) for row in _steps(one)],
        ),
        Table(
            "breeders",
            ("species", "pen", "advice", "eggs", "own rate", "low", "high", "held against",
             "chance that replacing pays", "lost of 100", "why"),
            list(_breeders(review)),
        ),
        Table(
            "outlook",
            ("species", "batch", "eggs", "chicks expected", "fewest", "most", "first day", "last day", "pen",
             "males", "hens"),
            list(_outlook(review)),
        ),
    )  # fmt: skip


def method_tables(review: MonthReview) -> tuple[Table, Table]:
    """The published figures, and how it was worked out."""
    entries = [
        (one.topic, one.bird, one.says, one.source, str(one.status), one.note) for one in sources(review)
    ]
    return (
        Table("sources", ("topic", "bird", "says", "source", "read", "remark"), entries),
        Table("method", ("part", "how it was worked out"), method_lines(review)),
    )


def _signals(review: MonthReview) -> Iterator[tuple[Cell, ...]]:
    for one in review.signals.signals if review.signals else ():
        now = one.now
        yield (
            wording.species_words(one.species),
            unit_words(one.kind, one.label, one.species),
            wording.MEASURE_NAMES[one.measure],
            str(BASES[one.measure]),
            now.eggs,
            now.rate,
            now.expected,
            now.low,
            now.high,
            "worse" if one.worse else "better",
            "known" if one.known else "new",
            str(one.since),
        )


def _changes(review: MonthReview) -> tuple[ChangeAnswer, ...]:
    return review.rest.changes.changes if review.rest and review.rest.changes else ()


def _steps(one: ChangeAnswer) -> Iterator[tuple[Cell, ...]]:
    event = one.event
    where = wording.listed(event.targets) or event.scope
    for step in one.steps:
        effect = step.effect
        yield (
            event.first_day.isoformat(),
            event.what,
            where,
            STEP_NAMES[step.step],
            *(side.rate for side in effect.sides.in_order()),
            effect.difference,
            effect.low,
            effect.high,
            step.judged.p_adjusted,
            VERDICTS[step.verdict],
            step.judged.why or one.compared.why,
            one.compared.settle,
        )


def _breeders(review: MonthReview) -> Iterator[tuple[Cell, ...]]:
    kept = review.rest.breeders if review.rest else None
    for answer in kept.answers if kept else ():
        for row in answer.rows:
            one = row.standing
            yield (
                wording.species_words(answer.species),
                one.name,
                ADVICE[one.advice],
                one.eggs,
                one.rate,
                one.low,
                one.high,
                one.target,
                one.probability_pays,
                one.chicks_lost_per_100,
                row.why,
            )


def _outlook(review: MonthReview) -> Iterator[tuple[Cell, ...]]:
    """Chicks to expect, then the birds of each pen."""
    if not review.rest:
        return
    for due in review.rest.outlook.due:
        chicks = due.expected
        days = [day.isoformat() if day else None for day in (due.first_day, due.last_day)]
        numbers = (chicks.chicks, chicks.low, chicks.high) if chicks else (None, None, None)
        name, batches = wording.species_words(due.species), wording.listed(due.batches)
        yield (name, batches, due.eggs, *numbers, *days, None, None, None)
    for pen in review.rest.outlook.birds:
        yield (wording.species_words(pen.species), *[None] * 7, pen.pen, pen.males, pen.females)
