"""What a reader wants of every page, as it stands in the link: degrees, days, contrast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import get_args

from analytics.studies.reading import USUAL, Days, Degrees, Reading

FIELDS = ("degrees", "days", "contrast")
"""Names in the link."""
DEGREES: tuple[Degrees, ...] = get_args(Degrees)
DAYS: tuple[Days, ...] = get_args(Days)
AS_ASKED, HIGH = "as-asked", "high"
CONTRASTS = (AS_ASKED, HIGH)
"""As the computer asks for it, or always high."""
OFFERED: Mapping[str, tuple[str, ...]] = dict(zip(FIELDS, (DEGREES, DAYS, CONTRASTS), strict=True))
"""Name in the link -> what may be chosen, the usual one first."""


@dataclass(frozen=True, slots=True)
class Reader:
    """A reader's wishes.

    Attributes:
        reading: how temperatures and days are written.
        contrast: one of `CONTRASTS`.
    """

    reading: Reading = USUAL
    contrast: str = AS_ASKED


def of(chosen: Mapping[str, str]) -> Reader:
    """The reader of what is chosen; what is not known is as usual."""
    degrees, days, contrast = (
        next((one for one in offered if one == chosen.get(field)), offered[0])
        for field, offered in OFFERED.items()
    )
    return Reader(Reading("f" if degrees == "f" else "c", _days(days)), contrast)


def _days(given: str) -> Days:
    return next(one for one in DAYS if one == given)


def link(reader: Reader) -> dict[str, list[str]]:
    """The wishes as a link's fields; what is as usual is not written."""
    values = (reader.reading.degrees, reader.reading.days, reader.contrast)
    return {field: [value] for field, value in zip(FIELDS, values, strict=True) if value != OFFERED[field][0]}
