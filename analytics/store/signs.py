"""What opened eggs, chicks, weighings and machine sheets say of trays and batches: signs are read from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import duckdb
import numpy as np

from analytics.errors import DataTooThin
from analytics.measures.water import water_loss
from analytics.store.cells import Floats, numbers_in
from analytics.store.counts import query_text, rows_of
from analytics.store.ladder import Flags

CHECK_DAYS = 21
"""A reference reading speaks for a batch up to so many days before or after it (our choice, no source)."""
Key = tuple[str, str]
"""Batch and tray."""


@dataclass(frozen=True, slots=True)
class OpenedEggs:
    """What was seen one by one, tray by tray; a tray that is in no sign has NaN there.

    Attributes:
        place: batch and tray -> place in the arrays.
        signs: word of the sign -> eggs that show it and eggs looked at, two arrays of one entry a tray.
        storage_c: temperature of the store, °C; NaN where not recorded.
    """

    place: Mapping[Key, int]
    signs: Mapping[str, tuple[Floats, Floats]]
    storage_c: Floats


@dataclass(frozen=True, slots=True)
class BatchNotes:
    """What the machine sheets hold of one batch.

    Attributes:
        set_on: when set.
        transfer_on: when moved to the hatcher; where not written down, three days before the end.
        pulled_on: when taken out.
        numbers: word of a condition -> its value, only those recorded.
    """

    set_on: datetime
    transfer_on: datetime
    pulled_on: datetime
    numbers: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Weighing:
    """One weighed tray.

    Attributes:
        egg_g: weight of an egg at setting, g.
        water_loss: share of it lost by the second weighing, or None.
        why: why there is no loss, "" where there is: `once` weighed, `number` of eggs changed, `impossible`.
    """

    egg_g: float
    water_loss: float | None
    why: str


def opened_eggs(connection: duckdb.DuckDBPyConnection) -> OpenedEggs:
    """What opened eggs and chicks of the chosen closed trays show.

    Args:
        connection: from `counting` or after `lay_out`.
    """
    table = connection.execute(query_text("sign_eggs")).fetchnumpy()
    column = {name: numbers_in(values) for name, values in table.items() if values.dtype.kind in "iufb"}
    keys = list(zip(_labels(table["batch"]), _labels(table["tray"]), strict=True))
    place = {key: at for at, key in enumerate(keys)}
    return OpenedEggs(place, _signs(column, _labels(table["batch"])), column["storage_c"])


def _signs(column: Mapping[str, Floats], batch: list[str]) -> dict[str, tuple[Floats, Floats]]:
    listed = column["listed"] > 0
    written = listed & (column["positions_written"] > 0)
    return {
        "dead_days_1_3": _where(
            listed
            & (column["in_staged"] > 0)
            & (column["early"] == column["early_counted"])
            & (column["early_with_day"] == column["early"]),
            column["days_1_3"],
            column["fertile"],
        ),
        "dry_stuck": _where(_dryness_judged(column, batch), column["dry"], column["out"] + column["shell"]),
        "head_small_end": _where(written, column["head_small_end"], column["full_grown"]),
        "malposition": _where(written, column["malposition"], column["full_grown"]),
        "malformed": _where(listed, column["malformed"], column["malformed_judged"]),
        "rotten": _where(column["in_rotten"] > 0, column["rotten"], column["eggs_set"]),
        "weak": _where(np.isfinite(column["raised"]), column["died"], column["raised"]),
        "splay_leg": _where(np.isfinite(column["splay_judged"]), column["splay_leg"], column["splay_judged"]),
    }


def _dryness_judged(column: Mapping[str, Floats], batch: list[str]) -> Flags:
    """Trays whose pipped eggs were all looked at; one without a pipped egg where its batch's others were."""
    looked = np.unique(np.array(batch)[column["dry_judged"] > 0])
    of_batch = np.isin(np.array(batch), looked)
    whole = (column["pipped"] == column["shell"]) & (column["dry_judged"] > 0)
    judged: Flags = whole | (of_batch & (column["shell"] == 0))
    return judged


def _where(which: Flags, seen: Floats, eggs: Floats) -> tuple[Floats, Floats]:
    kept = which & (eggs > 0)
    return np.where(kept, np.minimum(seen, eggs), np.nan), np.where(kept, eggs, np.nan)


def batch_notes(connection: duckdb.DuckDBPyConnection) -> dict[str, BatchNotes]:
    """Batch -> what the machine sheets hold of its time, for the chosen closed batches.

    Words: setter_c, setter_rh, hatcher_c, hatcher_rh, reference_c, openings, turner_stops, power_cuts,
    days_since_cleaning.

    Args:
        connection: from `counting` or after `lay_out`.
    """
    rows = rows_of(connection, "sign_batches", {"check_days": CHECK_DAYS})
    return {row["batch"]: _notes(row) for row in rows}


def _notes(row: Mapping[str, Any]) -> BatchNotes:
    times = ("set_on", "transfer_on", "pulled_on")
    numbers = {
        name: float(value)
        for name, value in row.items()
        if name not in (*times, "batch") and value is not None
    }
    return BatchNotes(row["set_on"], row["transfer_on"], row["pulled_on"], numbers)


def weighings(connection: duckdb.DuckDBPyConnection) -> dict[Key, Weighing]:
    """Batch and tray -> its weighing, of the chosen closed trays with a tare.

    Args:
        connection: from `counting` or after `lay_out`.
    """
    found = {}
    for row in rows_of(connection, "sign_weights", {}):
        weighing = _weighing(row)
        if weighing:
            found[row["batch"], row["tray"]] = weighing
    return found


def _weighing(row: Mapping[str, Any]) -> Weighing | None:
    net = row["weight_set_g"] - row["tare_g"]
    if net <= 0 or not row["eggs_at_set"]:
        return None
    egg = net / row["eggs_at_set"]
    if row["weight_later_g"] is None:
        return Weighing(egg, None, "once")
    if row["eggs_later"] != row["eggs_at_set"]:
        return Weighing(egg, None, "number")
    try:
        loss = water_loss(
            row["tare_g"], row["weight_set_g"], row["eggs_at_set"], row["weight_later_g"], row["eggs_later"]
        )
    except DataTooThin:
        return Weighing(egg, None, "impossible")
    return Weighing(egg, loss, "")


def _labels(values: Any) -> list[str]:
    return [str(one) for one in np.ma.filled(values, "").tolist()]
