"""What opened eggs and a hatch show, and what it may come from.

Every cause is a candidate, never a finding. The rows of a sign stand in the order in which to look, not in
that of likelihood: a late hatch has many causes that are ruled out before the thermostat is blamed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from analytics.reference.sources import Status, read_rows


class Strength(StrEnum):
    """What speaks for a sign pointing to a cause, before this farm's own records are looked at."""

    MEASURED = "measured"  # a study whose abstract or table was read
    SHEET = "sheet"  # named by extension sheets or checklists
    CONTESTED = "contested"  # studies disagree, or trials did not support it
    MEMORY = "memory"  # from memory, no source


@dataclass(frozen=True, slots=True)
class CandidateCause:
    """One thing that a sign may come from.

    Attributes:
        sign: the word for the sign.
        name: the sign on screens.
        cause: the candidate, in words.
        group: `flock`, `handling` or `incubator`.
        strength: what speaks for it.
        source_ids: the sources; where several sheets name the sign, all of them.
        status: how they were read.
        next_check: what to look at next, our own advice.
    """

    sign: str
    name: str
    cause: str
    group: str
    strength: Strength
    source_ids: tuple[str, ...]
    status: Status
    next_check: str


@dataclass(frozen=True, slots=True)
class StageSign:
    """What is seen of an embryo at a day.

    Attributes:
        species: the bird, or `any`.
        from_day: first day; 0 is the egg before incubation.
        to_day: last day.
        sign: what is seen.
        source_id: the source.
        status: how it was read.
    """

    species: str
    from_day: int
    to_day: int
    sign: str
    source_id: str
    status: Status


def causes_of(sign: str) -> tuple[CandidateCause, ...]:
    """The candidates of a sign, in the order in which to look; empty for a sign not in the table."""
    return tuple(row for row in sign_causes_table() if row.sign == sign)


@cache
def sign_causes_table() -> tuple[CandidateCause, ...]:
    """Every row, in the order of the table."""
    return tuple(
        CandidateCause(
            sign=row["sign"],
            name=row["name"],
            cause=row["cause"],
            group=row["group"],
            strength=Strength(row["strength"]),
            source_ids=tuple(row["source_ids"].split()),
            status=Status(row["status"]),
            next_check=row["next_check"],
        )
        for row in read_rows("sign_causes.csv")
    )


@cache
def stage_signs_table() -> tuple[StageSign, ...]:
    """Every row, in the order of the table."""
    return tuple(
        StageSign(
            row["species"],
            int(row["from_day"]),
            int(row["to_day"]),
            row["sign"],
            row["source_id"],
            Status(row["status"]),
        )
        for row in read_rows("stage_signs.csv")
    )
