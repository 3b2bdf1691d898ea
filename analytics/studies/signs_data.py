"""The records that signs are read from, by species: trays, opened eggs, weighings, machine sheets, hours."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analytics.incubation.signs_conditions import Range
from analytics.incubation.signs_farm import Farm, Flags, Floats, with_likeness
from analytics.incubation.signs_hours import batch_hours
from analytics.measures.air_humidity import advised_humidity
from analytics.measures.hatch_timing import HatchCounts
from analytics.reference.settings import Quantity, settings_of, whole_range
from analytics.store.ladder import LadderTrays
from analytics.store.shells import ShellSample
from analytics.store.sign_records import SignRecords
from analytics.store.signs import BatchNotes, Key, OpenedEggs, Weighing

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
    """

    species: str
    farm: Farm
    wanted: Flags
    counts: Mapping[str, HatchCounts]


def sign_data(records: SignRecords) -> SignData:
    """The records of a species as the rules take them."""
    counts = {one.batch: one.counts for one in records.hatches if one.counts and one.species}
    farm = with_likeness(_farm(records, counts))
    return SignData(records.species, farm, records.ladder.wanted, counts)


def _farm(records: SignRecords, counts: Mapping[str, HatchCounts]) -> Farm:
    ladder, opened = records.ladder, records.opened
    label = ladder.labels
    keys = list(zip(label["batch"].tolist(), label["tray"].tolist(), strict=True))
    place = np.array([opened.place[key] for key in keys])
    return Farm(
        pen=label["pen"],
        batch=label["batch"],
        setter=label["setter"],
        hatcher=label["hatcher"],
        set_day=ladder.set_on.astype("datetime64[D]").astype(float),
        numbers={
            "storage_days": ladder.numbers["storage_days"],
            "storage_c": opened.storage_c[place],
            "hen_weeks": ladder.numbers["hen_weeks"],
            **_weights(records.weighed, keys),
        },
        signs={**_of_ladder(ladder), **_of_opened(opened, place)},
        feeds=ladder.diets,
        notes={**_by_word(records.notes), **batch_hours(counts)},
        shells=_thickness(records.shells),
        ranges={machine: _published(records.species, air) for machine, air in records.air.items()},
        alike={},
    )


def _weights(weighed: Mapping[Key, Weighing], keys: Sequence[Key]) -> dict[str, Floats]:
    of_tray = [weighed.get(key) for key in keys]
    losses = [one.water_loss if one and one.water_loss is not None else np.nan for one in of_tray]
    return {
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


def _by_word(notes: Mapping[str, BatchNotes]) -> dict[str, dict[str, float]]:
    """Word -> batch -> value."""
    found: dict[str, dict[str, float]] = {}
    for batch, one in notes.items():
        for word, value in one.numbers.items():
            found.setdefault(word, {})[batch] = value
    return found


def _thickness(samples: Sequence[ShellSample]) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for one in samples:
        if one.thickness_mm is not None:
            found.setdefault(one.pen, {})[one.sampled_on.isoformat()] = one.thickness_mm
    return found


def _published(species: str, air: str) -> dict[str, Range]:
    """Word of a condition -> what sources advise or measured for the bird in such a machine."""
    found: dict[str, Range] = {}
    for words, quantity in (
        (("setter_c", "reference_c"), Quantity.SETTER_C),
        (("hatcher_c",), Quantity.HATCHER_C),
    ):
        ends = whole_range(settings_of(species, quantity, air))
        if ends:
            found.update(dict.fromkeys(words, (ends[0] - SLACK_C, ends[1] + SLACK_C)))
    water = whole_range(settings_of(species, Quantity.WATER_LOSS_PCT, air))
    if water:
        found["water_loss"] = water[0] / 100, water[1] / 100
    for word, is_hatcher in (("setter_rh", False), ("hatcher_rh", True)):
        advised = advised_humidity(species, air, hatcher=is_hatcher)
        if advised:
            highs = [one.low_pct if one.high_pct is None else one.high_pct for one in advised]
            found[word] = min(one.low_pct for one in advised), max(highs)
    return found
