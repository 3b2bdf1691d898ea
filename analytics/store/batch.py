"""One batch out of the store: its eggs, what is written down around it, and the farm's other batches."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from difflib import get_close_matches
from typing import Any

import duckdb

from analytics.errors import WrongUsage
from analytics.store.counts import rows_of
from analytics.store.gaps import CHECK_DAYS

FRESH_DAYS = 30
"""Fresh eggs opened up to so many days before setting or after the hatch speak for a batch (our choice)."""
_NAMED = 3
FATES = (
    "hatched", "culled", "infertile", "clear", "early", "mid", "late", "shell", "unstaged", "rotten",
    "cracked", "not_opened", "unaccounted",
)  # fmt: skip
"""What can have become of an egg: chicks first, then in the order of the ladder, then what is not told."""


@dataclass(frozen=True, slots=True)
class BatchName:
    """A batch that can be asked about.

    Attributes:
        batch: label.
        set_on: day of setting.
        hatch_on: day of hatch; expected while it is in the machine, None where that is not known.
        closed: whether it is out of the machine.
        species: keys.
        eggs_set: eggs.
    """

    batch: str
    set_on: date
    hatch_on: date | None
    closed: bool
    species: tuple[str, ...]
    eggs_set: int


@dataclass(frozen=True, slots=True)
class BatchHead:
    """A batch as it is written down.

    Attributes:
        batch: label.
        incubator: the machine until transfer.
        air: forced or still, or None.
        hatcher: the machine after it; the same where none is named.
        set_on: when set; midnight = the hour is not written down.
        transfer_on: when moved, or None.
        pulled_on: when taken out, or None.
        notes: what was noted, or None.
    """

    batch: str
    incubator: str
    air: str | None
    hatcher: str
    set_on: datetime
    transfer_on: datetime | None
    pulled_on: datetime | None
    notes: str | None


@dataclass(frozen=True, slots=True)
class FateCounts:
    """What became of the eggs of one species, or of one pen, in the batch.

    Attributes:
        species: key.
        pen: label, or "" for all pens of the species.
        trays: trays.
        eggs_set: eggs set in them.
        eggs: eggs set in trays whose hatch is written down; `fates` add up to them.
        fates: word of `FATES` -> eggs.
        trays_without_storage: trays without days of storage.
        storage: fewest, mean and most days of storage, or None where none is written down.
    """

    species: str
    pen: str
    trays: int
    eggs_set: int
    eggs: int
    fates: dict[str, int]
    trays_without_storage: int
    storage: tuple[float, float, float] | None


@dataclass(frozen=True, slots=True)
class Recorded:
    """What is written down around a batch; 0 = nothing.

    Attributes:
        checks: displays read beside a reference thermometer, up to `CHECK_DAYS` before setting.
        display_offset_c: mean of display less reference in them, or None without one.
        readings: climate readings while it was in.
        counts: counts of chicks out so far.
        weighed: trays weighed at setting and at transfer.
        candled: trays candled.
        fresh_eggs: fresh eggs of its pens opened within `FRESH_DAYS`.
        opened: eggs opened one by one.
        marks: sign word -> eggs or chicks that show it: malposition, head_small_end, malformed, dry_stuck,
            splay_leg.
        machines: machines of the farm.
        pens: pens of its species on the farm.
    """

    checks: int
    display_offset_c: float | None
    readings: int
    counts: int
    weighed: int
    candled: int
    fresh_eggs: int
    opened: int
    marks: dict[str, int]
    machines: int
    pens: int


@dataclass(frozen=True, slots=True)
class PenNote:
    """A pen of the batch.

    Attributes:
        pen: label.
        species: key.
        males: males, or None where not written down.
        females: females, likewise.
        hens_hatched_on: day, likewise.
        setters: machines in which its eggs were set, this batch's among them.
        untried: machines of the farm in which they never were.
    """

    pen: str
    species: str
    males: int | None
    females: int | None
    hens_hatched_on: date | None
    setters: int
    untried: int


@dataclass(frozen=True, slots=True)
class OtherBatches:
    """How other batches of the farm hatched, together.

    Attributes:
        species: key.
        kind: `farm` for all, `incubator` for those of the same setter, `pen` for that pen's trays.
        label: the machine or pen, "" for the farm.
        batches: batches.
        eggs: eggs set in trays whose hatch is written down.
        chicks: chicks, kept or not.
        lowest: the lowest batch's share of set, 0..1.
        highest: the highest one's.
    """

    species: str
    kind: str
    label: str
    batches: int
    eggs: int
    chicks: int
    lowest: float
    highest: float


def batch_names(connection: duckdb.DuckDBPyConnection) -> tuple[BatchName, ...]:
    """Every batch, those that are out first, the latest on top.

    Args:
        connection: from `counting`.
    """
    return tuple(
        BatchName(
            row["batch"],
            row["set_day"],
            row["hatch_on"],
            row["closed"],
            tuple(row["species"]),
            row["eggs_set"],
        )
        for row in rows_of(connection, "batch_names", {})
    )


def choose_batch(connection: duckdb.DuckDBPyConnection, batch: str) -> BatchHead:
    """Narrows `chosen` to one batch, open or not.

    Args:
        connection: from `counting`.
        batch: label, compared without case and outer blanks.

    Raises:
        WrongUsage: no batch of that name; near names are offered.
    """
    found = rows_of(connection, "batch_head", {"batch": batch})
    if not found:
        _refuse(batch, [name.batch for name in batch_names(connection)])
    connection.execute(
        "CREATE OR REPLACE TEMP TABLE chosen AS SELECT * FROM trays_of WHERE batch_key = label_of($batch)",
        {"batch": batch},
    )
    return BatchHead(**found[0])


def _refuse(batch: str, known: list[str]) -> None:
    by_key = {label.strip().casefold(): label for label in reversed(known)}
    near = [by_key[key] for key in get_close_matches(batch.strip().casefold(), list(by_key), _NAMED, 0.5)]
    latest = f"The latest are {', '.join(known[:_NAMED])}" if known else "Load record sheets first"
    repair = f"Did you mean {' or '.join(near)}?" if near else latest
    raise WrongUsage(f"No batch {batch} in these records", "A batch is named as in the sheet batches", repair)


def batch_fates(connection: duckdb.DuckDBPyConnection) -> tuple[FateCounts, ...]:
    """What became of the eggs of the chosen batch: each species (pen ""), then its pens."""
    return tuple(_fates(row) for row in rows_of(connection, "batch_fates", {}))


def batch_recorded(connection: duckdb.DuckDBPyConnection, head: BatchHead, last_day: date) -> Recorded:
    """What is written down around the chosen batch.

    Args:
        connection: on which `choose_batch` was called.
        head: the batch.
        last_day: the day it was taken out, or the day asked about.
    """
    asked = {
        "batch": head.batch,
        "first_day": head.set_on.date(),
        "last_day": last_day,
        "check_days": CHECK_DAYS,
        "fresh_days": FRESH_DAYS,
    }
    (row,) = rows_of(connection, "batch_recorded", asked)
    signs = ("malposition", "head_small_end", "malformed", "dry_stuck", "splay_leg")
    return Recorded(marks={sign: row.pop(sign) for sign in signs}, **row)


def batch_pens(connection: duckdb.DuckDBPyConnection, head: BatchHead) -> tuple[PenNote, ...]:
    """The pens of the chosen batch, by label."""
    return tuple(PenNote(**row) for row in rows_of(connection, "batch_pens", {"batch": head.batch}))


def other_batches(connection: duckdb.DuckDBPyConnection) -> tuple[OtherBatches, ...]:
    """How the farm's other batches of the same species hatched."""
    return tuple(OtherBatches(**row) for row in rows_of(connection, "batch_others", {}))


def _fates(row: dict[str, Any]) -> FateCounts:
    known = row["storage_days"] is not None
    return FateCounts(
        species=row["species"],
        pen=row["pen"],
        trays=row["trays"],
        eggs_set=int(row["eggs_set"]),
        eggs=row["eggs"],
        fates={fate: row[fate] for fate in FATES},
        trays_without_storage=row["trays_without_storage"],
        storage=(row["storage_low"], row["storage_days"], row["storage_high"]) if known else None,
    )
