"""What sources advise or measured for a machine: temperature, humidity, water loss.

Sources disagree, so each has a row of its own and nothing is averaged: a reader gets all rows, or the range
from the lowest to the highest of them. Temperatures are of the air at egg height; in still air of the air at
the top of the eggs where the note says so. Eggshell temperature is another quantity and is not among them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from analytics.reference.sources import Status, number_or_none, read_rows

ANY = "any"


class Quantity(StrEnum):
    """What a row is about; the unit is the last part of the word."""

    SETTER_C = "setter_c"
    HATCHER_C = "hatcher_c"
    SETTER_WET_BULB_C = "setter_wet_bulb_c"
    HATCHER_WET_BULB_C = "hatcher_wet_bulb_c"
    SETTER_RH_PCT = "setter_rh_pct"
    HATCHER_RH_PCT = "hatcher_rh_pct"
    WATER_LOSS_PCT = "water_loss_pct"


@dataclass(frozen=True, slots=True)
class Setting:
    """One source's figure.

    Attributes:
        quantity: what it is, with its unit.
        species: keys of the birds it is for, or ("any",).
        air: `forced`, `still` or `any`.
        low: lower end.
        high: upper end, or None where the source gives none.
        by_day: day of incubation by which water is lost, or None where not said.
        basis: `advised` to keepers, or `measured` in a study.
        as_printed: the figure in the source's own terms.
        source_id: the source.
        status: how it was read.
        note: what else a reader must know, or "".
    """

    quantity: Quantity
    species: tuple[str, ...]
    air: str
    low: float
    high: float | None
    by_day: int | None
    basis: str
    as_printed: str
    source_id: str
    status: Status
    note: str

    def is_for(self, species: str, air: str) -> bool:
        """Whether it holds for a bird in a machine; `air` is `forced`, `still`, or `any` for either."""
        of_bird = species in self.species or ANY in self.species
        return of_bird and (ANY in (self.air, air) or self.air == air)


def settings_of(species: str, quantity: Quantity, air: str = ANY) -> tuple[Setting, ...]:
    """Every source's figure for a bird; empty where none was found published."""
    return tuple(row for row in settings_table() if row.quantity is quantity and row.is_for(species, air))


def whole_range(settings: Sequence[Setting]) -> tuple[float, float] | None:
    """From the lowest to the highest figure; a row without an upper end counts with its lower one."""
    if not settings:
        return None
    ends = [row.low if row.high is None else row.high for row in settings]
    return min(row.low for row in settings), max(ends)


@cache
def settings_table() -> tuple[Setting, ...]:
    """Every row, in the order of the table."""
    return tuple(_setting(row) for row in read_rows("settings.csv"))


def _setting(row: dict[str, str]) -> Setting:
    return Setting(
        quantity=Quantity(row["quantity"]),
        species=tuple(row["species"].split()),
        air=row["air"],
        low=float(row["low"]),
        high=number_or_none(row["high"]),
        by_day=int(row["by_day"]) if row["by_day"] else None,
        basis=row["basis"],
        as_printed=row["as_printed"],
        source_id=row["source_id"],
        status=Status(row["status"]),
        note=row["note"],
    )
