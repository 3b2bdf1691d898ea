"""The record sheets of the smallholding: same world and seed, same bytes."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby
from pathlib import Path

import numpy as np

from analytics.sheets.contract import SHEETS
from seed_demo.birds import birds_of
from seed_demo.draws import happens
from seed_demo.flock import (
    bird_rows,
    change_rows,
    diet_rows,
    fresh_egg_rows,
    lay_rows,
    pen_bird_rows,
    pen_rows,
    shell_rows,
    target_rows,
)
from seed_demo.hatching import hatch_count_rows
from seed_demo.machines import check_rows, climate_rows, event_rows, incubator_rows
from seed_demo.outcomes import Chances, Differences, Fate, draw_chances, draw_differences, draw_fate
from seed_demo.plan import Tray, plan
from seed_demo.records import (
    Cell,
    Row,
    Tally,
    batch_rows,
    candling_rows,
    chick_rows,
    opened_rows,
    tally,
    tray_row,
)
from seed_demo.world import World


@dataclass(frozen=True, slots=True)
class Truth:
    """What a world drew behind its records.

    Attributes:
        differences: how pens, machines and batches differ besides what is planted.
        chances: true chance of passing each step, tray by tray.
        fates: what truly became of each tray's eggs, in the same order.
    """

    differences: Differences
    chances: tuple[Chances, ...]
    fates: tuple[Fate, ...]


@dataclass(frozen=True, slots=True)
class Sheets:
    """Record sheets and the truth behind them.

    Attributes:
        rows: sheet -> rows in order; a column that a row does not name is blank.
        truth: what nobody can see.
    """

    rows: Mapping[str, tuple[Row, ...]]
    truth: Truth


def randomness(world: World) -> np.random.Generator:
    """The world's own chance, from its seed."""
    return np.random.Generator(np.random.PCG64(world.seed))


def generate(world: World, rng: np.random.Generator) -> Sheets:
    """Two years of record sheets.

    Args:
        world: what is true.
        rng: chance; `randomness(world)` for the records of the world's seed.
    """
    truth = draw_truth(world, rng)
    rows = _egg_sheets(world, truth, rng) | _other_sheets(world, truth, rng)
    return Sheets({sheet.name: tuple(rows[sheet.name]) for sheet in SHEETS}, truth)


def draw_truth(world: World, rng: np.random.Generator) -> Truth:
    """What became of all eggs, before anybody wrote anything down."""
    trays = plan(world, rng)
    differences = draw_differences(world, trays, rng)
    chances = tuple(draw_chances(world, tray, differences, rng) for tray in trays)
    fates = tuple(draw_fate(tray, chance, rng) for tray, chance in zip(trays, chances, strict=True))
    return Truth(differences, chances, fates)


def _egg_sheets(world: World, truth: Truth, rng: np.random.Generator) -> dict[str, Iterable[Row]]:
    """The sheets that follow the eggs, batch by batch."""
    _, stays = birds_of(world)
    sheets: dict[str, list[Row]] = {
        name: [] for name in ("trays", "candlings", "opened_eggs", "hatch_counts", "chicks")
    }
    for _, group in groupby(truth.fates, key=lambda fate: fate.tray.batch):
        fates = tuple(group)
        tallies = [tally(world, fate, rng) for fate in fates]
        for told in tallies:
            sheets["trays"].append(tray_row(world, told, stays, rng))
            sheets["candlings"].extend(candling_rows(told))
        _hatch_sheets(world, fates, tallies, sheets, rng)
    return {**sheets, "batches": batch_rows(_trays(truth))}


def _hatch_sheets(
    world: World,
    fates: tuple[Fate, ...],
    tallies: list[Tally],
    sheets: dict[str, list[Row]],
    rng: np.random.Generator,
) -> None:
    """Adds what was written down at and after a batch's hatch, when there was one."""
    if not fates[0].tray.batch.pulled_on:
        return
    if happens(rng, world.habits.hatch_counted):
        sheets["hatch_counts"].extend(hatch_count_rows(world, fates, rng))
    if happens(rng, world.habits.listed):
        sheets["opened_eggs"].extend(row for told in tallies if told.opened for row in opened_rows(told, rng))
    if happens(rng, world.habits.listed):
        sheets["chicks"].extend(row for told in tallies for row in chick_rows(told, rng))


def _other_sheets(world: World, truth: Truth, rng: np.random.Generator) -> dict[str, Iterable[Row]]:
    birds, stays = birds_of(world)
    batches = tuple(dict.fromkeys(tray.batch for tray in _trays(truth)))
    return {
        "pens": pen_rows(world),
        "incubators": incubator_rows(world),
        "birds": bird_rows(birds),
        "pen_birds": pen_bird_rows(stays),
        "diets": diet_rows(world),
        "changes": change_rows(world),
        "targets": target_rows(),
        "climate": tuple(climate_rows(world, batches, rng)),
        "checks": tuple(check_rows(world, rng)),
        "incubator_events": tuple(event_rows(world, rng)),
        "fresh_eggs": tuple(fresh_egg_rows(world, rng)),
        "shells": tuple(shell_rows(world, rng)),
        "lay": tuple(lay_rows(world, rng)),
    }


def _trays(truth: Truth) -> tuple[Tray, ...]:
    return tuple(fate.tray for fate in truth.fates)


def write_sheets(sheets: Sheets, folder: Path) -> None:
    """Writes one CSV file per sheet, as a breeder would hand them in."""
    folder.mkdir(parents=True, exist_ok=True)
    for sheet in SHEETS:
        names = [column.name for column in sheet.columns]
        with (folder / f"{sheet.name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(names)
            writer.writerows([_text(row.get(name)) for name in names] for row in sheets.rows[sheet.name])


def _text(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime):
        return cell.strftime("%Y-%m-%dT%H:%M")
    return cell.isoformat() if isinstance(cell, date) else str(cell)
