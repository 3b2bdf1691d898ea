"""What of a month to look at first."""

from __future__ import annotations

from dataclasses import replace

from analytics.errors import DataTooThin
from analytics.studies.month_attention import attention, opening
from analytics.studies.records import MonthLosses, MonthReview
from dashboard import data, words, words_month
from dashboard.components import losses, marks
from dashboard.state import Filters


def told(which: data.Shown, chosen: Filters, review: MonthReview) -> MonthReview:
    """The review with what stands out in it; worked out once for a month, as for the page of losses."""
    month = str(review.month)
    try:
        asked = replace(chosen, start=month, end=month, target=None)
        found = losses.worked_out(which, asked, words.FIRST_WAIT, words.FIRST_WAIT_LINES)
    except DataTooThin as error:
        return replace(review, losses=MonthLosses(None, error.sentence()))
    return replace(review, losses=MonthLosses(found, ""))


def answered(review: MonthReview) -> None:
    """The first line large, what needs attention beneath, and then how the month went."""
    lead, more = opening(review)
    marks.sentences((lead,))
    if review.losses:
        marks.points([words_month.needs(one) for one in attention(review)])
    if more:
        marks.plain_sentences(more)
