"""Relative humidity from a wet bulb, and back; by PsychroLib, after ASHRAE Fundamentals 2017, chapter 1.

A wet bulb must be aired and its wick clean; in still air it reads too high, and so does the humidity. The
psychrometer formula of the World Meteorological Organization gives 0.4 to 0.5 points less at incubation heat.
"""

from __future__ import annotations

from analytics.errors import DataTooThin

SEA_LEVEL_PA = 101_325.0
"""Standard pressure. 1,000 m higher the same two readings mean about one point more."""
_COLDEST, _HOTTEST = 0.0, 60.0


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
