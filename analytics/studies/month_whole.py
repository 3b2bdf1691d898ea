"""The whole review of a month: its rates, with what every other question says of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.breeders import breeders
from analytics.studies.breeders_records import Breeders
from analytics.studies.changes import changes
from analytics.studies.changes_records import ChangesAnswer
from analytics.studies.ledger_drawn import Kept
from analytics.studies.month import MONTHS_BEFORE
from analytics.studies.month_changes import over_reviews
from analytics.studies.month_losses import with_losses
from analytics.studies.outlook import outlook
from analytics.studies.records import MonthRest, MonthReview
from analytics.studies.signals import with_signals
from analytics.values import Period

Progress = Callable[[float, str], None]
_LOSSES_PART, _CHANGES_PART = 0.45, 0.7
"""Shares of the time after which the losses and the changes are done."""


def whole_review(
    store: Path, review: MonthReview, *, target: float | None = None, progress: Progress | None = None
) -> MonthReview:
    """The review with losses, signals, changes, breeders and what is ahead; some seconds in all.

    Nothing that hatched after the month is in any of it.

    Args:
        store: the store's file.
        review: from `month_review`.
        target: as of `causes`.
        progress: told the share done (0..1) and what is being done.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    learnt = Kept()
    part = _part(progress, 0.0, _LOSSES_PART)
    review = with_losses(store, review, target=target, progress=part, kept=learnt)
    review = with_signals(store, review)
    told, changes_why = changes_of(store, review, _part(progress, _LOSSES_PART, _CHANGES_PART))
    kept, breeders_why = breeders_of(store, review, learnt)
    ahead = outlook(store, review.selection, review.as_of)
    return replace(review, rest=MonthRest(told, changes_why, kept, breeders_why, ahead))


def _part(progress: Progress | None, start: float, end: float) -> Progress | None:
    """The progress of a part of the whole."""
    if progress is None:
        return None
    told = progress
    return lambda share, what: told(start + share * (end - start), what)


def changes_selection(review: MonthReview) -> Selection:
    """The review's filters, for changes of the month and the twelve before it."""
    month = review.month
    return review.selection.during(Period(month.back(MONTHS_BEFORE).period().start, month.period().end))


def breeders_selection(review: MonthReview) -> Selection:
    """The review's filters, for hatches up to the end of the month."""
    return review.selection.during(Period(None, review.month.period().end))


def changes_of(
    store: Path, review: MonthReview, progress: Progress | None = None
) -> tuple[ChangesAnswer | None, str]:
    """Whether the changes up to the month worked; None and why where that is not told."""
    try:
        return over_reviews(changes(store, changes_selection(review), progress)), ""
    except DataTooThin as error:
        return None, f"{error.given}."


def breeders_of(store: Path, review: MonthReview, learnt: Kept) -> tuple[Breeders | None, str]:
    """Which pens to keep; None and why where that is not told."""
    try:
        return breeders(store, breeders_selection(review), kept=learnt), ""
    except DataTooThin as error:
        return None, error.sentence()
