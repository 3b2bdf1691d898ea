"""The number that a trend runs along: its value on every tray, and the groups in which it is shown."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from analytics.store.cells import Cells, Floats
from analytics.studies.trend_records import Along
from analytics.studies.wording import month_name
from analytics.values import Month

MONTH_DAYS = 365.25 / 12
_DAYS_TOGETHER, _WEEKS_TOGETHER = 3, 4


@dataclass(frozen=True, slots=True)
class Axis:
    """One number a tray.

    Attributes:
        by: what it is.
        x: its values; NaN where not recorded.
        group: code of the group in which a tray is shown; only where x is recorded.
        first_day: day at which x is 0 where x is months.
    """

    by: Along
    x: Floats
    group: NDArray[np.int64]
    first_day: date | None

    def at(self, day: date) -> float | None:
        """Where a day stands; None unless x is time."""
        return (day - self.first_day).days / MONTH_DAYS if self.first_day else None

    def label(self, group: int) -> str:
        """The group in words."""
        if self.by == "month":
            return month_name(Month(1970 + group // 12, 1 + group % 12))
        if self.by == "males_per_female":
            return f"{group / 100:.2f} males per female"
        together = _DAYS_TOGETHER if self.by == "storage" else _WEEKS_TOGETHER
        first = group * together
        return f"{first}–{first + together - 1} {'days' if self.by == 'storage' else 'weeks'}"


def axis_of(trays: Cells, by: Along) -> Axis:
    """The axis: days stored by three, weeks of age by four, calendar months of hatch, the ratio by value."""
    if by == "month":
        month = trays.hatch_on.astype("datetime64[M]")
        start = month.min().astype("datetime64[D]")
        days = (trays.hatch_on - start).astype(float)
        x = days / MONTH_DAYS if len(np.unique(month)) > 1 else np.zeros(len(days))
        return Axis(by, x, month.astype(np.int64), start.astype(date))
    x, together = {
        "storage": (np.floor(trays.storage_days + 0.5), _DAYS_TOGETHER),
        "hen_age": (np.floor(trays.hen_weeks), _WEEKS_TOGETHER),
        "males_per_female": (np.round(100 * trays.males_per_female), 1),
    }[by]
    group = np.floor_divide(np.where(np.isnan(x), 0.0, x), together).astype(np.int64)
    return Axis(by, _values(trays, by), group, None)


def _values(trays: Cells, by: Along) -> Floats:
    return {
        "storage": trays.storage_days,
        "hen_age": trays.hen_weeks,
        "males_per_female": trays.males_per_female,
    }[by]


def share_of_time(x: Floats, hatch_on: NDArray[np.datetime64]) -> float:
    """How much of what x differs by goes with the month of hatch: R squared, 0..1."""
    _, code = np.unique(hatch_on.astype("datetime64[M]"), return_inverse=True)
    mean = np.bincount(code, weights=x) / np.bincount(code)
    whole = float(((x - x.mean()) ** 2).sum())
    return 1 - float(((x - mean[code]) ** 2).sum()) / whole if whole > 0 else 1.0
