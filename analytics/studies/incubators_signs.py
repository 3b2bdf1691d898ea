"""The signs that stand beside the machines: of opened eggs and chicks."""

from __future__ import annotations

from pathlib import Path

from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.causes_records import Causes
from analytics.studies.signs import signs_answer
from analytics.studies.signs_records import SignsAnswer


def signs_beside(store: Path, selection: Selection, losses: Causes | None) -> SignsAnswer | None:
    """Signs of machines, pens and batches; None where no tray tells any.

    Args:
        store: the store's file.
        selection: filters.
        losses: the ledger of the same period, or None: it is asked then.

    Raises:
        as `signs_answer`, but for what is too thin.
    """
    try:
        return signs_answer(store, selection, losses)
    except DataTooThin:
        return None
