"""By how many hours storage and warmth move a hatch, as published.

The slopes of warmth were measured on chicken eggs, by eggshell temperature, in weeks 2 and 3; for other birds
they are borrowed and scaled by the days to hatch, and whoever prints them says so.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from analytics.reference.sources import Status, read_rows
from analytics.reference.species import PublishedDays, species_table

HOURS_A_DAY = 24
LENDER = "chicken"
"""The bird whose slopes are borrowed."""


@dataclass(frozen=True, slots=True)
class HatchShift:
    """One source's figure.

    Attributes:
        shift: what moves the hatch: `storage`, `shell_warmth_week_2`, `shell_warmth_week_3`,
            `shell_warmth_whole_term`, or `degree_lore`, which is not used.
        species: the bird it was measured on, or `any`.
        low: lower end.
        high: upper end.
        unit: hours of what per what.
        as_printed: the figure in the source's own terms.
        source_id: the source.
        status: how it was read.
        note: what else a reader must know, or "".
    """

    shift: str
    species: str
    low: float
    high: float
    unit: str
    as_printed: str
    source_id: str
    status: Status
    note: str


def storage_hours_a_day() -> tuple[float, float]:
    """Hours by which a day of storage delays the hatch: the least and the most that is published."""
    return _range("storage")


def hours_earlier_a_degree(species: str) -> tuple[float, float]:
    """Hours by which 1 °C of eggshell warmth over the whole term brings the hatch forward.

    The whole published range, from chicken eggs, scaled by the bird's usual days to hatch.
    """
    low, high = _range("shell_warmth_whole_term")
    scale = _middle_day(species) / _middle_day(LENDER)
    return low * scale, high * scale


def published_hours(species: str) -> tuple[float, float]:
    """Hours from setting to the middle of the hatch: the least and the most that any source leaves.

    A list's single whole day is known to half a day; of a published window from the first chick to the last,
    its middle counts.
    """
    ends = [_middle_of_hatch(row) for row in species_table()[species].published]
    return min(low for low, _ in ends) * HOURS_A_DAY, max(high for _, high in ends) * HOURS_A_DAY


@cache
def hatch_shifts_table() -> tuple[HatchShift, ...]:
    """Every row, in the order of the table."""
    return tuple(_shift(row) for row in read_rows("hatch_shifts.csv"))


def _range(shift: str) -> tuple[float, float]:
    rows = [row for row in hatch_shifts_table() if row.shift == shift]
    return min(row.low for row in rows), max(row.high for row in rows)


def _middle_day(species: str) -> float:
    return _middle(*species_table()[species].usual_days)


def _middle_of_hatch(row: PublishedDays) -> tuple[float, float]:
    """First and last day on which one source puts the middle of the hatch."""
    if row.basis == "window":
        middle = _middle(row.shortest, row.longest)
        return middle, middle
    if row.basis == "listed" and row.shortest == row.longest:
        return row.shortest - 0.5, row.longest + 0.5
    return row.shortest, row.longest


def _middle(low: float, high: float) -> float:
    return (low + high) / 2


def _shift(row: dict[str, str]) -> HatchShift:
    return HatchShift(
        shift=row["shift"],
        species=row["species"],
        low=float(row["low"]),
        high=float(row["high"]),
        unit=row["unit"],
        as_printed=row["as_printed"],
        source_id=row["source_id"],
        status=Status(row["status"]),
        note=row["note"],
    )
