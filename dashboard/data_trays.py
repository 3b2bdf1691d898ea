"""The trays behind a number: only those that are shown are held, all of them while they are taken away."""

from __future__ import annotations

from dataclasses import replace

from analytics.studies.trays_behind import Behind, TraysFound, trays_behind
from dashboard.data import Shown
from dashboard.state import Filters


def behind(which: Shown, filters: Filters, species: str, asked: Behind, most: int | None) -> TraysFound:
    """The first trays of a species in what is shown, as they are written down; None = all."""
    return trays_behind(which.store, replace(filters.in_period(), species=(species,)), asked, most)
