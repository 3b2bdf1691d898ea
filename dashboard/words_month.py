"""The words of the review's later parts on the page of the month."""

from __future__ import annotations

from analytics.studies.records import Attention
from analytics.values import Month

CHANGES_HEADING = "Did the changes work"
BREEDERS_HEADING = "Which breeders"
NEXT_HEADING = "What to do next"
AHEAD_HEADING = "What is ahead"
TAKE_HEADING = "Take the review with you"
TAKE_LEDE = (
    "All of this page in one file: a page to print or to keep, or a workbook with its sources and method."
)
TAKE_PAGE = "Page to print"
TAKE_BOOK = "Workbook"
CHANGES_WAIT = "Judging the changes …"
BREEDERS_WAIT = "Weighing the breeders …"
TO_CHANGES = "Every change step by step"
TO_BREEDERS = "Every pen with its costs"
TO_PLAN = "Plan the next sets"
TO_LOSSES = "Where the eggs were lost"


def needs(one: Attention) -> str:
    """What needs attention, its evidence and the next step in one line."""
    said = f"{one.what} {one.evidence}"
    return f"{said} Next: {one.next_step[:1].lower()}{one.next_step[1:]}" if one.next_step else said


def file_name(month: Month, ending: str) -> str:
    """`penwise-review-2026-10.html`."""
    return f"penwise-review-{month}.{ending}"
