"""The records that signs are read from, by species: trays, opened eggs, weighings, machine sheets, hours."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import duckdb
import numpy as np

from analytics.incubation.signs_conditions import Range
from analytics.incubation.signs_farm import Farm, Flags, Floats
from analytics.incubation.signs_hours import batch_hours
from analytics.measures.air_humidity import advised_humidity
from analytics.measures.hatch_timing import HatchCounts
from analytics.options import Selection
from analytics.reference.settings import Quantity, settings_of, whole_range
from analytics.store.ladder import LadderTrays, ladder_trays
from analytics.store.shells import shell_samples
from analytics.store.signs import OpenedEggs, batch_notes, how_alike, opened_eggs, weighings
from analytics.store.timing import counted_batches
from analytics.values import Period

SLACK_C = 0.28
"""Half a degree Fahrenheit either side of a setpoint does no harm (Mississippi State University Extension,
Important incubation factors: seen)."""
LADDER_SIGNS = {
    "infertile": "fertile",
    "dead_first_week": "early",
    "dead_mid": "mid",
    "dead_late": "late",
    "pipped": "shell",
}
"""Sign -> step whose losses it is."""


@dataclass(frozen=True, slots=True)
class SignData:
    """One species.

    Attributes:
        species: key.
        farm: its trays.
        wanted: trays of the selection.
        counts: batch -> counts of its hatch.
        clear: whether clear eggs are among those taken as infertile.
        last_day: last day of hatch.
    """

    species: str
    farm: Farm
    wanted: Flags
    counts: Mapping[str, HatchCounts]
    clear: bool
    last_day: date


def sign_data(connection: duckdb.DuckDBPyConnection, species: str, period: Period) -> SignData | None:
    """All closed trays of a species that hatched in a period, those of `asked_for` marked.

    Args:
        connection: on which `asked_for` was called.
        species: key.
        period: days of hatch.
    """
    ladder = ladder_trays(connection, Selection(period, (species,)), "staged")
    if not len(ladder.eggs):
        ladder = ladder_trays(connection, Selection(period, (species,)), "hatch")
    if not len(ladder.eggs):
        return None
    last = max(ladder.hatch_on.tolist())
    counts = {one.batch: one.counts for one in counted_batches(connection) if one.counts and one.species}
    return SignData(
        species=species,
        farm=_farm(connection, ladder, counts, last),
        wanted=ladder.wanted,
        counts=counts,
        clear=bool(ladder.numbers["clear"].sum() > 0),
        last_day=last,
    )


def _farm(
    connection: duckdb.DuckDBPyConnection, ladder: LadderTrays, counts: Mapping[str, HatchCounts], last: date
) -> Farm:
    label, opened = ladder.labels, opened_eggs(connection)
    keys = list(zip(label["batch"].tolist(), label["tray"].tolist(), strict=True))
    place = np.array([opened.place[key] for key in keys])
    notes = {name: one.numbers for name, one in batch_notes(connection).items()}
    return Farm(
        pen=label["pen"],
        batch=label["batch"],
        setter=label["setter"],
        hatcher=label["hatcher"],
        set_day=ladder.set_on.astype("datetime64[D]").astype(float),
        numbers=_numbers(connection, ladder, keys, opened.storage_c[place]),
        signs={**_of_ladder(ladder), **_of_opened(opened, place)},
        feeds=ladder.diets,
        notes={**_by_word(notes), **batch_hours(counts)},
        shells=_shells(connection),
        ranges=published_ranges(connection, str(label["species"][0])),
        alike=how_alike(connection, last),
    )


def _numbers(
    connection: duckdb.DuckDBPyConnection,
    ladder: LadderTrays,
    keys: list[tuple[str, str]],
    storage_c: Floats,
) -> dict[str, Floats]:
    weighed = weighings(connection)
    of_tray = [weighed.get(key) for key in keys]
    losses = [one.water_loss if one and one.water_loss is not None else np.nan for one in of_tray]
    return {
        "storage_days": ladder.numbers["storage_days"],
        "storage_c": storage_c,
        "hen_weeks": ladder.numbers["hen_weeks"],
        "egg_g": np.array([one.egg_g if one else np.nan for one in of_tray]),
        "water_loss": np.array(losses, float),
    }


def _of_ladder(ladder: LadderTrays) -> dict[str, tuple[Floats, Floats]]:
    """Eggs lost in each step and eggs that entered it."""
    entering = np.column_stack([ladder.eggs, ladder.passed[:, :-1]])
    found = {}
    for sign, step in LADDER_SIGNS.items():
        if step in ladder.steps:
            at = ladder.steps.index(step)
            eggs = np.where(entering[:, at] > 0, entering[:, at], np.nan)
            found[sign] = (np.maximum(eggs - ladder.passed[:, at], 0.0), eggs)
    return found


def _of_opened(opened: OpenedEggs, place: np.ndarray) -> dict[str, tuple[Floats, Floats]]:
    return {sign: (seen[place], eggs[place]) for sign, (seen, eggs) in opened.signs.items()}


def _by_word(notes: Mapping[str, Mapping[str, float]]) -> dict[str, dict[str, float]]:
    """Word -> batch -> value."""
    found: dict[str, dict[str, float]] = {}
    for batch, numbers in notes.items():
        for word, value in numbers.items():
            found.setdefault(word, {})[batch] = value
    return found


def _shells(connection: duckdb.DuckDBPyConnection) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for one in shell_samples(connection):
        if one.thickness_mm is not None:
            found.setdefault(one.pen, {})[one.sampled_on.isoformat()] = one.thickness_mm
    return found


def published_ranges(connection: duckdb.DuckDBPyConnection, species: str) -> dict[str, dict[str, Range]]:
    """Machine -> word of a condition -> what sources advise or measured for the bird in such a machine."""
    rows = connection.execute(
        "SELECT incubator, coalesce(air, 'any') FROM incubators WHERE withdrawn_in IS NULL"
    )
    return {name: _published(species, air) for name, air in rows.fetchall()}


def _published(species: str, air: str) -> dict[str, Range]:
    setter = whole_range(settings_of(species, Quantity.SETTER_C, air))
    hatcher = whole_range(settings_of(species, Quantity.HATCHER_C, air))
    water = whole_range(settings_of(species, Quantity.WATER_LOSS_PCT, air))
    found: dict[str, Range] = {}
    if setter:
        found["setter_c"] = found["reference_c"] = setter[0] - SLACK_C, setter[1] + SLACK_C
    if hatcher:
        found["hatcher_c"] = hatcher[0] - SLACK_C, hatcher[1] + SLACK_C
    if water:
        found["water_loss"] = water[0] / 100, water[1] / 100
    for word, is_hatcher in (("setter_rh", False), ("hatcher_rh", True)):
        advised = advised_humidity(species, air, hatcher=is_hatcher)
        if advised:
            lows = [one.low_pct for one in advised]
            found[word] = (
                min(lows),
                max(one.low_pct if one.high_pct is None else one.high_pct for one in advised),
            )
    return found
