"""Temperatures in words, in the degrees that the reader wants; the records hold °C."""

from __future__ import annotations

from analytics.studies.reading import reading
from analytics.studies.wording import minus

_PER_CELSIUS, _FREEZING = 1.8, 32.0
"""°F to 1 °C, and °F at 0 °C: by definition of the scale."""


def unit() -> str:
    """`°C` or `°F`."""
    return "°F" if reading().degrees == "f" else "°C"


def on_scale(celsius: float) -> float:
    """A temperature in the reader's degrees."""
    return celsius * _PER_CELSIUS + _FREEZING if reading().degrees == "f" else celsius


def apart(celsius: float) -> float:
    """A difference of temperatures in the reader's degrees."""
    return celsius * _PER_CELSIUS if reading().degrees == "f" else celsius


def heat(celsius: float, places: int = 1) -> str:
    """`37.5 °C`."""
    return f"{minus(f'{on_scale(celsius):.{places}f}')} {unit()}"


def heat_apart(celsius: float, places: int = 1, *, signed: bool = False) -> str:
    """`0.8 °C`, a difference; `+0.8 °C` where it is signed."""
    sign = "+" if signed else ""
    return f"{minus(format(apart(celsius), f'{sign}.{places}f'))} {unit()}"
