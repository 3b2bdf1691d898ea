"""How long eggs may still be a former male's."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from analytics.reference.sources import Status, read_rows

ANY = "any"


@dataclass(frozen=True, slots=True)
class FertilePeriod:
    """The days after a change of males in which the sire of an egg is open.

    Attributes:
        days: days; the most that were ever seen are more.
        source_id: the source.
        status: how it was come by.
        note: what else a reader must know.
    """

    days: int
    source_id: str
    status: Status
    note: str


def fertile_period(species: str) -> FertilePeriod:
    """The period of a species, or the longest one for a bird without a figure."""
    table = _periods()
    return table.get(species, table[ANY])


@cache
def _periods() -> dict[str, FertilePeriod]:
    return {
        row["species"]: FertilePeriod(int(row["days"]), row["source_id"], Status(row["status"]), row["note"])
        for row in read_rows("fertile_period.csv")
    }
