"""The machines, and what happened to them while eggs were in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import duckdb

from analytics.options import Selection
from analytics.reference.species import species_table
from analytics.store.counts import query_text, rows_of
from analytics.values import label_order


@dataclass(frozen=True, slots=True)
class Machine:
    """One machine.

    Attributes:
        incubator: label.
        role: setter, hatcher, both, or "" where not written down.
        air: forced, still, or "".
    """

    incubator: str
    role: str
    air: str


def machines(connection: duckdb.DuckDBPyConnection, selection: Selection) -> tuple[Machine, ...]:
    """The live machines that a selection names, by label; all where it names none.

    Args:
        connection: from `counting`.
        selection: its machines count, nothing else.
    """
    rows = connection.execute(
        "SELECT incubator, coalesce(role, ''), coalesce(air, '') FROM incubators"
        " WHERE withdrawn_in IS NULL AND (len($names::VARCHAR[]) = 0"
        " OR label_of(incubator) IN (SELECT label_of(unnest($names::VARCHAR[]))))",
        {"names": list(selection.incubators)},
    ).fetchall()
    return tuple(sorted((Machine(*row) for row in rows), key=lambda machine: label_order(machine.incubator)))


@dataclass(frozen=True, slots=True)
class Happened:
    """One kind of event while a batch was in a machine.

    Attributes:
        batch: label.
        incubator: the machine.
        phase: setter until transfer, hatcher after it.
        event: what.
        times: how often.
        minutes: how long together, where written down.
        timed: how many of them have their minutes.
    """

    batch: str
    incubator: str
    phase: str
    event: str
    times: int
    minutes: float
    timed: int


@dataclass(frozen=True, slots=True)
class Notable:
    """An event that may show in the air or the hatch.

    Attributes:
        incubator: label.
        at: when.
        event: power_cut, turner_stopped or moved.
        minutes: how long, or None.
    """

    incubator: str
    at: datetime
    event: str
    minutes: float | None


def lay_out_stays(connection: duckdb.DuckDBPyConnection, *, with_open: bool) -> None:
    """Makes the temporary table `stays` of the batches laid out: who was in which machine, and what for.

    Args:
        connection: from `counting`.
        with_open: whether eggs still in a machine count.
    """
    days = [(key, one.transfer_days[0]) for key, one in species_table().items() if one.transfer_days]
    lists = {"species": [key for key, _ in days], "transfer_days": [day for _, day in days]}
    connection.execute(query_text("stays"), {**lists, "with_open": with_open})


def happened(connection: duckdb.DuckDBPyConnection) -> tuple[Happened, ...]:
    """What happened to the machines while the chosen eggs were in them; only after `lay_out_stays`."""
    names = ("batch", "incubator", "phase", "event", "times", "minutes", "timed")
    return tuple(Happened(*(row[name] for name in names)) for row in rows_of(connection, "happened", {}))


def events_counted(connection: duckdb.DuckDBPyConnection) -> dict[str, dict[str, int]]:
    """Machine -> event -> how often while chosen eggs were in; only after `lay_out_stays`."""
    found: dict[str, dict[str, int]] = {}
    for row in rows_of(connection, "events_counted", {}):
        found.setdefault(row["incubator"], {})[row["event"]] = row["times"]
    return found


def notable(connection: duckdb.DuckDBPyConnection) -> tuple[Notable, ...]:
    """Power cuts and the like while chosen eggs were in, oldest first; only after `lay_out_stays`."""
    names = ("incubator", "at", "event", "minutes")
    return tuple(Notable(*(row[name] for name in names)) for row in rows_of(connection, "notable", {}))


def with_events(connection: duckdb.DuckDBPyConnection) -> frozenset[str]:
    """Labels of the machines of which anything that happened is written down."""
    rows = connection.execute(
        "SELECT DISTINCT m.incubator FROM incubator_events e JOIN incubators m"
        " ON label_of(m.incubator) = label_of(e.incubator)"
        " WHERE e.withdrawn_in IS NULL AND m.withdrawn_in IS NULL"
    ).fetchall()
    return frozenset(key for (key,) in rows)
