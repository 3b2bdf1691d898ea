"""Published figures to hold a hatch against, each with what it is a share of, its source.

Sources disagree, and for most birds there is none; a face says which of the two it is. A figure of one base
is never held against a rate of another.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from analytics.reference.sources import Status, read_rows

ANY = "any"


@dataclass(frozen=True, slots=True)
class Benchmark:
    """One source's figure.

    Attributes:
        species: the bird, or `any`.
        measure: a measure word, `females_per_male` or `candling_day`.
        low: lower end: a share 0..1, females to a male, or a day of incubation.
        high: upper end, equal where the source gives one figure.
        base: what it is a share of, or its unit.
        as_printed: the figure in the source's own terms.
        source_id: the source.
        status: how it was read.
        note: what else a reader must know, or "".
    """

    species: str
    measure: str
    low: float
    high: float
    base: str
    as_printed: str
    source_id: str
    status: Status
    note: str


def benchmarks_of(species: str, measure: str) -> tuple[Benchmark, ...]:
    """Every source's figure of a bird, else those for any bird; empty where none was found published."""
    rows = [row for row in benchmarks_table() if row.measure == measure]
    own = tuple(row for row in rows if row.species == species)
    return own or tuple(row for row in rows if row.species == ANY)


@cache
def benchmarks_table() -> tuple[Benchmark, ...]:
    """Every row, in the order of the table."""
    return tuple(
        Benchmark(
            species=row["species"],
            measure=row["measure"],
            low=float(row["low"]),
            high=float(row["high"]),
            base=row["base"],
            as_printed=row["as_printed"],
            source_id=row["source_id"],
            status=Status(row["status"]),
            note=row["note"],
        )
        for row in read_rows("benchmarks.csv")
    )
