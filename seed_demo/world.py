"""What is true on the invented smallholding: pens, machines, habits, and the effects planted in them.

All names are invented. The sizes are chosen so that a sound analysis can find them in two years of
records; they are a scenario and no evidence. In particular the calcium supplement *does* cost late
embryos here because we say so; no dose trial that we know of shows that it would.

Rates are near published ones for Japanese quail (fertility 92 %, hatch of set 77 %: shell-colour study,
R. Bras. Zootec., seen): 90 % fertile, then 5, 2, 5 and 4 % lost early, in the middle, late and in the shell.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date

STEPS = ("fertile", "early", "mid", "late", "shell")
"""The steps that an egg passes, in order."""
DEFAULT_SEED = 2026
TODAY = date(2026, 10, 31)
"""The day on which the keeper looks at the records: the last day of the records."""
QUAIL, CHUKAR = "coturnix_quail", "chukar"


@dataclass(frozen=True, slots=True)
class Pen:
    """A mating group.

    Attributes:
        name: label.
        species: species key.
        line: strain.
        hens_hatched_on: day the hens hatched.
        start: first day of the group.
        end: last day, or None = still so.
        males: males present.
        females: females present.
    """

    name: str
    species: str
    line: str
    hens_hatched_on: date
    start: date
    end: date | None
    males: int
    females: int

    def has(self, day: date) -> bool:
        """Whether the group exists on the day."""
        return self.start <= day and (self.end is None or day <= self.end)


@dataclass(frozen=True, slots=True)
class Machine:
    """An incubator; every one sets and hatches.

    Attributes:
        name: label.
        air: forced or still.
        capacity: eggs it holds.
        celsius: true mean temperature.
        humidity: mean % relative humidity while setting.
        later_hours: hours by which its hatch is later than usual.
        water_loss: share of the egg's weight lost by transfer.
        logged: whether a logger writes down its climate.
        checked: whether the keeper checks its display.
    """

    name: str
    air: str
    capacity: int
    celsius: float
    humidity: float
    later_hours: float
    water_loss: float
    logged: bool
    checked: bool


@dataclass(frozen=True, slots=True)
class Planted:
    """One thing that is true and that an analysis should find (or, of size 0, should not).

    Attributes:
        kind: male, supplement, feed, thermostat, storage, age or apart.
        factor: pen, diet, incubator, hatcher, storage or hen_age.
        level: the pen or machine; "" = all.
        step: a step of STEPS, or what else it moves: timing, temperature, shell_mm, water_loss.
        start: first day (of lay for pens, of incubation for machines); None = always.
        end: last day, or None = still so.
        size: how much, in `unit`; logits are of *passing* the step.
        unit: logit, logit per day (storage), logit per week (hen age), h, °C, mm, share.
    """

    kind: str
    factor: str
    level: str
    step: str
    start: date | None
    end: date | None
    size: float
    unit: str


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations on the logit scale, each step for itself.

    Machines and batches do not touch fertility: an egg is fertile or not before it is set.
    """

    pen: float = 0.25
    machine: float = 0.2
    batch: float = 0.2
    tray: float = 0.25


@dataclass(frozen=True, slots=True)
class Habits:
    """How often the keeper writes what, as shares of trays or batches.

    Attributes:
        clears_not_told: trays whose clear eggs were not told apart.
        tray_not_opened: trays whose unhatched eggs nobody opened.
        some_not_opened: trays with one or two eggs not opened.
        egg_lost: trays with an egg that no column accounts for.
        storage_blank: trays without laying dates and storage days.
        misread: very early dead that are called infertile when opened.
        rotten: dead eggs that are rotten, of unknown stage.
        weighed: trays weighed at setting and transfer.
        candled: trays candled.
        taken_out: of these, trays whose clear and dead eggs were taken out.
        hatch_counted: batches whose hatch was counted as it went.
        listed: batches whose opened eggs are listed one by one; likewise those whose chicks were counted
            after a week.
    """

    clears_not_told: float = 0.28
    tray_not_opened: float = 0.04
    some_not_opened: float = 0.06
    egg_lost: float = 0.04
    storage_blank: float = 0.04
    misread: float = 0.15
    rotten: float = 0.03
    weighed: float = 0.55
    candled: float = 0.5
    taken_out: float = 0.4
    hatch_counted: float = 0.65
    listed: float = 0.3


@dataclass(frozen=True, slots=True)
class World:
    """The smallholding.

    Attributes:
        seed: seed of its chance.
        pens: mating groups.
        machines: incubators.
        planted: what is true, scaled already.
        base: species -> chance of passing each step of STEPS on a typical tray.
        spread: how much pens, machines, batches and trays differ besides.
        habits: how the keeper writes things down.
        busy: first and last day of the season in which eggs waited longer and longer.
        busy_days: days of waiting added at its end.
        forgotten_batch: the batch that nobody closed.
        uncounted_tray: batch and tray whose hatched chicks were not written down.
        eggs_times: multiplies the eggs of every tray (1 = the demo; more to check the planted sizes).
    """

    seed: int
    pens: tuple[Pen, ...]
    machines: tuple[Machine, ...]
    planted: tuple[Planted, ...]
    base: dict[str, tuple[float, ...]]
    spread: Spread = field(default_factory=Spread)
    habits: Habits = field(default_factory=Habits)
    busy: tuple[date, date] = (date(2025, 3, 15), date(2025, 6, 15))
    busy_days: int = 7
    forgotten_batch: str = "M33"
    uncounted_tray: tuple[str, str] = ("Q047", "2")
    eggs_times: int = 1

    def machine(self, name: str) -> Machine:
        """The machine of that label."""
        return next(machine for machine in self.machines if machine.name == name)

    def pen(self, name: str) -> Pen:
        """The pen of that label."""
        return next(pen for pen in self.pens if pen.name == name)


PEN_APART, MACHINE_APART = "Maple", "Chalk"
"""A line hatched apart so that its chicks cannot be mixed up: this pen went only there, and only it did."""

_PENS = (
    Pen("Alder", QUAIL, "brown", date(2024, 5, 12), date(2024, 7, 20), date(2026, 8, 31), 1, 4),
    Pen("Birch", QUAIL, "brown", date(2024, 8, 4), date(2024, 10, 6), None, 1, 4),
    Pen("Cedar", QUAIL, "brown", date(2024, 8, 4), date(2024, 10, 6), None, 1, 4),
    Pen("Hazel", QUAIL, "golden", date(2024, 9, 1), date(2024, 10, 26), None, 1, 5),
    Pen("Larch", QUAIL, "golden", date(2024, 7, 14), date(2024, 9, 15), None, 1, 4),
    Pen("Rowan", QUAIL, "white", date(2024, 8, 25), date(2024, 10, 20), None, 1, 4),
    Pen("Elder", QUAIL, "brown", date(2025, 5, 25), date(2025, 8, 2), None, 1, 4),
    Pen("Maple", QUAIL, "silver", date(2024, 8, 18), date(2024, 10, 13), None, 1, 4),
    Pen("Willow", CHUKAR, "", date(2024, 5, 26), date(2025, 2, 10), None, 2, 6),
    Pen("Thorn", CHUKAR, "", date(2024, 6, 2), date(2025, 2, 10), None, 2, 6),
)  # fmt: skip

_MACHINES = (
    Machine("Flint", "forced", 320, 37.6, 49.0, 0.0, 0.112, logged=True, checked=True),
    Machine("Slate", "forced", 320, 37.6, 52.0, -0.5, 0.104, logged=True, checked=True),
    Machine("Chalk", "still", 48, 37.3, 58.0, 5.0, 0.092, logged=False, checked=False),
)  # fmt: skip

_MALE_FROM = date(2026, 6, 1)
_CALCIUM_FROM = date(2025, 10, 1)
_PROTEIN_FROM = date(2026, 1, 10)
_HOT = date(2026, 2, 1), date(2026, 3, 31)

PLANTED: tuple[Planted, ...] = (
    Planted("male", "pen", "Hazel", "fertile", _MALE_FROM, None, -1.9, "logit"),
    *(
        Planted("supplement", "diet", pen, step, _CALCIUM_FROM, None, size, unit)
        for pen in ("Larch", "Rowan")
        for step, size, unit in (
            ("late", -0.6, "logit"),
            ("shell", -0.8, "logit"),
            ("shell_mm", 0.012, "mm"),
            ("water_loss", -0.009, "share"),
        )
    ),
    Planted("feed", "diet", "Birch", "late", _PROTEIN_FROM, None, 0.0, "logit"),
    Planted("thermostat", "incubator", "Slate", "early", *_HOT, -1.0, "logit"),
    Planted("thermostat", "hatcher", "Slate", "late", *_HOT, -1.0, "logit"),
    Planted("thermostat", "hatcher", "Slate", "shell", *_HOT, -0.6, "logit"),
    Planted("thermostat", "incubator", "Slate", "timing", *_HOT, -10.0, "h"),
    Planted("thermostat", "incubator", "Slate", "temperature", *_HOT, 1.0, "°C"),
    Planted("storage", "storage", "", "early", None, None, -0.12, "logit per day"),
    Planted("storage", "storage", "", "timing", None, None, 0.8, "h per day"),
    Planted("age", "hen_age", "", "fertile", None, None, -0.008, "logit per week"),
    Planted("apart", "hatcher", MACHINE_APART, "late", None, None, -0.7, "logit"),
)
"""The effects at full size."""

_BASE = {QUAIL: (0.90, 0.95, 0.98, 0.95, 0.96), CHUKAR: (0.86, 0.94, 0.97, 0.94, 0.95)}


def world(seed: int = DEFAULT_SEED, effect_size: float = 1.0) -> World:
    """The smallholding.

    Args:
        seed: seed of its chance.
        effect_size: multiplies every planted effect (0 = nothing planted, 1 = as in the demo).
    """
    scaled = tuple(replace(effect, size=effect.size * effect_size) for effect in PLANTED)
    return World(seed, _PENS, _MACHINES, scaled, dict(_BASE))


def truth(world: World) -> tuple[Planted, ...]:
    """Everything planted, at the size it has in this world."""
    return world.planted
