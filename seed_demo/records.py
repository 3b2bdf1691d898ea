"""What the keeper wrote down of the eggs: the truth, with gaps and mistakes as they happen."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from seed_demo.birds import Stay, male_of
from seed_demo.draws import happens, how_many, normal, one_of, whole
from seed_demo.outcomes import Fate, planted
from seed_demo.plan import Batch, Tray
from seed_demo.world import CHUKAR, QUAIL, TODAY, World

Cell = str | int | float | date | datetime | bool | None
Row = dict[str, Cell]

DEAD = ("early_dead", "mid_dead", "late_dead")
UNHATCHED = ("infertile", "clear", *DEAD, "internal_pip", "external_pip")
_EGG_G = {QUAIL: 12.1, CHUKAR: 21.0}
_DAYS_OF_DEATH = {
    QUAIL: {"infertile": (0, 0), "early_dead": (1, 7), "mid_dead": (8, 13), "late_dead": (14, 17)},
    CHUKAR: {"infertile": (0, 0), "early_dead": (1, 8), "mid_dead": (9, 17), "late_dead": (18, 23)},
}
_NOTES = (
    "candled twice",
    "two very small eggs",
    "mixed up with another tray?",
    "set with the small end up at first",
)


@dataclass(frozen=True, slots=True)
class Tally:
    """A tray as the keeper counted it.

    Attributes:
        tray: the tray.
        counts: outcome column -> eggs, None = blank.
        opened: whether the unhatched eggs were opened (the clear ones perhaps not).
        light: eggs clear, dead and cracked at candling, or None = not candled.
        removed: eggs taken out at candling, or None = not written down.
    """

    tray: Tray
    counts: dict[str, int | None]
    opened: bool
    light: tuple[int, int, int] | None
    removed: int | None


def batch_rows(trays: Iterable[Tray]) -> Iterator[Row]:
    """The sheet of batches."""
    for batch in dict.fromkeys(tray.batch for tray in trays):
        yield {
            "batch": batch.name,
            "incubator": batch.setter,
            "hatcher": batch.hatcher if batch.hatcher != batch.setter else None,
            "set_on": batch.set_on,
            "transfer_on": batch.transfer_on if batch.transferred else None,
            "pulled_on": batch.pulled_on,
        }


def tally(world: World, fate: Fate, rng: np.random.Generator) -> Tally:
    """How the keeper counted a tray's eggs; of an open batch only what candling showed."""
    tray, habits = fate.tray, world.habits
    light = _candle(fate, rng) if happens(rng, habits.candled) else None
    removed = sum(light) if light and happens(rng, habits.taken_out) else None
    counts = _told(world, fate, rng)
    if not tray.batch.pulled_on:
        return Tally(tray, dict.fromkeys(counts), False, light, removed)
    if happens(rng, habits.tray_not_opened):
        return Tally(tray, _nobody_opened(fate), False, light, None)
    _rot(counts, habits.rotten, rng)
    if happens(rng, habits.some_not_opened):
        _move(counts, rng, "not_opened", whole(rng, 1, 2))
    if happens(rng, habits.egg_lost):
        _move(counts, rng, "", 1)
    if (tray.batch.name, tray.name) == world.uncounted_tray:
        counts["hatched"] = None
    return Tally(tray, counts, True, light, removed)


def _candle(fate: Fate, rng: np.random.Generator) -> tuple[int, int, int] | None:
    if _candling_day(fate.tray.batch) > TODAY:
        return None
    return fate.infertile + fate.unseen, how_many(rng, fate.early, 0.7), fate.cracked


def _told(world: World, fate: Fate, rng: np.random.Generator) -> dict[str, int | None]:
    """The counts of an opened tray; clear eggs are told apart with the rest, or left as clear."""
    apart = not happens(rng, world.habits.clears_not_told)
    misread = how_many(rng, fate.unseen, world.habits.misread)
    return {
        "hatched": fate.hatched,
        "culled": fate.culled,
        "infertile": fate.infertile + misread if apart else 0,
        "clear": 0 if apart else fate.infertile + fate.unseen,
        "early_dead": fate.early + (fate.unseen - misread if apart else 0),
        "mid_dead": fate.mid,
        "late_dead": fate.late,
        "internal_pip": fate.internal,
        "external_pip": fate.external,
        "rotten": 0,
        "cracked": fate.cracked,
        "not_opened": 0,
    }


def _nobody_opened(fate: Fate) -> dict[str, int | None]:
    alive = fate.hatched + fate.culled
    known = {"hatched": fate.hatched, "culled": fate.culled, "cracked": fate.cracked}
    blank: dict[str, int | None] = dict.fromkeys((*UNHATCHED, "rotten"))
    return {**blank, **known, "not_opened": fate.tray.eggs - alive - fate.cracked}


def _rot(counts: dict[str, int | None], chance: float, rng: np.random.Generator) -> None:
    for name in DEAD:
        gone = how_many(rng, counts[name] or 0, chance)
        counts[name] = (counts[name] or 0) - gone
        counts["rotten"] = (counts["rotten"] or 0) + gone


def _move(counts: dict[str, int | None], rng: np.random.Generator, to: str, eggs: int) -> None:
    """Takes eggs out of the unhatched classes into another column, or out of the record."""
    for _ in range(eggs):
        filled = [name for name in UNHATCHED if counts[name]]
        if not filled:
            return
        name = one_of(rng, filled)
        counts[name] = (counts[name] or 0) - 1
        if to:
            counts[to] = (counts[to] or 0) + 1


def tray_row(world: World, told: Tally, stays: tuple[Stay, ...], rng: np.random.Generator) -> Row:
    """A tray's row: counts, weights, storage as far as written, the father where there was one male."""
    tray, batch = told.tray, told.tray.batch
    lost = happens(rng, world.habits.storage_blank)
    days_too = happens(rng, 0.3)
    return {
        "batch": batch.name,
        "tray": tray.name,
        "pen": tray.pen.name,
        "sire": male_of(stays, tray),
        "laid_from": None if lost else tray.laid_from,
        "laid_to": None if lost else tray.laid_to,
        "storage_days": tray.storage_days if days_too and not lost else None,
        **_store_room(batch, rng),
        "eggs_set": tray.eggs,
        **told.counts,
        **_weights(world, told, rng),
        "candled_on": _candling_day(batch) if told.light else None,
        "removed_at_candling": told.removed,
        "opened_on": batch.pulled_on.date() if told.opened and batch.pulled_on else None,
        "notes": one_of(rng, _NOTES) if happens(rng, 0.02) else None,
    }


def _store_room(batch: Batch, rng: np.random.Generator) -> Row:
    warm = 3.0 if batch.set_on.month in (6, 7, 8) and batch.set_on.year == 2025 else 0.0
    celsius, humidity = 15.5 + warm + normal(rng, 0.6), 72 + normal(rng, 3)
    if happens(rng, 0.2):
        return {"storage_c": None, "storage_rh": None}
    return {"storage_c": round(celsius, 1), "storage_rh": round(humidity)}


def _weights(world: World, told: Tally, rng: np.random.Generator) -> Row:
    tray, batch = told.tray, told.tray.batch
    egg = _EGG_G[batch.species] * (1 + normal(rng, 0.03))
    per_day = world.machine(batch.setter).water_loss / (batch.transfer_on.date() - batch.set_on.date()).days
    weighed_on = batch.transfer_on - timedelta(hours=1)
    days = (weighed_on - batch.set_on) / timedelta(days=1)
    loss = per_day * days + planted(world, tray, "water_loss") + normal(rng, 0.005)
    if not happens(rng, world.habits.weighed):
        return {}
    tare = 160 + 5 * whole(rng, 0, 4)
    row: Row = {"tare_g": tare, "weighed_set": tray.eggs, "weight_set_g": round(tare + tray.eggs * egg, 1)}
    if not batch.transferred:
        return row
    eggs = tray.eggs - (told.removed or 0)
    return {
        **row,
        "weighed_transfer": eggs,
        "weight_transfer_g": round(tare + eggs * egg * (1 - loss), 1),
        "weighed_on": weighed_on,
    }


def _candling_day(batch: Batch) -> date:
    return batch.set_on.date() + timedelta(days=7)


def candling_rows(told: Tally) -> Iterator[Row]:
    """The sheet of candlings."""
    if told.light:
        clear, dead, cracked = told.light
        yield {
            "batch": told.tray.batch.name,
            "tray": told.tray.name,
            "on": _candling_day(told.tray.batch),
            "eggs": told.tray.eggs,
            "clear": clear,
            "dead": dead,
            "cracked": cracked,
            "removed": told.removed or 0,
        }


def opened_rows(told: Tally, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of opened eggs: one by one, as many in every class as the tray counts."""
    number = 0
    for name in (*UNHATCHED, "rotten"):
        for _ in range(told.counts[name] or 0) if name != "clear" else ():
            number += 1
            yield {
                "batch": told.tray.batch.name,
                "tray": told.tray.name,
                "egg": number,
                "class": name,
                **_findings(told.tray, name, rng),
            }


def _findings(tray: Tray, name: str, rng: np.random.Generator) -> Row:
    low, high = _DAYS_OF_DEATH[tray.batch.species].get(name, (0, 0))
    full_term = name in ("late_dead", "internal_pip", "external_pip")
    return {
        "day": whole(rng, low, high) if high else None,
        "dry_membrane": happens(rng, 0.15) if name == "external_pip" else None,
        "malposition": whole(rng, 1, 6) if full_term and happens(rng, 0.12) else None,
        "malformed": happens(rng, 0.03) if full_term else None,
        "smell": True if name == "rotten" else None,
    }


def chick_rows(told: Tally, rng: np.random.Generator) -> Iterator[Row]:
    """The sheet of chicks: a week after the hatch."""
    hatched = told.counts["hatched"]
    if hatched:
        dead = how_many(rng, hatched, 0.03)
        yield {
            "batch": told.tray.batch.name,
            "tray": told.tray.name,
            "day": 7,
            "alive": hatched - dead,
            "dead": dead,
            "malformed": how_many(rng, hatched, 0.005),
            "splay_leg": how_many(rng, hatched, 0.01),
        }
