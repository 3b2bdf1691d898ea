"""Everything that signs of one species are read from, in one visit to the store."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import duckdb

from analytics.options import Selection
from analytics.store.ladder import LadderTrays, asked_for, ladder_trays
from analytics.store.shells import ShellSample, shell_samples
from analytics.store.signs import (
    BatchNotes,
    Key,
    OpenedEggs,
    Weighing,
    batch_notes,
    opened_eggs,
    weighings,
)
from analytics.store.timing import CountedBatch, counted_batches
from analytics.values import Period


@dataclass(frozen=True, slots=True)
class SignRecords:
    """One species in a period of hatches.

    Attributes:
        species: key.
        ladder: its trays, those asked for marked.
        opened: what opened eggs and chicks of them show.
        notes: batch -> what the machine sheets hold.
        weighed: batch and tray -> weighing.
        hatches: batches with their counts while the chicks came out.
        shells: shell samples of its pens.
        air: machine -> forced, still or any.
    """

    species: str
    ladder: LadderTrays
    opened: OpenedEggs
    notes: Mapping[str, BatchNotes]
    weighed: Mapping[Key, Weighing]
    hatches: tuple[CountedBatch, ...]
    shells: tuple[ShellSample, ...]
    air: Mapping[str, str]


def sign_records(connection: duckdb.DuckDBPyConnection, period: Period) -> tuple[SignRecords, ...]:
    """The species of a selection, the one with most eggs first; those without a told tray are left out.

    All their trays that hatched in the period are there: the selection's are marked.

    Args:
        connection: from `counting`.
        period: days of hatch.
    """
    found = (_of_species(connection, one.species, period) for one in asked_for(connection))
    return tuple(one for one in found if one is not None and one.ladder.wanted.any())


def _of_species(connection: duckdb.DuckDBPyConnection, species: str, period: Period) -> SignRecords | None:
    wide = Selection(period, (species,))
    ladder = ladder_trays(connection, wide, "staged")
    if not len(ladder.eggs):
        ladder = ladder_trays(connection, wide, "hatch")
    if not len(ladder.eggs):
        return None
    return SignRecords(
        species=species,
        ladder=ladder,
        opened=opened_eggs(connection),
        notes=batch_notes(connection),
        weighed=weighings(connection),
        hatches=counted_batches(connection),
        shells=shell_samples(connection),
        air=_air(connection),
    )


def _air(connection: duckdb.DuckDBPyConnection) -> dict[str, str]:
    rows = connection.execute(
        "SELECT incubator, coalesce(air, 'any') FROM incubators WHERE withdrawn_in IS NULL"
    )
    return dict(rows.fetchall())
