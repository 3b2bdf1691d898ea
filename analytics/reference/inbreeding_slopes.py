"""By how many points related parents lower a trait, as published."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from analytics.reference.sources import Status, read_rows


@dataclass(frozen=True, slots=True)
class InbreedingSlope:
    """One source's figure.

    Attributes:
        species: key of the bird.
        trait: what falls.
        points: change in points (of 100) for every 10 % more inbreeding, below 0 where it falls.
        as_printed: the figure in the source's own terms.
        source_id: the source.
        status: how it was read.
        note: what else a reader must know, or "".
    """

    species: str
    trait: str
    points: float
    as_printed: str
    source_id: str
    status: Status
    note: str


@cache
def inbreeding_slopes_table() -> tuple[InbreedingSlope, ...]:
    """Every row, in the order of the table."""
    return tuple(
        InbreedingSlope(
            row["species"],
            row["trait"],
            float(row["points"]),
            row["as_printed"],
            row["source_id"],
            Status(row["status"]),
            row["note"],
        )
        for row in read_rows("inbreeding_slopes.csv")
    )
