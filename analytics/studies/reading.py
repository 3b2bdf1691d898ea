"""How the reader wants temperatures and days written: one home, so that no two sentences differ.

Studies write sentences, and only a face knows who reads them. A face whose readers have wishes says once
how to ask for them; without one, temperatures are °C and a day is 14 Mar 2026.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

Degrees = Literal["c", "f"]
Days = Literal["day", "month", "iso"]
"""`14 Mar 2026`, `Mar 14, 2026` or `2026-03-14`."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A reader's wishes.

    Attributes:
        degrees: temperatures in °C or °F.
        days: whether the day, the month or the year stands first.
    """

    degrees: Degrees = "c"
    days: Days = "day"


USUAL = Reading()
_ask: list[Callable[[], Reading]] = [lambda: USUAL]


def ask_by(asks: Callable[[], Reading]) -> None:
    """Says how the wishes of whoever reads at the moment are found out."""
    _ask[0] = asks


def reading() -> Reading:
    """The wishes of whoever reads at the moment."""
    return _ask[0]()
