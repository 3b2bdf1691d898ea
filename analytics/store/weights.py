"""Trays that were weighed, net and per egg, as rows: one for each weighed tray."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb

from analytics.measures.water import water_loss
from analytics.store.counts import rows_of


@dataclass(frozen=True, slots=True)
class TrayWeighed:
    """A weighed tray.

    Attributes:
        batch: its batch.
        incubator: the setter.
        species: key.
        days: days from setting to the second weighing; 0.0 where `why` is set.
        loss: share of the weight at setting lost, likewise.
        why: why it cannot be used, or "".
    """

    batch: str
    incubator: str
    species: str
    days: float
    loss: float
    why: str


def trays_weighed(connection: duckdb.DuckDBPyConnection) -> tuple[TrayWeighed, ...]:
    """The chosen trays that were weighed at all, by day of setting.

    Args:
        connection: from `counting`.
    """
    made = []
    for row in rows_of(connection, "tray_weights", {}):
        days, loss = 0.0, 0.0
        if not row["why"]:
            days = row["days"]
            loss = water_loss(
                row["tare_g"],
                row["weight_set_g"],
                row["eggs_first"],
                row["weight_transfer_g"],
                row["eggs_later"],
            )
        made.append(TrayWeighed(row["batch"], row["incubator"], row["species"], days, loss, row["why"]))
    return tuple(made)
