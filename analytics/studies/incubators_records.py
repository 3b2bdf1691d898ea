"""What the study of the machines answers with: plain frozen records that pages, reports and JSON read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from analytics.incubation.hour_shifts import Verdict
from analytics.incubation.water_line import WaterLoss, WaterTarget
from analytics.measures.display_offset import DisplayOffset
from analytics.measures.hatch_timing import HatchOffset
from analytics.options import Selection
from analytics.store.climate import Check, ClimateDay, HatchAir, PhaseHours
from analytics.store.machines import Notable
from analytics.values import Interval

Says = Literal["for", "against", "not_recorded"]


@dataclass(frozen=True, slots=True)
class BatchHour:
    """When one batch hatched.

    Attributes:
        batch: label.
        set_on: when set.
        hatcher: the machine after transfer.
        median: hours from setting to the middle chick.
        low: lower end of its interval.
        high: upper end.
        later: hours later (+) or earlier than the other machines' usual hour, storage taken off; against the
            middle of the published hours where there is no other machine.
        storage_days: mean days stored, or None.
    """

    batch: str
    set_on: datetime
    hatcher: str
    median: float
    low: float
    high: float
    later: float
    storage_days: float | None


@dataclass(frozen=True, slots=True)
class Rival:
    """Something else than temperature that moves a hatch, and what these records say of it.

    Attributes:
        cause: in words.
        says: whether the records speak for it, against it, or do not tell.
        sentence: what they say.
        next_check: what to look at.
        source: whose candidate it is, or that it is from memory.
    """

    cause: str
    says: Says
    sentence: str
    next_check: str
    source: str


@dataclass(frozen=True, slots=True)
class Drift:
    """Weeks in which a machine left its usual level.

    Attributes:
        what: `hours` of the hatch, `temperature` of the air, or `display` less reference.
        first_day: day of setting of the first batch, day of the first reading or check.
        last_day: likewise the last.
        values: batches, days or checks in them.
        size: how far it left, hours or °C.
        low: lower end of its interval.
        high: upper end.
        offset: the hours of its batches against the machine's others, with the warmth that may mean; for
            temperature those of the weeks the logger gives, for the display None.
        others: for hours, what the other machines did in these weeks, or None.
        verdict: whether it is this machine, all of them, or not to be told.
        rivals: for hours, what else may move a hatch.
        sentence: in words.
    """

    what: Literal["hours", "temperature", "display"]
    first_day: date
    last_day: date
    values: int
    size: float
    low: float
    high: float
    offset: HatchOffset | None
    others: HatchOffset | None
    verdict: Verdict
    rivals: tuple[Rival, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class ExpectedHours:
    """When a machine's batches are expected, in hours from setting, storage taken off.

    Attributes:
        hours: the other machines' usual hour; the middle of print without them.
        early: from where on 95 % of the others' batches lie, less `hours`; None without other machines.
        late: up to where they lie.
        published: least and most that any source leaves for the middle of a hatch.
    """

    hours: float
    early: float | None
    late: float | None
    published: tuple[float, float]


@dataclass(frozen=True, slots=True)
class MachineTiming:
    """The hours of one species in a machine, as the setter.

    Attributes:
        species: key.
        own: against the farm's other machines, their usual weeks only; None without any.
        published: against published hours; None where no batch of it was counted.
        steady: as `own`, without the machine's own drifting weeks; None where it had none.
        left_out: machines left out of the comparison because they are farther off themselves.
        hours: its batches, by day of setting.
        expected: when the others hatch, and what is published.
        hatched_elsewhere: batches moved to another machine for the hatch.
        not_used: why -> batches whose hours could not be read.
        rivals: what else than temperature may make the difference.
        why: why there is no comparison with own machines, or "".
    """

    species: str
    own: HatchOffset | None
    published: HatchOffset | None
    steady: HatchOffset | None
    left_out: tuple[str, ...]
    hours: tuple[BatchHour, ...]
    expected: ExpectedHours
    hatched_elsewhere: int
    not_used: dict[str, int]
    rivals: tuple[Rival, ...]
    why: str

    @property
    def offset(self) -> HatchOffset | None:
        """The comparison that tells most: with own machines, else with print."""
        return self.own or self.published


@dataclass(frozen=True, slots=True)
class PhaseAir:
    """The air of a machine in one phase, against what is advised for one species.

    Attributes:
        hours: the hours, their means and what lies outside the limits.
        sources_c: sources of the limits of temperature.
        sources_rh: sources of the limits of humidity.
        wet_bulb_c: wet bulb that the mean temperature and humidity make at sea level, or None.
    """

    hours: PhaseHours
    sources_c: tuple[str, ...]
    sources_rh: tuple[str, ...]
    wet_bulb_c: float | None


@dataclass(frozen=True, slots=True)
class MachineEvents:
    """What happened to a machine while eggs were in.

    Attributes:
        times: word -> how often.
        notable: power cuts and the like, oldest first.
    """

    times: dict[str, int]
    notable: tuple[Notable, ...]


@dataclass(frozen=True, slots=True)
class MachineAir:
    """What is known of the air in a machine while eggs were in it.

    Attributes:
        phases: as setter and as hatcher, by species.
        days: its days, for the picture.
        mean_c: mean air temperature, or None.
        mean_of: `logger`, `reference` where only readings beside the display are known, or "".
        hatcher_rh: mean humidity in the last days of its hatches, %, or None.
        hatcher_rh_interval: its interval over hatches, or None.
        hatches: the last days of each batch that hatched in it.
        events: what happened while eggs were in.
        set_aside: kind of impossible reading -> how many.
        readings: readings while eggs were in, those set aside among them.
        why: why nothing is known, or "".
        sentences: what is to be said of it.
    """

    phases: tuple[PhaseAir, ...]
    days: tuple[ClimateDay, ...]
    mean_c: float | None
    mean_of: Literal["logger", "reference", ""]
    hatcher_rh: float | None
    hatcher_rh_interval: Interval | None
    hatches: tuple[HatchAir, ...]
    events: MachineEvents
    set_aside: dict[str, int]
    readings: int
    why: str
    sentences: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class MachineDisplay:
    """How far a machine's instruments are from a reference.

    Attributes:
        temperature: display less reference, °C, at the level of the last check; None without a check.
        all_checks: the same over all checks, whatever their level.
        humidity: display less reference, points of relative humidity.
        logger: logger less reference, °C; None where no check fell into an hour that was logged.
        checks: the checks, oldest first.
        why: why nothing is known, or "".
        sentence: in words.
    """

    temperature: DisplayOffset | None
    all_checks: DisplayOffset | None
    humidity: DisplayOffset | None
    logger: DisplayOffset | None
    checks: tuple[Check, ...]
    why: str
    sentence: str


@dataclass(frozen=True, slots=True)
class MachineWater:
    """Water loss of one species' trays in a machine, as the setter.

    Attributes:
        species: key.
        found: the mean loss, or None where no tray can be used.
        target: what is published for that bird, on the mean day of weighing; None where nothing was found.
        left_out: why -> trays that were weighed and cannot be used.
        sentence: in words.
    """

    species: str
    found: WaterLoss | None
    target: WaterTarget | None
    left_out: dict[str, int]
    sentence: str


@dataclass(frozen=True, slots=True)
class MachineAnswer:
    """One machine.

    Attributes:
        incubator: label.
        role: setter, hatcher, both, or "" where not written down.
        air: forced, still, or "".
        batches: batches set in it.
        batches_hatched: batches that hatched in it.
        timings: by species, the one with most counted batches first.
        climate: temperature, humidity and events.
        display: its display against a reference.
        water: by species, the one with most trays first.
        drift: weeks in which it left its usual level.
        sentence: the answer.
        notes: what else to know.
    """

    incubator: str
    role: str
    air: str
    batches: int
    batches_hatched: int
    timings: tuple[MachineTiming, ...]
    climate: MachineAir
    display: MachineDisplay
    water: tuple[MachineWater, ...]
    drift: tuple[Drift, ...]
    sentence: str
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Incubators:
    """The answer.

    Attributes:
        selection: what was asked about.
        first_day: first day of setting among the batches.
        last_day: last day of hatch.
        machines: by label.
        notes: what holds for all of them.
    """

    selection: Selection
    first_day: date
    last_day: date
    machines: tuple[MachineAnswer, ...]
    notes: tuple[str, ...]
