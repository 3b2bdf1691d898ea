"""Every row of every table as one list: what it says, of which bird, by whom, and how it was read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from analytics.reference.benchmarks import benchmarks_table
from analytics.reference.hatch_shifts import hatch_shifts_table
from analytics.reference.inbreeding_slopes import inbreeding_slopes_table
from analytics.reference.settings import Quantity, Setting, settings_table
from analytics.reference.signs import sign_causes_table, stage_signs_table
from analytics.reference.sources import Status, read_rows, source_table
from analytics.reference.species import death_classes_table, species_table

HYGIENE = "hygiene and health"
ANY_BIRD = "any bird"
_QUANTITIES = {
    Quantity.SETTER_C: ("temperature", "setter"),
    Quantity.HATCHER_C: ("temperature", "hatcher"),
    Quantity.SETTER_WET_BULB_C: ("humidity and water loss", "setter"),
    Quantity.HATCHER_WET_BULB_C: ("humidity and water loss", "hatcher"),
    Quantity.SETTER_RH_PCT: ("humidity and water loss", "setter, relative humidity"),
    Quantity.HATCHER_RH_PCT: ("humidity and water loss", "hatcher, relative humidity"),
    Quantity.WATER_LOSS_PCT: ("humidity and water loss", "water lost"),
}
_SHIFTS = {
    "storage": "a day of storage",
    "shell_warmth_week_2": "eggshell warmer in week 2",
    "shell_warmth_week_3": "eggshell warmer in week 3",
    "shell_warmth_whole_term": "eggshell warmer for the whole term",
    "degree_lore": "lore, not used",
}

_BENCHMARKS = {
    "hatch_of_set": ("usual rates", "chicks"),
    "fertility": ("usual rates", "fertile eggs"),
    "hatch_of_fertile": ("usual rates", "chicks"),
    "early_loss": ("usual rates", "dead early"),
    "mid_loss": ("usual rates", "dead in the middle"),
    "late_loss": ("usual rates", "dead late"),
    "shell_loss": ("usual rates", "pipped, not out"),
    "females_per_male": ("males and the fertile period", "males to females"),
    "candling_day": ("fertile or infertile, and death by stage", "candled on"),
}


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of a table.

    Attributes:
        topic: what it belongs to.
        bird: names of the birds it is for.
        says: the figure or sentence.
        source: author, year, title and place; several are parted by a semicolon.
        status: how it was read.
        note: what else a reader must know, or "".
    """

    topic: str
    bird: str
    says: str
    source: str
    status: Status
    note: str


@cache
def catalogue() -> tuple[Entry, ...]:
    """Every row with its source, by topic in the order of the tables."""
    rows = [*_days(), *_transfers(), *_settings(), *_shifts(), *_facts(), *_classes(), *_stages(), *_causes()]
    rows += [*_slopes(), *_marks(), *_benchmarks()]
    topics = list(dict.fromkeys(row.topic for row in rows))
    topics.sort(key=lambda topic: topic == HYGIENE)
    return tuple(row for topic in topics for row in rows if row.topic == topic)


def with_words(wanted: str, status: Status | None = None) -> tuple[Entry, ...]:
    """The entries that have all the words asked for, in any order and either case.

    Args:
        wanted: words or beginnings of words, parted by blanks; "" for all entries.
        status: only those that were read so.
    """
    asked = wanted.casefold().split()
    return tuple(
        entry
        for entry in catalogue()
        if status in (None, entry.status) and all(word in _text_of(entry) for word in asked)
    )


def birds(species: tuple[str, ...]) -> str:
    """Names of birds in a row, as read on a screen."""
    known = species_table()
    return ", ".join(known[key].name if key in known else ANY_BIRD for key in species)


def cited(source_ids: tuple[str, ...]) -> str:
    """Sources in a row, without how they were read."""
    return "; ".join(source_table()[name].words() for name in source_ids)


def _text_of(entry: Entry) -> str:
    return " ".join((entry.topic, entry.bird, entry.says, entry.source, entry.note)).casefold()


def _days() -> Iterator[Entry]:
    for bird in species_table().values():
        for row in bird.published:
            yield Entry(
                "days to hatch", bird.name, f"{row.as_printed} ({row.basis})", cited((row.source_id,)),
                row.status, "",
            )  # fmt: skip


def _transfers() -> Iterator[Entry]:
    for bird in species_table().values():
        if bird.transfer_days:
            first, last = bird.transfer_days
            days = f"day {first}" if first == last else f"days {first}-{last}"
            says = f"moved to the hatcher on {days}"
            yield Entry("days to hatch", bird.name, says, cited((bird.source_id,)), bird.status, bird.note)


def _settings() -> Iterator[Entry]:
    for row in settings_table():
        topic, what = _QUANTITIES[row.quantity]
        says = f"{what}: {row.as_printed}{_in_our_units(row)}"
        yield Entry(topic, birds(row.species), says, cited((row.source_id,)), row.status, row.note)


def _in_our_units(row: Setting) -> str:
    """°C behind a figure in °F, and what kind of machine it is for."""
    air = "" if row.air == "any" else f"; {row.air} air"
    if "°F" not in row.as_printed or not row.quantity.endswith("_c"):
        return air
    high = row.low if row.high is None else row.high
    degrees = f"{row.low:.1f}" if row.low == high else f"{row.low:.1f}-{high:.1f}"
    return f" ({degrees} °C){air}"


def _shifts() -> Iterator[Entry]:
    for row in hatch_shifts_table():
        ends = f"{row.low:g}" if row.low == row.high else f"{row.low:g}-{row.high:g}"
        says = f"{_SHIFTS[row.shift]}: {ends} {row.unit} ({row.as_printed})"
        yield Entry(
            "hatch timing", birds((row.species,)), says, cited((row.source_id,)), row.status, row.note
        )


def _facts() -> Iterator[Entry]:
    for row in read_rows("facts.csv"):
        yield Entry(
            row["topic"], birds(tuple(row["species"].split())), row["fact"], cited((row["source_id"],)),
            Status(row["status"]), row["note"],
        )  # fmt: skip


def _classes() -> Iterator[Entry]:
    for key, divisions in death_classes_table().items():
        for row, used in divisions:
            yield Entry(
                "death by stage, by day", birds((key,)), row.words(), cited((row.source_id,)), row.status,
                "penwise uses this one" if used else "another division",
            )  # fmt: skip


def _stages() -> Iterator[Entry]:
    for row in stage_signs_table():
        days = f"day {row.from_day}" if row.from_day == row.to_day else f"days {row.from_day}-{row.to_day}"
        says = f"{'fresh egg' if row.to_day == 0 else days}: {row.sign}"
        yield Entry(
            "what is seen, by day", birds((row.species,)), says, cited((row.source_id,)), row.status, ""
        )


def _causes() -> Iterator[Entry]:
    for row in sign_causes_table():
        says = f"{row.name}: {row.cause} ({row.group}, {row.strength})"
        yield Entry(
            "signs and candidate causes", ANY_BIRD, says, cited(row.source_ids), row.status, row.next_check
        )


def _slopes() -> Iterator[Entry]:
    for row in inbreeding_slopes_table():
        says = f"{row.trait}: {row.as_printed} inbreeding"
        yield Entry(
            "related parents", birds((row.species,)), says, cited((row.source_id,)), row.status, row.note
        )


def _marks() -> Iterator[Entry]:
    for row in read_rows("marks.csv"):
        says = f"usual mark of hatch of set: {float(row['hatch_of_set']):.0%}"
        yield Entry(
            "usual mark", birds((row["species"],)), says, cited((row["source_id"],)), Status(row["status"]),
            row["note"],
        )  # fmt: skip


def _benchmarks() -> Iterator[Entry]:
    for row in benchmarks_table():
        topic, what = _BENCHMARKS[row.measure]
        yield Entry(
            topic, birds((row.species,)), f"{what}: {row.as_printed}", cited((row.source_id,)), row.status,
            row.note,
        )  # fmt: skip
