"""Sheets of the pens: mating groups, feeds, changes, laying, shells, fresh eggs, aims, birds."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, timedelta

import numpy as np

from seed_demo.birds import Bird, Stay
from seed_demo.draws import happens, how_many, normal
from seed_demo.records import Row
from seed_demo.world import CHUKAR, QUAIL, STEPS, TODAY, Pen, World

_FEED = "breeder crumble"
_SUPPLEMENT = "crushed shell, free choice"
_SHELL_MM = {QUAIL: 0.162, CHUKAR: 0.25}
"""Quail: mean mineral shell 0.162 mm (Teusan et al., seen). Chukar: from memory."""
_CALCIUM_FED = 2.9
_CALCIUM_MORE = 3.9
_SAMPLED = tuple(date(year, month, 10) for year in (2025, 2026) for month in (2, 6, 9))
_FRESH = (date(2025, 5, 6), date(2025, 10, 21), date(2026, 4, 28), date(2026, 9, 8))
_FRESH_EGGS = 12
_AIMS = (
    (QUAIL, "fertility", 0.9), (QUAIL, "hatch_of_set", 0.75), (QUAIL, "hatch_of_fertile", 0.85),
    (CHUKAR, "fertility", 0.85), (CHUKAR, "hatch_of_set", 0.65),
)  # fmt: skip


def pen_rows(world: World) -> Iterator[Row]:
    """The sheet of pens."""
    for pen in world.pens:
        yield {
            "pen": pen.name,
            "species": pen.species,
            "line": pen.line or None,
            "hens_hatched_on": pen.hens_hatched_on,
            "from": pen.start,
            "to": pen.end,
            "males": pen.males,
            "females": pen.females,
        }


def diet_rows(world: World) -> Iterator[Row]:
    """The sheet of diets: one feed for all, but for the pens whose diet was changed."""
    for pen in world.pens:
        changed = _diet_change(world, pen)
        if changed is None:
            yield _diet(pen, pen.start, pen.end, _CALCIUM_FED, 20.0, None)
            continue
        kind, day = changed
        yield _diet(pen, pen.start, day - timedelta(days=1), _CALCIUM_FED, 20.0, None)
        if kind == "supplement":
            yield _diet(pen, day, pen.end, _CALCIUM_MORE, 20.0, _SUPPLEMENT)
        else:
            yield _diet(pen, day, pen.end, _CALCIUM_FED, 22.0, None)


def _diet_change(world: World, pen: Pen) -> tuple[str, date] | None:
    for effect in world.planted:
        if effect.factor == "diet" and effect.level == pen.name and effect.start:
            return effect.kind, effect.start
    return None


def _diet(pen: Pen, start: date, end: date | None, calcium: float, protein: float, extra: str | None) -> Row:
    return {
        "pen": pen.name,
        "from": start,
        "to": end,
        "feed": _FEED,
        "calcium_pct": calcium,
        "protein_pct": protein,
        "supplement": extra,
    }


def change_rows(world: World) -> Iterator[Row]:
    """The sheet of changes: what the keeper did on purpose (what went wrong by itself is not in it)."""
    for pen in world.pens:
        changed = _diet_change(world, pen)
        if changed and changed[0] == "supplement":
            yield _change(changed[1], "pen", pen.name, "calcium supplement", "some soft shells")
        elif changed:
            yield _change(changed[1], "pen", pen.name, "protein 20 to 22 %", "hens were thin")
    hot = next(effect for effect in world.planted if effect.step == "temperature")
    if hot.end:
        mended = hot.end + timedelta(days=1)
        yield _change(mended, "incubator", hot.level, "thermostat replaced", "check showed it too warm")
    _, busy_end = world.busy
    yield _change(
        busy_end + timedelta(days=1), "storage", None, "set every week again", "too many eggs waiting"
    )
    yield _change(date(2025, 9, 3), "storage", None, "eggs kept in the cellar", "the shed was too warm")
    yield _change(date(2025, 12, 6), "pen", "Cedar", "new male", "the old one died")
    yield _change(date(2026, 5, 4), "all", None, "lamps on until nine", "shorter days for the hens before")


def _change(day: date, scope: str, target: str | None, what: str, why: str) -> Row:
    return {"changed_on": day, "scope": scope, "target": target, "what": what, "why": why}


def target_rows() -> Iterator[Row]:
    """The sheet of targets."""
    for species, measure, target in _AIMS:
        yield {"species": species, "measure": measure, "target": target}


def fresh_egg_rows(world: World, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of fresh eggs: a dozen of most pens on a few days, of all on the last; true fertility."""
    for day in _FRESH:
        for pen in world.pens:
            if (happens(rng, 0.6) or day == _FRESH[-1]) and pen.has(day):
                eggs = _FRESH_EGGS * world.eggs_times
                fertile = how_many(rng, eggs, _fertility(world, pen, day))
                yield {"pen": pen.name, "opened_on": day, "eggs": eggs, "fertile": fertile}


def _fertility(world: World, pen: Pen, day: date) -> float:
    base = world.base[pen.species][STEPS.index("fertile")]
    odds = np.log(base / (1 - base)) + sum(
        effect.size
        for effect in world.planted
        if effect.factor == "pen" and effect.level == pen.name and effect.start and effect.start <= day
    )
    return float(1 / (1 + np.exp(-odds)))


def shell_rows(world: World, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of shells: ten eggs of most pens three times a year."""
    for day in _SAMPLED:
        for pen in world.pens:
            if pen.has(day) and happens(rng, 0.8):
                yield _shell(pen, day, _SHELL_MM[pen.species] + _thicker(world, pen, day), rng)


def _thicker(world: World, pen: Pen, day: date) -> float:
    return sum(
        effect.size
        for effect in world.planted
        if effect.step == "shell_mm" and effect.level == pen.name and effect.start and effect.start <= day
    )


def _shell(pen: Pen, day: date, thickness: float, rng: np.random.Generator) -> Row:
    weight = 12.1 if pen.species == QUAIL else 21.0
    return {
        "pen": pen.name,
        "sampled_on": day,
        "eggs": 10,
        "thickness_mm": round(thickness + normal(rng, 0.003), 3),
        "specific_gravity": round(1.068 + 0.2 * (thickness - _SHELL_MM[pen.species]) + normal(rng, 0.001), 3),
        "egg_weight_g": round(weight + normal(rng, 0.2), 1),
    }


def lay_rows(world: World, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of laying: every Sunday the eggs of the day."""
    for pen in world.pens:
        day = max(pen.start, date(2024, 11, 3))
        day += timedelta(days=(6 - day.weekday()) % 7)
        while pen.has(day) and day <= TODAY:
            eggs = how_many(rng, pen.females, _laying(pen, day))
            aside = how_many(rng, eggs, 0.05)
            yield {
                "pen": pen.name,
                "on": day,
                "eggs": eggs,
                "hens": pen.females,
                "set_aside": aside,
                "why": "cracked or misshapen" if aside else None,
            }
            day += timedelta(days=7)


def _laying(pen: Pen, day: date) -> float:
    if pen.species == CHUKAR:
        return 0.75 if 3 <= day.month <= 8 else 0.02
    weeks = (day - pen.hens_hatched_on).days / 7
    return max(0.5, 0.92 - 0.003 * max(0.0, weeks - 20))


def bird_rows(birds: tuple[Bird, ...]) -> Iterator[Row]:
    """The sheet of birds."""
    for bird in birds:
        row = asdict(bird)
        yield {"bird": row.pop("name"), **row}


def pen_bird_rows(stays: tuple[Stay, ...]) -> Iterator[Row]:
    """The sheet of stays in pens."""
    for stay in stays:
        yield {
            "pen": stay.pen,
            "bird": stay.bird.name,
            "from": stay.start,
            "to": stay.end,
            "left_because": stay.left_because,
        }
