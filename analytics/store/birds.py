"""Birds with their parents, and which pen they stood in when."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import duckdb

from analytics.breeders.pedigree import Descent
from analytics.store.changes import DatedChange
from analytics.store.changes_dated import male_arrivals, written_changes

_BIRDS = """
WITH live AS (SELECT *, label_of(bird) AS key FROM birds WHERE withdrawn_in IS NULL)
SELECT b.bird, b.sex, coalesce(s.bird, b.sire, ''), coalesce(d.bird, b.dam, ''), b.hatched_on
FROM live b
LEFT JOIN live s ON s.key = label_of(b.sire)
LEFT JOIN live d ON d.key = label_of(b.dam)
ORDER BY b.key
"""
_STAYS = """
SELECT p.pen, b.bird, b.sex, p.species, s."from", s."to"
FROM pen_birds s
JOIN pens p ON label_of(p.pen) = label_of(s.pen) AND p.withdrawn_in IS NULL
JOIN birds b ON label_of(b.bird) = label_of(s.bird) AND b.withdrawn_in IS NULL
WHERE s.withdrawn_in IS NULL
ORDER BY p.pen, s."from", b.bird
"""
_MALES_KEPT = "SELECT pen, males FROM pens WHERE withdrawn_in IS NULL ORDER BY pen"


@dataclass(frozen=True, slots=True)
class Stay:
    """A bird's time in a pen, both days included.

    Attributes:
        pen: label.
        bird: label.
        sex: m or f.
        species: of the pen.
        start: first day.
        end: last day, or None = still there.
    """

    pen: str
    bird: str
    sex: str
    species: str
    start: date
    end: date | None

    def holds(self, day: date) -> bool:
        """Whether the bird was there on that day."""
        return self.start <= day and (self.end is None or day <= self.end)


@dataclass(frozen=True, slots=True)
class MalesWritten:
    """What the sheets say of males.

    Attributes:
        stood: stays of males.
        kept: pen -> males in it at a time, None = not written.
        changes: all rows of the sheet changes.
        arrivals: pen and first day of each male's stay.
    """

    stood: tuple[Stay, ...]
    kept: Mapping[str, int | None]
    changes: tuple[DatedChange, ...]
    arrivals: tuple[tuple[str, date], ...]


def descents(connection: duckdb.DuckDBPyConnection) -> tuple[Descent, ...]:
    """Every live bird with its parents, each parent as its own row spells it.

    Args:
        connection: from `counting`.
    """
    return tuple(Descent(*row) for row in connection.execute(_BIRDS).fetchall())


def stays(connection: duckdb.DuckDBPyConnection) -> tuple[Stay, ...]:
    """Every live stay of a live bird in a live pen, by pen and day.

    Args:
        connection: from `counting`.
    """
    return tuple(Stay(*row) for row in connection.execute(_STAYS).fetchall())


def males_written(connection: duckdb.DuckDBPyConnection) -> MalesWritten:
    """All that says which male stood where and when.

    Args:
        connection: from `counting`.
    """
    kept = {str(pen): males for pen, males in connection.execute(_MALES_KEPT).fetchall()}
    stood = tuple(stay for stay in stays(connection) if stay.sex == "m")
    return MalesWritten(stood, kept, written_changes(connection), male_arrivals(connection))
