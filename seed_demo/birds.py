"""The breeders: who stood in which pen, and from whom they came."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from seed_demo.plan import Tray
from seed_demo.world import QUAIL, Pen, World

AFTER_SWAP_DAYS = 10
"""After a change of males the eggs may be the old one's for so many days: mean fertile period in quail 3.75
to 9.18 days by group (Reddish et al. 1996, seen in abstract), with a day's margin."""


@dataclass(frozen=True, slots=True)
class Bird:
    """A breeder with its parents, as far as known."""

    name: str
    sex: str
    sire: str | None
    dam: str | None
    hatched_on: date
    species: str


@dataclass(frozen=True, slots=True)
class Stay:
    """A bird's time in a pen; both days included."""

    pen: str
    bird: Bird
    start: date
    end: date | None
    left_because: str | None


_PARENTS: dict[str, tuple[str | None, str | None]] = {
    "Rowan m1": ("Old Fern m", "Old Fern f"),
    **{f"Rowan f{number}": ("Old Fern m", "Old Fern f") for number in range(1, 5)},
    "Elder m1": ("Alder m1", "Alder f2"),
    **{f"Elder f{number}": ("Alder m1", "Alder f1") for number in range(1, 5)},
    "Cedar m2": ("Birch m1", "Birch f1"),
    "Hazel m1": ("Old Sedge m", "Old Sedge f"),
    "Larch f1": ("Old Sedge m", "Old Sedge f"),
}
"""Full brother and sisters in one pen (Rowan), half-brother and half-sisters in another (Elder)."""
_OLD = (
    ("Old Fern m", "m"), ("Old Fern f", "f"), ("Old Sedge m", "m"), ("Old Sedge f", "f"),
)  # fmt: skip
_SWAP_OUT, _SWAP_IN = date(2025, 12, 3), date(2025, 12, 6)
_HEN_DIED = date(2026, 2, 11)
_HEN_MOVED = date(2026, 9, 2)


def birds_of(world: World) -> tuple[tuple[Bird, ...], tuple[Stay, ...]]:
    """All birds, parents before their young, and their stays."""
    stays = tuple(stay for pen in world.pens for stay in _stays(pen))
    old = tuple(Bird(name, sex, None, None, date(2023, 5, 6), QUAIL) for name, sex in _OLD)
    return (*old, *dict.fromkeys(stay.bird for stay in stays)), (*stays, _moved_hen(stays))


def male_of(stays: tuple[Stay, ...], tray: Tray) -> str | None:
    """The eggs' father, where the pen had one male only and no other shortly before."""
    males = [stay for stay in stays if stay.pen == tray.pen.name and stay.bird.sex == "m"]
    there = [
        stay.bird.name
        for stay in males
        if stay.start <= tray.laid_to and (not stay.end or _after(stay, tray))
    ]
    return there[0] if len(there) == 1 else None


def _after(stay: Stay, tray: Tray) -> bool:
    """Whether the tray has eggs that may still be of a male that left."""
    return stay.end is not None and tray.laid_from <= stay.end + timedelta(days=AFTER_SWAP_DAYS)


def _stays(pen: Pen) -> Iterator[Stay]:
    names = [("m", number) for number in range(1, pen.males + 1)]
    names += [("f", number) for number in range(1, pen.females + 1)]
    for sex, number in names:
        bird = _bird(pen, sex, number, pen.hens_hatched_on)
        end, why = _end(pen, bird.name)
        yield Stay(pen.name, bird, pen.start, end, why)
    if pen.name == "Cedar":
        yield Stay(pen.name, _bird(pen, "m", 2, date(2025, 8, 10)), _SWAP_IN, None, None)


def _bird(pen: Pen, sex: str, number: int, hatched_on: date) -> Bird:
    name = f"{pen.name} {sex}{number}"
    sire, dam = _PARENTS.get(name, (None, None))
    return Bird(name, sex, sire, dam, hatched_on, pen.species)


def _end(pen: Pen, bird: str) -> tuple[date | None, str | None]:
    if bird == "Cedar m1":
        return _SWAP_OUT, "died"
    if bird == "Birch f3":
        return _HEN_DIED, "died"
    if pen.end:
        return pen.end, "moved" if bird == "Alder f4" else "sold"
    return None, None


def _moved_hen(stays: tuple[Stay, ...]) -> Stay:
    hen = next(stay.bird for stay in stays if stay.bird.name == "Alder f4")
    return Stay("Birch", hen, _HEN_MOVED, None, None)
