"""Relative humidity from a wet bulb, and back; by PsychroLib, after ASHRAE Fundamentals 2017, chapter 1.

A wet bulb must be aired and its wick clean; in still air it reads too high, and so does the humidity. The
psychrometer formula of the World Meteorological Organization gives 0.4 to 0.5 points less at incubation heat.
"""

from __future__ import annotations

from dataclasses import dataclass

from analytics.errors import DataTooThin
from analytics.reference.settings import Quantity, Setting, settings_of

SEA_LEVEL_PA = 101_325.0
"""Standard pressure. 1,000 m higher the same two readings mean about one point more."""
_COLDEST, _HOTTEST = 0.0, 60.0


@dataclass(frozen=True, slots=True)
class AdvisedHumidity:
    """What one source says of the humidity in a machine.

    Attributes:
        low_pct: lower end, % relative humidity.
        high_pct: upper end, or None where the source gives none.
        is_of_wet_bulb: whether the source prints a wet bulb, taken with its own dry bulb at sea level.
        setting: the row, with its source.
    """

    low_pct: float
    high_pct: float | None
    is_of_wet_bulb: bool
    setting: Setting


def advised_humidity(species: str, air: str = "any", *, hatcher: bool = False) -> tuple[AdvisedHumidity, ...]:
    """Every source's humidity for a bird, wet bulbs turned into %; empty where none was found.

    A wet bulb of a source that gives no dry bulb for the bird is left out, and so is one in still air,
    where a wick is not aired.

    Args:
        species: key of the bird.
        air: `forced`, `still` or `any`.
        hatcher: the last days instead of the days before.
    """
    kinds = (
        (Quantity.HATCHER_RH_PCT, Quantity.HATCHER_WET_BULB_C, Quantity.HATCHER_C)
        if hatcher
        else (Quantity.SETTER_RH_PCT, Quantity.SETTER_WET_BULB_C, Quantity.SETTER_C)
    )
    printed = [AdvisedHumidity(row.low, row.high, False, row) for row in settings_of(species, kinds[0], air)]
    dry = {row.source_id: row.low for row in settings_of(species, kinds[2], air) if row.air != "still"}
    wet = [row for row in settings_of(species, kinds[1], air) if row.source_id in dry]
    return (*printed, *(_of_wet_bulb(row, dry[row.source_id]) for row in wet))


def _of_wet_bulb(row: Setting, dry_c: float) -> AdvisedHumidity:
    high = row.low if row.high is None else row.high
    ends = humidity_of_wet_bulb(dry_c, row.low), humidity_of_wet_bulb(dry_c, high)
    return AdvisedHumidity(ends[0], ends[1], True, row)


def humidity_of_wet_bulb(dry_c: float, wet_c: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Relative humidity, % (0 to 100).

    Args:
        dry_c: dry bulb, °C, 0 to 60.
        wet_c: wet bulb beside it, °C.
        pressure_pa: air pressure, Pa.

    Raises:
        DataTooThin: a wet bulb above the dry one or too low for any air, or readings out of range.
    """
    import psychrolib

    _check(dry_c)
    _check(wet_c)
    if wet_c > dry_c:
        raise DataTooThin(
            f"A wet bulb of {wet_c:g} °C beside a dry bulb of {dry_c:g} °C",
            "The wet bulb is never the warmer one",
            "Look whether the two were swapped",
        )
    psychrolib.SetUnitSystem(psychrolib.SI)
    ratio = psychrolib.GetHumRatioFromTWetBulb(dry_c, wet_c, pressure_pa)
    if ratio <= psychrolib.MIN_HUM_RATIO:
        raise DataTooThin(
            f"A wet bulb of {wet_c:g} °C beside a dry bulb of {dry_c:g} °C",
            "Even dry air does not cool a wick so far",
            "Read both again",
        )
    return 100.0 * float(psychrolib.GetRelHumFromHumRatio(dry_c, ratio, pressure_pa))


def wet_bulb_of_humidity(dry_c: float, humidity_pct: float, pressure_pa: float = SEA_LEVEL_PA) -> float:
    """Wet bulb, °C.

    Args:
        dry_c: dry bulb, °C, 0 to 60.
        humidity_pct: relative humidity, 0 to 100 %.
        pressure_pa: air pressure, Pa.

    Raises:
        DataTooThin: readings out of range.
    """
    import psychrolib

    _check(dry_c)
    if not 0 <= humidity_pct <= 100:
        raise DataTooThin(f"A humidity of {humidity_pct:g} %", "It lies between 0 and 100 %", "Read it again")
    psychrolib.SetUnitSystem(psychrolib.SI)
    return float(psychrolib.GetTWetBulbFromRelHum(dry_c, humidity_pct / 100, pressure_pa))


def _check(degrees: float) -> None:
    if not _COLDEST <= degrees <= _HOTTEST:
        raise DataTooThin(
            f"A reading of {degrees:g} °C",
            f"A bulb reads {_COLDEST:g} to {_HOTTEST:g} °C here",
            "Read it again",
        )
