"""What the next set starts from: whose eggs went where, and how much room the machines have."""

from __future__ import annotations

from dataclasses import dataclass

import duckdb

from analytics.store.counts import rows_of


@dataclass(frozen=True, slots=True)
class PenInMachine:
    """A pen's eggs in a machine, open batches too.

    Attributes:
        species: key.
        pen: label.
        incubator: label of the setter.
        hatcher: label of the machine after the transfer, the setter's own where it is the same.
        eggs: eggs it set there.
        lately: those set in the last days asked about.
        at_last_set: eggs of the pen at its last set, all machines; 0 where it sets no more.
    """

    species: str
    pen: str
    incubator: str
    hatcher: str
    eggs: int
    lately: int
    at_last_set: int


@dataclass(frozen=True, slots=True)
class MachineRoom:
    """A machine.

    Attributes:
        incubator: label.
        capacity: eggs it holds, or None where not written down.
        inside: eggs in it now.
        role: setter, hatcher, both, or "" where not written down.
    """

    incubator: str
    capacity: int | None
    inside: int
    role: str = ""


def pens_in_machines(connection: duckdb.DuckDBPyConnection, days: int) -> tuple[PenInMachine, ...]:
    """Every pen with every machine and hatcher that it met, among the chosen trays.

    Args:
        connection: from `counting`.
        days: how far back `lately` goes, from the newest set.
    """
    return tuple(PenInMachine(**row) for row in rows_of(connection, "next_set", {"days": days}))


def machine_rooms(connection: duckdb.DuckDBPyConnection) -> tuple[MachineRoom, ...]:
    """All live machines, by label."""
    rows = connection.execute(
        "SELECT i.incubator, i.capacity_eggs, CAST(coalesce(sum(t.eggs_set), 0) AS BIGINT),"
        " coalesce(i.role, '')"
        " FROM incubators i"
        " LEFT JOIN trays_of t ON t.incubator_key = label_of(i.incubator) AND NOT t.closed"
        " WHERE i.withdrawn_in IS NULL"
        " GROUP BY i.incubator, i.capacity_eggs, i.role ORDER BY lower(i.incubator)"
    ).fetchall()
    return tuple(MachineRoom(*row) for row in rows)
