"""The signs that stand beside the machines: of opened eggs and chicks; early and late are told by hours."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.causes_records import Causes
from analytics.studies.signs import signs_answer
from analytics.studies.signs_records import SignsAnswer

OF_HOURS = ("early_hatch", "late_hatch")


def signs_beside(store: Path, selection: Selection, losses: Causes | None) -> SignsAnswer | None:
    """Signs of machines, pens and batches without early and late machines; None where no tray tells any.

    A machine's hours stand with their own weeks and rivals in `incubators`, against machines that are not off
    themselves; the same hours in other words would be said twice, with another number.

    Args:
        store: the store's file.
        selection: filters.
        losses: the ledger of the same period, or None: it is asked then.

    Raises:
        as `signs_answer`, but for what is too thin.
    """
    try:
        found = signs_answer(store, selection, losses)
    except DataTooThin:
        return None
    kept = tuple(one for one in found.signs if one.sign not in OF_HOURS or one.placed == "batch")
    return replace(found, signs=kept)
