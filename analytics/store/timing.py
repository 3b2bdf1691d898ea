"""When batches hatched: counts made while the chicks came out, and what may move them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby, pairwise
from typing import Any

import duckdb

from analytics.measures.hatch_timing import HatchCounts
from analytics.store.counts import rows_of

NOT_COUNTED = "no counts while they hatched"
NO_HOUR = "set_on without its hour"
MIXED = "eggs of several species together"
FALLING = "counts that fall"
NO_CHICK = "no chick"
BEFORE_SET = "counts from before the eggs were set"
_HOUR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class BatchTraits:
    """What else may move a hatch; None = not recorded.

    Attributes:
        eggs: eggs set.
        storage_days: mean days stored.
        hen_weeks: mean age of the hens at laying.
        egg_g: mean weight of an egg at setting.
        pens: whose eggs they were.
    """

    eggs: int
    storage_days: float | None
    hen_weeks: float | None
    egg_g: float | None
    pens: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CountedBatch:
    """A closed batch.

    Attributes:
        batch: label.
        setter: the machine until transfer.
        hatcher: the machine after it.
        species: key, "" where eggs of several were set together.
        set_on: when set; midnight = the hour is not written down.
        transfer_on: when moved, or None.
        pulled_on: when taken out, or None.
        traits: what else may move its hatch.
        counts: its counts, or None where `why` says why its hours cannot be read.
        why: "" where they can.
    """

    batch: str
    setter: str
    hatcher: str
    species: str
    set_on: datetime
    transfer_on: datetime | None
    pulled_on: datetime | None
    traits: BatchTraits
    counts: HatchCounts | None
    why: str


def counted_batches(connection: duckdb.DuckDBPyConnection) -> tuple[CountedBatch, ...]:
    """The closed batches chosen, by day of setting.

    Args:
        connection: from `counting`.
    """
    rows = rows_of(connection, "hatch_counts", {})
    return tuple(_batch(list(those)) for _, those in groupby(rows, key=lambda row: row["batch"]))


def _batch(rows: Sequence[dict[str, Any]]) -> CountedBatch:
    row = rows[0]
    why = _why_not(rows)
    return CountedBatch(
        batch=row["batch"],
        setter=row["setter"],
        hatcher=row["hatcher"],
        species=row["species"] if row["kinds"] == 1 else "",
        set_on=row["set_on"],
        transfer_on=row["transfer_on"],
        pulled_on=row["pulled_on"],
        traits=BatchTraits(
            row["eggs"], row["storage_days"], row["hen_weeks"], row["egg_g"], tuple(row["pens"])
        ),
        counts=None if why else _counts(rows),
        why=why,
    )


def _why_not(rows: Sequence[dict[str, Any]]) -> str:
    row, out = rows[0], [each["out_so_far"] for each in rows]
    if row["kinds"] > 1:
        return MIXED
    if row["counted_at"] is None:
        return NOT_COUNTED
    if row["set_on"] == datetime.combine(row["set_on"].date(), datetime.min.time()):
        return NO_HOUR
    if row["counted_at"] <= row["set_on"]:
        return BEFORE_SET
    if any(later < earlier for earlier, later in pairwise(out)):
        return FALLING
    return "" if max(out[-1], row["chicks"]) else NO_CHICK


def _counts(rows: Sequence[dict[str, Any]]) -> HatchCounts:
    """Chicks that died after they were counted out are chicks: never fewer hatched than were out."""
    row, out = rows[0], tuple(int(each["out_so_far"]) for each in rows)
    return HatchCounts(
        hours=tuple((each["counted_at"] - row["set_on"]) / _HOUR for each in rows),
        out=out,
        chicks=max(int(row["chicks"]), out[-1]),
        storage_days=float(row["storage_days"] or 0.0),
    )
