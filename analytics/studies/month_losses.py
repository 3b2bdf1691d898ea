"""What of a month to look at first: what stands out of its losses, then batches past their time."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from analytics.attribution.findings import HINT, STRENGTHS
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.causes import causes
from analytics.studies.causes_findings import chicks_words, factor_of, level_of
from analytics.studies.causes_records import CauseFinding, Causes, CausesAnswer
from analytics.studies.causes_words import called, said_plainly
from analytics.studies.ledger_drawn import Kept
from analytics.studies.records import MonthLosses, MonthReview, OpenBatch
from analytics.studies.wording import STRENGTHS as STRENGTH_NAMES
from analytics.studies.wording import counted, species_words
from analytics.values import Period

MORE = 3
"""Findings that are said after the first."""
LEAST = 0.5
"""Chicks of the month from which a finding is said: it rounds to one."""
NOTHING = "Nothing stands out from chance this month."


def with_losses(
    store: Path,
    review: MonthReview,
    *,
    target: float | None = None,
    progress: Callable[[float, str], None] | None = None,
    kept: Kept | None = None,
) -> MonthReview:
    """The review with what to look at first, and whose loss the month's was.

    What pens and machines do is learnt from all closed batches up to the month's end, which takes some
    seconds, and with very many trays up to a minute; counted are the eggs of the month.

    Args:
        store: the store's file.
        review: from `month_review`.
        target: as of `causes`.
        progress: as of `causes`.
        kept: as of `causes`.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    if not any(species.eggs_set for species in review.species):
        why = "No batch of this selection hatched in the month."
        return replace(review, losses=MonthLosses(overdue_lines(review.open_batches), None, why))
    try:
        found = causes(store, of_month(review), target=target, progress=progress, kept=kept)
    except DataTooThin as error:
        return replace(review, losses=untold(review, error))
    return replace(review, losses=month_losses(review, found))


def of_month(review: MonthReview) -> Selection:
    """The review's filters, within its month."""
    month, asked = review.month.period(), review.selection.period
    starts = [day for day in (month.start, asked.start) if day]
    ends = [day for day in (month.end, asked.end) if day]
    return review.selection.during(Period(max(starts), min(ends)))


def untold(review: MonthReview, error: DataTooThin) -> MonthLosses:
    """What there is to say where the records do not tell whose loss it was."""
    why = error.sentence()
    said = (f"What stands out cannot be told yet. {why}", *overdue_lines(review.open_batches))
    return MonthLosses(said, None, why)


def month_losses(review: MonthReview, found: Causes) -> MonthLosses:
    """What to look at first, by what was found.

    Args:
        review: the month.
        found: from `causes` with `of_month`.
    """
    return MonthLosses((*_lines_of(found), *overdue_lines(review.open_batches)), found, "")


def standing_out(found: Causes) -> list[tuple[CausesAnswer, CauseFinding]]:
    """What stands out, the surest first and then the most chicks; each pen, machine and so on once."""
    return sorted(
        (
            (answer, one)
            for answer in found.answers
            for one in _once(answer.findings)
            if one.item.eggs >= LEAST
        ),
        key=lambda pair: (STRENGTHS.index(pair[1].strength), -pair[1].item.eggs),
    )


def _lines_of(found: Causes) -> list[str]:
    """The strongest finding with what to do, and some more."""
    ranked = standing_out(found)
    if not ranked:
        return [NOTHING]
    (answer, first), *others = ranked
    who = called(first.item)
    lead = (
        f"Look at {who} first." if first.strength != HINT else f"Nothing is sure this month. A hint: {who}."
    )
    several = len(found.answers) > 1
    said = [lead, _said(answer, first, several), *([f"Next: {_small(first.check)}"] if first.check else [])]
    return said + [_said(answer, one, several) for answer, one in others[:MORE]]


def _once(findings: Sequence[CauseFinding]) -> list[CauseFinding]:
    """The strongest finding about each pen, machine, diet and so on."""
    seen: dict[tuple[str, str], CauseFinding] = {}
    for one in findings:
        seen.setdefault((factor_of(one.item), level_of(one.item)), one)
    return list(seen.values())


def _said(answer: CausesAnswer, one: CauseFinding, several: bool) -> str:
    """`More of Hazel's eggs were infertile ...: about 20 chicks (15 to 25) this month. Strong evidence.`"""
    item = one.item
    chicks = chicks_words(item.eggs, item.low, item.high)
    what = said_plainly(one).removesuffix(f": {chicks}.")
    bird = f"{_large(species_words(answer.species))}: {_small(what)}" if several else what
    return f"{bird}: {chicks} this month. {_large(STRENGTH_NAMES[one.strength])}."


def _large(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"


def _small(words: str) -> str:
    return f"{words[:1].lower()}{words[1:]}"


def overdue_lines(batches: Sequence[OpenBatch]) -> tuple[str, ...]:
    """One line on batches past their time, () where there are none."""
    late = sorted((one for one in batches if one.overdue_days), key=lambda one: -one.overdue_days)
    if not late:
        return ()
    first = late[0]
    longest = f"batch {first.batch} in {first.incubator}"
    days = counted(first.overdue_days, "day")
    if len(late) == 1:
        return (f"{_large(longest)} is {days} past its time: look into the machine.",)
    return (
        f"{len(late)} batches are past their time, {longest} the longest ({days}): look into the machines.",
    )
