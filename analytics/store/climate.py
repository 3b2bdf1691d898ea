"""What loggers and checks tell of the machines, summed by hour in the store before all else."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import duckdb

from analytics.store.counts import query_text, rows_of

ASIDE = ("no_number", "sensor_out", "sensor_starting", "not_possible", "wrong_rh")
"""Kinds of readings that are set aside."""
HARM = 35.6, 39.4
"""Air temperatures beyond which many die within hours (96 and 103 °F, Penn State 4-H embryology)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What a machine's air is held against in one phase, for one species; None = nothing published.

    Attributes:
        incubator: label.
        phase: setter or hatcher.
        species: key, "" for several together.
        low_c: coolest.
        high_c: warmest.
        low_rh: driest, %.
        high_rh: dampest, %.
    """

    incubator: str
    phase: str
    species: str
    low_c: float | None = None
    high_c: float | None = None
    low_rh: float | None = None
    high_rh: float | None = None


@dataclass(frozen=True, slots=True)
class Side:
    """Hours of temperature or of humidity.

    Attributes:
        hours: hours that were read.
        mean: their mean, or None where there are none.
        below: hours below the lower limit.
        above: hours above the upper limit.
    """

    hours: int
    mean: float | None
    below: int
    above: int


@dataclass(frozen=True, slots=True)
class PhaseHours:
    """Hours in which eggs of one species decided over a machine's phase.

    Attributes:
        limits: what they were held against.
        hours: hours with such eggs in the machine.
        temperature: of the air, °C.
        humidity: %.
        harm_below: hours below `HARM`.
        harm_above: hours above it.
        of_both: hours in which eggs were set and hatched in the machine at once.
    """

    limits: Limits
    hours: int
    temperature: Side
    humidity: Side
    harm_below: int
    harm_above: int
    of_both: int


@dataclass(frozen=True, slots=True)
class ClimateDay:
    """A machine's day in one phase.

    Attributes:
        incubator: label.
        day: the day.
        phase: setter or hatcher.
        hours: hours read for temperature.
        mean_c: mean of their means, or None.
        least_c: lowest reading, or None.
        most_c: highest reading, or None.
        mean_rh: mean humidity, or None.
    """

    incubator: str
    day: date
    phase: str
    hours: int
    mean_c: float | None
    least_c: float | None
    most_c: float | None
    mean_rh: float | None


@dataclass(frozen=True, slots=True)
class HatchAir:
    """The last days of a batch, in its hatcher.

    Attributes:
        batch: label.
        incubator: the hatcher.
        species: key, "" for several.
        from_at: transfer.
        to_at: when it was taken out.
        assumed: whether the transfer is not written down and the usual day stands for it.
        hours: hours with humidity read.
        humidity: its mean, %, or None.
        opened: openings written down.
        power_cuts: power cuts written down.
    """

    batch: str
    incubator: str
    species: str
    from_at: datetime
    to_at: datetime
    assumed: bool
    hours: int
    humidity: float | None
    opened: int
    power_cuts: int


@dataclass(frozen=True, slots=True)
class Check:
    """A display read beside a reference.

    Attributes:
        incubator: label.
        at: when.
        displayed_c: the display, or None.
        reference_c: the reference, or None.
        displayed_rh: likewise of humidity, %.
        reference_rh: likewise.
        logged_c: what the logger read in that hour with eggs in, or None.
    """

    incubator: str
    at: datetime
    displayed_c: float | None
    reference_c: float | None
    displayed_rh: float | None
    reference_rh: float | None
    logged_c: float | None


def lay_out_climate(connection: duckdb.DuckDBPyConnection) -> None:
    """Makes the temporary table `climate_hours`; only after `lay_out_stays`."""
    connection.execute(query_text("climate_hours"))


def phases(connection: duckdb.DuckDBPyConnection) -> tuple[Limits, ...]:
    """The phases and species that each machine was in, without limits yet; only after `lay_out_climate`."""
    rows = connection.execute(
        "SELECT DISTINCT incubator, phase, species FROM climate_hours ORDER BY ALL"
    ).fetchall()
    return tuple(Limits(*row) for row in rows)


def phase_hours(connection: duckdb.DuckDBPyConnection, limits: Sequence[Limits]) -> tuple[PhaseHours, ...]:
    """Hours inside and outside limits, one entry for each of them."""
    fields = ("incubator", "phase", "species", "low_c", "high_c", "low_rh", "high_rh")
    lists = {name: [getattr(one, name) for one in limits] for name in fields}
    of = {(one.incubator, one.phase, one.species): one for one in limits}
    harm = {"harm_low": HARM[0], "harm_high": HARM[1]}
    return tuple(
        PhaseHours(
            of[row["incubator"], row["phase"], row["species"]],
            row["hours"],
            Side(row["hours_c"], row["mean_c"], row["below_c"], row["above_c"]),
            Side(row["hours_rh"], row["mean_rh"], row["below_rh"], row["above_rh"]),
            row["harm_below"],
            row["harm_above"],
            row["hours_of_both"],
        )
        for row in rows_of(connection, "climate_phases", lists | harm)
    )


def climate_days(connection: duckdb.DuckDBPyConnection) -> tuple[ClimateDay, ...]:
    """The machines day by day."""
    names = ("incubator", "day", "phase", "hours_c", "mean_c", "least_c", "most_c", "mean_rh")
    rows = rows_of(connection, "climate_days", {})
    return tuple(ClimateDay(*(row[name] for name in names)) for row in rows)


def set_aside(connection: duckdb.DuckDBPyConnection) -> dict[str, dict[str, int]]:
    """Machine -> `readings` while eggs were in, and how many of them were set aside, by kind."""
    sums = ", ".join(f"CAST(coalesce(sum({kind}), 0) AS BIGINT)" for kind in ("readings", *ASIDE))
    rows = connection.execute(
        f"SELECT incubator, {sums} FROM climate_hours GROUP BY incubator"  # noqa: S608
    ).fetchall()
    return {name: dict(zip(("readings", *ASIDE), counts, strict=True)) for name, *counts in rows}


def hatch_air(connection: duckdb.DuckDBPyConnection) -> tuple[HatchAir, ...]:
    """The last days of each batch."""
    names = (
        "batch", "incubator", "species", "from_at", "to_at", "assumed", "hours_rh", "mean_rh", "opened",
        "power_cuts",
    )  # fmt: skip
    return tuple(HatchAir(*(row[name] for name in names)) for row in rows_of(connection, "hatch_air", {}))


def checks(connection: duckdb.DuckDBPyConnection, first: date, last: date) -> tuple[Check, ...]:
    """The checks of all machines within some days, oldest first; only after `lay_out_climate`."""
    names = (
        "incubator", "at", "displayed_c", "reference_c", "displayed_rh", "reference_rh", "logged_c",
    )  # fmt: skip
    rows = rows_of(connection, "checks_read", {"first": first, "last": last})
    return tuple(Check(*(row[name] for name in names)) for row in rows)
