"""Whose loss a month's was, and what of it stands out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from analytics.attribution.findings import STRENGTHS
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.causes import causes
from analytics.studies.causes_findings import factor_of, level_of
from analytics.studies.causes_records import CauseFinding, Causes, CausesAnswer
from analytics.studies.ledger_drawn import Kept
from analytics.studies.records import MonthLosses, MonthReview
from analytics.values import Period

LEAST = 0.5
"""Chicks of the month from which a finding is said: it rounds to one."""


def with_losses(
    store: Path,
    review: MonthReview,
    *,
    target: float | None = None,
    progress: Callable[[float, str], None] | None = None,
    kept: Kept | None = None,
) -> MonthReview:
    """The review with whose loss the month's was.

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
        return replace(review, losses=MonthLosses(None, "No batch of this selection hatched in the month."))
    try:
        found = causes(store, of_month(review), target=target, progress=progress, kept=kept)
    except DataTooThin as error:
        return replace(review, losses=MonthLosses(None, error.sentence()))
    return replace(review, losses=MonthLosses(found, ""))


def of_month(review: MonthReview) -> Selection:
    """The review's filters, within its month."""
    month, asked = review.month.period(), review.selection.period
    starts = [day for day in (month.start, asked.start) if day]
    ends = [day for day in (month.end, asked.end) if day]
    return review.selection.during(Period(max(starts), min(ends)))


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


def _once(findings: Sequence[CauseFinding]) -> list[CauseFinding]:
    """The strongest finding about each pen, machine, diet and so on."""
    seen: dict[tuple[str, str], CauseFinding] = {}
    for one in findings:
        seen.setdefault((factor_of(one.item), level_of(one.item)), one)
    return list(seen.values())
