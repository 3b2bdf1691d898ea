"""Eggs laid, pen by pen, as far as they were written down."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from analytics.store.connection import reading
from analytics.store.counts import LABEL_OF

DAYS_A_MONTH = 365.25 / 12

_LAID = """
SELECT p.pen, sum(l.eggs) AS eggs, count(*) AS days,
    sum(coalesce(l.hens, p.females))::DOUBLE AS hen_days,
    sum(CASE WHEN coalesce(l.hens, p.females) IS NULL THEN 1 ELSE 0 END) AS without
FROM lay l JOIN pens p ON label_of(p.pen) = label_of(l.pen)
WHERE l.withdrawn_in IS NULL AND p.withdrawn_in IS NULL
    AND l."on" BETWEEN $first_day::DATE AND $last_day::DATE
GROUP BY p.pen ORDER BY p.pen
"""


@dataclass(frozen=True, slots=True)
class Laid:
    """What a pen laid on the days that were written down.

    Attributes:
        pen: label.
        eggs: eggs.
        days: days written down.
        hen_days: hens present, summed over those days; None where the hens of a day are not known.
    """

    pen: str
    eggs: int
    days: int
    hen_days: float | None

    @property
    def per_hen_month(self) -> float | None:
        """Eggs of a hen in a month of 30.4 days."""
        return DAYS_A_MONTH * self.eggs / self.hen_days if self.hen_days else None


def laid(store: Path, first_day: date, last_day: date) -> dict[str, Laid]:
    """Pen -> what it laid; a pen without a row in these days is not there.

    Args:
        store: the store's file.
        first_day: first day of laying.
        last_day: last one.

    Raises:
        StoreError and its kinds: as `reading`.
    """
    with reading(store) as connection:
        connection.execute(LABEL_OF)
        rows = connection.execute(_LAID, {"first_day": first_day, "last_day": last_day}).fetchall()
    return {
        str(pen): Laid(str(pen), int(eggs), int(days), None if without else float(hen_days))
        for pen, eggs, days, hen_days, without in rows
    }
