"""What is not in a rate yet: batches still in a machine, and what the records lack."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from analytics.studies.records import DataGap, OpenBatch
from analytics.values import label_order
from dashboard import words
from dashboard.components import marks
from dashboard.components.rates import name_of


def open_batches(batches: Sequence[OpenBatch], as_of: date) -> None:
    """Batches in the machine with their days; overdue ones first."""
    if not batches:
        marks.note(words.OPEN_NONE)
        return
    marks.note(words.OPEN_LEDE)
    ordered = sorted(batches, key=lambda batch: (-batch.overdue_days, batch.set_on, label_order(batch.batch)))
    marks.table(
        words.OPEN_HEADING,
        (words.COL_BATCH, words.COL_MACHINE, words.COL_SPECIES, words.COL_EGGS, words.COL_SET_ON,
         words.COL_DUE, words.COL_STATE),
        [
            (
                batch.batch,
                batch.incubator,
                ", ".join(name_of(key) for key in batch.species),
                words.count(batch.eggs_set),
                words.day(batch.set_on),
                words.due(batch),
                words.batch_state(batch, as_of),
            )
            for batch in ordered
        ],
        (words.COL_EGGS,),
        wide=(words.COL_STATE,),
    )  # fmt: skip


def gaps(found: Sequence[DataGap]) -> None:
    """What is missing in the month's records, and what to write down."""
    if not found:
        marks.note(words.GAPS_NONE)
        return
    marks.table(
        words.GAPS_HEADING,
        (words.COL_GAP, words.COL_GAP_WHERE, words.COL_REPAIR),
        [(gap.what, words.gap_where(gap.where, gap.how_many), gap.repair) for gap in found],
        wide=(words.COL_GAP_WHERE, words.COL_REPAIR),
    )
