"""Birds: how long their eggs take, when they are moved to the hatcher, how their dead are classed.

Sources disagree; every published figure stands in a row of its own with its source, and a species'
shortest and longest days are the ends of all of them. None of them is a judgement on a machine.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache

from analytics.errors import WrongUsage
from analytics.reference.sources import Status, read_rows, source_table


@dataclass(frozen=True, slots=True)
class PublishedDays:
    """What one source says of the days from setting to hatch.

    Attributes:
        basis: `listed` in a table for keepers, `measured` on a flock (mean or peak of the hatch), or a
            measured `window` from the first chick to the last.
        shortest: fewest days.
        longest: most days (equal where the source gives one figure).
        as_printed: the figure in the source's own terms.
        source_id: the source.
        status: how it was read.
    """

    basis: str
    shortest: float
    longest: float
    as_printed: str
    source_id: str
    status: Status


@dataclass(frozen=True, slots=True)
class StageDays:
    """Where early, middle and late death are divided, by day of incubation.

    Attributes:
        early_to: last day of early death.
        mid_to: last day of middle death; later is late.
        source_id: the source of this division.
        status: how it was read.
        others: other published divisions, as text with their sources.
    """

    early_to: int
    mid_to: int
    source_id: str
    status: Status
    others: str

    def words(self) -> str:
        """The division as it is printed beside a percentage."""
        return f"early 1-{self.early_to}, mid {self.early_to + 1}-{self.mid_to}, late from {self.mid_to + 1}"


@dataclass(frozen=True, slots=True)
class Species:
    """One kind of bird.

    Attributes:
        key: the word in the record sheets.
        name: the name on screens.
        published: what each source says of the incubation period.
        transfer_days: first and last usual day of the move to the hatcher, or None where none was found.
        stages: division of embryo death by day, or None where none was found published.
        source_id: source of the transfer days (of the period where there are none).
        status: how it was read.
        note: what else a reader must know, or "".
    """

    key: str
    name: str
    published: tuple[PublishedDays, ...]
    transfer_days: tuple[int, int] | None
    stages: StageDays | None
    source_id: str
    status: Status
    note: str

    @property
    def shortest_days(self) -> float:
        """Fewest days from setting to hatch in any source."""
        return min(days.shortest for days in self.published)

    @property
    def longest_days(self) -> float:
        """Most days in any source; a whole number counts to the end of that day for a late chick."""
        return max(days.longest for days in self.published)

    @property
    def usual_days(self) -> tuple[float, float]:
        """From the shortest to the longest that tables for keepers list, without measured flocks."""
        listed = [days for days in self.published if days.basis == "listed"]
        return min(days.shortest for days in listed), max(days.longest for days in listed)

    @property
    def early_to_day(self) -> int | None:
        """Last day of early death, or None where no division was found published."""
        return self.stages.early_to if self.stages else None

    @property
    def mid_to_day(self) -> int | None:
        """Last day of middle death, or None likewise."""
        return self.stages.mid_to if self.stages else None


@cache
def species_table() -> dict[str, Species]:
    """Every species by its key, in the order of the table."""
    return {row["key"]: _species(row) for row in read_rows("species.csv")}


@cache
def death_classes_table() -> dict[str, tuple[tuple[StageDays, bool], ...]]:
    """Every published division of embryo death by species, each with whether it is the one in use."""
    by_key: dict[str, list[dict[str, str]]] = {}
    for row in read_rows("death_classes.csv"):
        by_key.setdefault(row["species"], []).append(row)
    return {
        key: tuple(
            (
                _division(row, "; ".join(map(_other_words, others)) if row["used"] == "yes" else ""),
                row["used"] == "yes",
            )
            for row in rows
        )
        for key, rows in by_key.items()
        for others in ([row for row in rows if row["used"] == "no"],)
    }


def species_name(key: str) -> str:
    """The name on screens.

    Raises:
        WrongUsage: no such species.
    """
    known = species_table()
    if key not in known:
        raise WrongUsage(
            f"The species {key!r}", "It is none that penwise knows", f"Use one of {', '.join(known)}"
        )
    return known[key].name


def stage_words(key: str) -> str:
    """Which days early, middle and late death mean for a species, and who says so."""
    known = species_table().get(key)
    if known is None or known.stages is None:
        return (
            "No published division of early, middle and late death was found for this species; "
            "the stages are as you counted them."
        )
    by_day = f"Stages by day of incubation: {known.stages.words()} ({_author(known.stages.source_id)})"
    others = re.sub(r"\((\w+)\)", lambda found: f"({_author(found[1])})", known.stages.others)
    return f"{by_day}; others divide them otherwise: {others}.".replace("-", "–")


def _author(source_id: str) -> str:
    return source_table()[source_id].short()


def _species(row: dict[str, str]) -> Species:
    days = row["transfer_from_day"], row["transfer_to_day"]
    return Species(
        key=row["key"],
        name=row["name"],
        published=_published()[row["key"]],
        transfer_days=(int(days[0]), int(days[1])) if all(days) else None,
        stages=_stages(row["key"]),
        source_id=row["source_id"],
        status=Status(row["status"]),
        note=row["note"],
    )


def _stages(key: str) -> StageDays | None:
    used = [division for division, in_use in death_classes_table().get(key, ()) if in_use]
    return used[0] if used else None


def _division(row: dict[str, str], others: str) -> StageDays:
    return StageDays(
        int(row["early_to_day"]), int(row["mid_to_day"]), row["source_id"], Status(row["status"]), others
    )


def _other_words(row: dict[str, str]) -> str:
    early, mid = int(row["early_to_day"]), int(row["mid_to_day"])
    return f"1-{early} / {early + 1}-{mid} / {mid + 1}-{row['last_day']} ({row['source_id']})"


@cache
def _published() -> dict[str, tuple[PublishedDays, ...]]:
    by_key: dict[str, tuple[PublishedDays, ...]] = {}
    for row in read_rows("incubation_days.csv"):
        days = PublishedDays(
            row["basis"],
            float(row["shortest_days"]),
            float(row["longest_days"]),
            row["as_printed"],
            row["source_id"],
            Status(row["status"]),
        )
        by_key[row["species"]] = (*by_key.get(row["species"], ()), days)
    return by_key
