"""Shell samples: thickness and specific gravity by pen and day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import duckdb

from analytics.store.counts import rows_of

SHELL_DAYS = 60
"""A sample speaks for eggs set up to so many days after it (our choice, no source)."""


@dataclass(frozen=True, slots=True)
class ShellSample:
    """One sample; None = not recorded.

    Attributes:
        pen: label.
        species: key.
        sampled_on: the day.
        eggs: eggs measured.
        thickness_mm: mean thickness, mm.
        specific_gravity: mean specific gravity.
        egg_weight_g: mean weight, g.
    """

    pen: str
    species: str
    sampled_on: date
    eggs: int | None
    thickness_mm: float | None
    specific_gravity: float | None
    egg_weight_g: float | None


def shell_samples(connection: duckdb.DuckDBPyConnection) -> tuple[ShellSample, ...]:
    """The samples that speak for the chosen closed trays, by pen and day.

    Args:
        connection: from `counting` or after `lay_out`.
    """
    return tuple(ShellSample(**row) for row in rows_of(connection, "sign_shells", {"days": SHELL_DAYS}))
