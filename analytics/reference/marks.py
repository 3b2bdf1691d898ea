"""What a hatch is held against where no aim is written down: a rule of thumb, and said to be one."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from analytics.reference.sources import Status, read_rows

ANY = "any"


@dataclass(frozen=True, slots=True)
class UsualMark:
    """A usual rate.

    Attributes:
        hatch_of_set: chicks per egg set, 0..1.
        source_id: the source.
        status: how it was come by.
        note: what else a reader must know.
    """

    hatch_of_set: float
    source_id: str
    status: Status
    note: str


def usual_mark(species: str) -> UsualMark:
    """The mark of a species, or the one for any bird."""
    table = _marks()
    return table.get(species, table[ANY])


@cache
def _marks() -> dict[str, UsualMark]:
    return {
        row["species"]: UsualMark(
            float(row["hatch_of_set"]), row["source_id"], Status(row["status"]), row["note"]
        )
        for row in read_rows("marks.csv")
    }
