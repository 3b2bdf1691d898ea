"""The published sources that the tables quote, and how far each was read."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files


class Status(StrEnum):
    """How a figure was come by."""

    SEEN = "SEEN"  # read in the source, often only its abstract or opening
    SEEN_SECOND_HAND = "SEEN-2nd"  # read in a page that quotes the source
    MEMORY = "MEMORY"  # not looked up; said wherever it is shown


READ_AS = {
    Status.SEEN: "read in the source",
    Status.SEEN_SECOND_HAND: "read where it is quoted",
    Status.MEMORY: "from memory",
}
"""How a figure was come by, in words."""


@dataclass(frozen=True, slots=True)
class Source:
    """One source.

    Attributes:
        id: the word by which tables name it.
        author: author or publisher.
        year: year of publication, or None where none was given.
        title: title, or what it is about where the title was not recorded.
        place: where it appeared, and which part was read.
        status: how it was read.
    """

    id: str
    author: str
    year: int | None
    title: str
    place: str
    status: Status

    def citation(self) -> str:
        """The source as one line for the reader."""
        return f"{self.words()} ({READ_AS[self.status]})"

    def words(self) -> str:
        """The source, without how it was read."""
        year = f" {self.year}" if self.year else ""
        return f"{self.author}{year}: {self.title}. {self.place}"

    def short(self) -> str:
        """Author and year."""
        return f"{self.author} {self.year or ''}".rstrip()


def read_rows(name: str) -> tuple[dict[str, str], ...]:
    """The rows of a table of this package, all cells as text."""
    text = (files("analytics.reference") / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


def number_or_none(cell: str) -> float | None:
    """A number, or None for an empty cell."""
    return float(cell) if cell else None


@cache
def source_table() -> dict[str, Source]:
    """Every source by its id."""
    return {
        row["id"]: Source(
            row["id"],
            row["author"],
            int(row["year"]) if row["year"] else None,
            row["title"],
            row["place"],
            Status(row["status"]),
        )
        for row in read_rows("sources.csv")
    }
