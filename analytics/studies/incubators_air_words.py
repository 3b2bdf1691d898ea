"""Temperature, humidity, display and water loss of a machine in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Literal

from analytics.incubation.machine_air import LevelShift
from analytics.incubation.water_line import WaterLoss, WaterTarget
from analytics.measures.display_offset import DisplayOffset
from analytics.store.climate import Side
from analytics.studies.incubators_records import MachineAir, PhaseAir
from analytics.studies.incubators_words import celsius_range, signed_words
from analytics.studies.temperatures import apart, heat, heat_apart, on_scale, unit
from analytics.studies.wording import counted, listed, long_day, long_day_range, percent, species_words
from analytics.values import Interval

What = Literal["hours", "temperature", "display"]
MeanOf = Literal["logger", "reference", ""]
ASIDE_NAMES = {
    "no_number": "no number",
    "sensor_out": "sensor out (−127 and the like)",
    "sensor_starting": "85 °C (185 °F), with which a sensor starts",
    "not_possible": "below 0 or above 50 °C (32 and 122 °F)",
    "wrong_rh": "humidity of 0 or less, above 100, or no number",
}
"""Kind of impossible reading -> its name."""
EVENT_NAMES = {
    "opened": "opened",
    "power_cut": "power cuts",
    "turner_stopped": "turner stopped",
    "refilled": "water refilled",
    "cleaned": "cleaned",
    "moved": "moved",
}
"""Event of the sheet -> its name."""
LIMITS = (
    "Limits run from the lowest to the highest figure that sources advise for the bird and the kind of air, "
    "and half a degree Fahrenheit (0.28 °C, MSU Extension) to either side. They are wide where sources "
    "disagree. Where eggs are set and hatch in one machine at once it cannot be right for both; such hours "
    "count as of the hatcher."
)
HARM = (
    "Below 35.6 °C or above 39.4 °C (96 and 103 °F, Penn State) many die within hours. "
    "A logger and a reference thermometer may be off themselves; that is in none of these ranges."
)
ALTITUDE = "Wet bulbs are turned into humidity, and back, at sea level (ASHRAE 2017, by PsychroLib)."


def air_drift(name: str, shift: LevelShift) -> str:
    """By its logger the air in Slate was 1.0 °C warmer from 1 February to 31 March 2026 than otherwise."""
    way = "warmer" if shift.size > 0 else "cooler"
    return (
        f"By its logger the air in {name} was {heat_apart(abs(shift.size))} {way}{_reach(shift)} "
        f"{_days(shift.first_day, shift.last_day)} than otherwise."
    )


def display_drift(name: str, shift: LevelShift) -> str:
    """The display of Slate showed 1.1 °C less against the reference from 5 February to 19 March 2026."""
    way = "more" if shift.size > 0 else "less"
    return (
        f"Its display showed {heat_apart(abs(shift.size))} {way} against the reference{_reach(shift)} at the "
        f"checks {_days(shift.first_day, shift.last_day)} than at others."
    )


def _reach(shift: LevelShift) -> str:
    ends = celsius_range(shift.low, shift.high)
    return "" if len(set(ends.split(" to "))) == 1 else f" ({ends})"


def _days(first: date, last: date) -> str:
    return f"from {long_day_range(first, last)}"


def no_logger(name: str) -> str:
    """Nothing was logged."""
    return f"No logger reading of {name} while eggs were in: temperature and humidity are not known."


def no_check(name: str) -> str:
    """Nothing was checked."""
    return f"No reading of {name} beside a reference in this time: how far its display is off is not known."


def display_sentence(
    name: str, heat: DisplayOffset | None, logger: DisplayOffset | None, last: date | None, *, moved: bool
) -> str:
    """How far the display is off, and the logger beside it.

    Args:
        name: the machine.
        heat: display less reference at the level of the last check.
        logger: logger less reference.
        last: day of the last check.
        moved: whether the display was at another level for some checks.
    """
    if heat is None or last is None:
        return ""
    whole = "Otherwise the" if moved else "The"
    checks = f"{counted(heat.checks, 'check')}, the last on {long_day(last)}"
    way = "more" if heat.offset > 0 else "less"
    if heat.interval is None:
        said = (
            f"{whole} display of {name} shows {heat_apart(abs(heat.offset))} {way} than the reference "
            f"({checks}); one check gives no range."
        )
    elif heat.interval.low <= 0 <= heat.interval.high:
        said = f"{whole} display of {name} agrees with the reference {_within(heat.interval)} ({checks})."
    else:
        ends = celsius_range(heat.interval.low, heat.interval.high)
        said = (
            f"{whole} display of {name} shows {heat_apart(abs(heat.offset))} {way} than the reference "
            f"({ends}; {checks}), so the air is {'cooler' if heat.offset > 0 else 'warmer'} than it shows."
        )
    if logger is None or logger.interval is None:
        return said
    less = signed_words(apart(logger.offset), 1)
    return f"{said} Its logger less the same reference: {less} {unit()}{_of(logger.interval)}."


def _within(interval: Interval) -> str:
    return f"to {heat_apart(max(0.1, -interval.low, interval.high))}"


def _of(interval: Interval) -> str:
    ends = celsius_range(interval.low, interval.high, signed=True)
    return f" ({ends})" if ends != "0.0 to 0.0" else ""


def air_sentences(name: str, air: MachineAir) -> tuple[str, ...]:
    """Temperature, humidity, the last days, what happened, what was set aside; in a sentence or two each."""
    said = [_outside(one) for phase in ("setter", "hatcher") if (one := _most(air.phases, phase))]
    said += [_last_days(name, air)] if air.hatches else []
    said += [_set_aside(air)] if air.set_aside else []
    harm = sum(one.hours.harm_below + one.hours.harm_above for one in air.phases)
    said += [f"{counted(harm, 'hour')} lay where many die within hours."] if harm else []
    return tuple(one for one in said if one)


def _most(phases: Sequence[PhaseAir], phase: str) -> PhaseAir | None:
    """The species that decided over most read hours of a phase."""
    own = [one for one in phases if one.hours.limits.phase == phase and one.hours.temperature.hours]
    return max(own, key=lambda one: one.hours.temperature.hours, default=None)


def _outside(one: PhaseAir) -> str:
    hours, limits = one.hours, one.hours.limits
    when = "While eggs were set" if limits.phase == "setter" else "While eggs hatched"
    said = f"{when} the air was {heat(hours.temperature.mean or 0.0)} on average"
    if limits.low_c is None or limits.high_c is None:
        said += ", for which no published limits were found"
    else:
        reach = f"the limits of {on_scale(limits.low_c):.1f} to {heat(limits.high_c)}"
        said += f"; of {hours.temperature.hours:,} hours read {_shares(hours.temperature)} {reach}"
    if hours.of_both:
        said += f"; in {percent(hours.of_both / hours.hours)} % of the hours other eggs were being set in it"
    if hours.humidity.mean is None:
        return f"{said}."
    wet = "" if one.wet_bulb_c is None else f" (wet bulb {heat(one.wet_bulb_c)})"
    said += f". Humidity was {hours.humidity.mean:.0f} %{wet}"
    if limits.low_rh is None or limits.high_rh is None:
        return f"{said}."
    return f"{said}: {_shares(hours.humidity)} {limits.low_rh:.0f} to {limits.high_rh:.0f} %."


def _shares(side: Side) -> str:
    """`3 % lay above and 0 % below`."""
    return f"{percent(side.above / side.hours)} % lay above and {percent(side.below / side.hours)} % below"


def _last_days(name: str, air: MachineAir) -> str:
    """Openings from transfer on."""
    opened = [one for one in air.hatches if one.opened]
    if not air.events.times:
        return (
            f"Nothing that happened to {name} is written down, so openings while eggs hatched are not known."
        )
    times = sum(one.opened for one in opened)
    said = (
        f"From transfer on it is written down as opened {counted(times, 'time')} in {len(opened)} of "
        f"{counted(len(air.hatches), 'hatch', 'hatches')}"
    )
    assumed = sum(one.assumed for one in air.hatches)
    note = (
        f"; the transfer of {assumed} is not written down and the usual day stands for it" if assumed else ""
    )
    return f"{said}{note}."


def _set_aside(air: MachineAir) -> str:
    parts = [f"{many:,} ({ASIDE_NAMES[kind]})" for kind, many in air.set_aside.items()]
    return f"Of {air.readings:,} readings, set aside as impossible: {listed(parts)}."


def water_sentence(
    name: str,
    species: str,
    found: WaterLoss | None,
    target: WaterTarget | None,
    left_out: Mapping[str, int],
) -> str:
    """How much water the eggs lost, against the line to the target."""
    aside = [f"{many} ({why})" for why, many in sorted(left_out.items())]
    without = f" Weighed trays left out: {listed(aside)}." if aside else ""
    if found is None:
        return f"No weighed tray of {species_words(species)} in {name} can be used.{without}"
    reach = f" ({_percents(found.interval.low, found.interval.high)})" if found.interval else ""
    trays = f"{counted(found.trays, 'tray')} of {counted(found.batches, 'batch', 'batches')}"
    said = (
        f"In {name} {species_words(species)} eggs lost {100 * found.loss:.1f} % of their weight{reach} "
        f"by day {found.days:.1f} ({trays})"
    )
    return f"{said}; {_against(found, target)}.{without}"


def _against(found: WaterLoss, target: WaterTarget | None) -> str:
    if target is None:
        return "no published figure was found for this bird"
    line = f"published, brought to day {found.days:.1f}: {_percents(target.low, target.high)}"
    if found.interval is None:
        return f"{line}; from one tray no range can be given"
    if found.interval.low > target.high:
        return f"{line}, so they lose more than that"
    if found.interval.high < target.low:
        return f"{line}, so they lose less than that"
    return line


def _percents(low: float, high: float) -> str:
    return f"{100 * low:.1f}–{100 * high:.1f} %" if f"{low:.3f}" != f"{high:.3f}" else f"{100 * low:.1f} %"
