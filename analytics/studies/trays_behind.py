"""The trays behind a number, as they are written down."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from analytics.options import Selection
from analytics.store.counts import counting, rows_of
from analytics.studies.causes_records import TrayRow

OUTCOMES = (
    "infertile", "clear", "early_dead", "mid_dead", "late_dead", "internal_pip", "external_pip", "rotten",
    "cracked", "not_opened", "unaccounted",
)  # fmt: skip
NO_HATCH = "the hatch is not written down"
NO_STAGES = "what became of the rest is not written down"


def trays_behind(
    store: Path,
    selection: Selection,
    *,
    pen: str = "",
    batch: str = "",
    machine: str = "",
    month: str = "",
) -> tuple[TrayRow, ...]:
    """Trays of closed batches, those that enter no ledger included.

    Args:
        store: the store's file.
        selection: the filters of the answer.
        pen: only this pen; "" = any.
        batch: only this batch.
        machine: only this machine, as setter or hatcher.
        month: only this month of hatch, YYYY-MM.

    Returns:
        the latest hatch first, the trays of a batch together.

    Raises:
        as `counting`.
    """
    asked = {"pen": pen, "batch": batch, "machine": machine, "month": month}
    with counting(store, selection) as connection:
        return tuple(_row(row) for row in rows_of(connection, "tray_rows", asked))


def _row(row: Mapping[str, Any]) -> TrayRow:
    known = row["hatched"] is not None or row["in_hatch"]
    return TrayRow(
        batch=row["batch"],
        tray=row["tray"],
        pen=row["pen"],
        machine=row["incubator"],
        hatcher=row["hatcher"],
        set_on=row["set_day"],
        hatch_on=row["hatch_on"],
        storage_days=row["storage_days"],
        eggs_set=row["eggs_set"],
        hatched=(row["hatched"] or 0) + (row["culled"] or 0) if known else None,
        outcomes={word: int(row[word]) for word in OUTCOMES if row[word]},
        left_out="" if row["in_staged"] else NO_STAGES if row["in_hatch"] else NO_HATCH,
    )
