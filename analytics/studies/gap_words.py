"""What is missing in the records, each with what it keeps from being known and what to write down."""

from __future__ import annotations

from collections.abc import Mapping

from analytics.store.gaps import CHECK_DAYS, Missing
from analytics.studies.records import DataGap, OpenBatch
from analytics.studies.wording import counted

_WORDS: dict[str, tuple[str, str]] = {
    "no_hatched": (
        "No hatch count in a batch that was taken out: {trays}, in no rate.",
        "Write the chicks kept into `hatched`, sheet trays; 0 if there were none.",
    ),
    "unaccounted": (
        "In no column, neither hatched nor counted among the unhatched: {eggs} in {trays}.",
        "Open what did not hatch and count it by stage (sheet trays); what stays closed is `not_opened`.",
    ),
    "not_opened": (
        "Not hatched and not opened, so that their stage is not known: {eggs} in {trays}.",
        "Open at least five unhatched eggs of every tray; they tell about the others.",
    ),
    "clear": (
        "Clear and not told apart, infertile or dead before anything showed: {eggs} in {trays}.",
        "Open clear eggs and read the germinal disc (`infertile` or `early_dead`),"
        " or open some fresh eggs of the pen (sheet fresh_eggs).",
    ),
    "unstaged": (
        "Dead of unknown stage, where the infertile were counted and the dead were not: {eggs} in {trays}.",
        "Count `early_dead`, `mid_dead`, `late_dead` and the two pips in the sheet trays.",
    ),
    "no_storage": (
        "Neither `storage_days` nor laying days: {trays} with {eggs}.",
        "Write `laid_from` and `laid_to`, or `storage_days`, in the sheet trays.",
    ),
    "no_check": (
        "No reading beside a reference thermometer in {days} days: {machines} in use.",
        "Put a thermometer you trust beside the display, and write both into the sheet checks.",
    ),
}
"""Kind -> what is missing, what to do; in the order they are told."""


def data_gaps(missing: Mapping[str, Missing], open_batches: tuple[OpenBatch, ...]) -> tuple[DataGap, ...]:
    """The gaps of a month, those that keep most from being known first; then batches past their time."""
    told = [_gap(kind, missing[kind]) for kind in _WORDS if kind in missing]
    overdue = [batch for batch in open_batches if batch.overdue_days]
    return (*told, *([_overdue(overdue)] if overdue else []))


def _gap(kind: str, found: Missing) -> DataGap:
    what, repair = _WORDS[kind]
    words = what.format(
        eggs=counted(found.eggs, "egg"),
        trays=counted(found.how_many, "tray"),
        machines=counted(found.how_many, "machine"),
        days=CHECK_DAYS,
    )
    return DataGap(words, found.labels, found.how_many, repair)


def _overdue(batches: list[OpenBatch]) -> DataGap:
    return DataGap(
        f"In the machine past the longest published period: {counted(len(batches), 'batch', 'batches')}.",
        tuple(batch.batch for batch in batches[:10]),
        len(batches),
        "Look into the machine; if the hatch is over, write `pulled_on` (batches) and the counts (trays).",
    )
