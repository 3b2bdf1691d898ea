"""What the bench reads. Nothing is remembered: drafts change with every tap, and a read is quick."""

from __future__ import annotations

from analytics.sheets.bench import (
    BenchBatch,
    TrayTally,
    begun,
    bench_batches,
    next_egg_number,
    tray_tally,
)
from analytics.sheets.history import StoredRow, history
from dashboard.data import Shown


def batches(which: Shown) -> tuple[BenchBatch, ...]:
    """Every batch with its trays, those to be worked on first."""
    return bench_batches(which.store) if which.mark else ()


def tray(which: Shown, batch: str, label: str, device: str = "") -> TrayTally:
    """One tray as it stands."""
    return tray_tally(which.store, batch, label, device)


def next_egg(which: Shown, batch: str, label: str) -> int:
    """The number of the next egg of a tray that is opened."""
    return next_egg_number(which.store, batch, label)


def drafts(which: Shown) -> tuple[TrayTally, ...]:
    """Trays that are begun and not closed."""
    return begun(which.store) if which.mark else ()


def stored(which: Shown, sheet: str, parts: tuple[str, ...]) -> StoredRow:
    """A row as it is written down now."""
    row = history(which.store, sheet, parts, last=1).row
    assert row is not None  # a whole key that no row has is refused
    return row
