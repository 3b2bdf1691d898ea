"""Sums by month, pen and machine for every step: what the watch of pens and machines reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import duckdb
import numpy as np

from analytics.measures.counts import ENOUGH_OPENED
from analytics.store.cells import Floats
from analytics.store.counts import query_text, rows_of
from analytics.values import Month, label_order

Family = Literal["staged", "fertile", "hatch"]
STEPS: dict[Family, tuple[str, ...]] = {
    "staged": ("fertility", "early_loss", "mid_loss", "late_loss", "shell_loss"),
    "fertile": ("fertility", "hatch_of_fertile"),
    "hatch": ("hatch_of_set",),
}
"""Family of trays -> the steps that its counts tell, by measure word."""


@dataclass(frozen=True, slots=True)
class MonthlySums:
    """One species' sums over months in a row.

    Attributes:
        species: key.
        steps: measure words.
        months: oldest first, none left out.
        machines: labels.
        pens: labels.
        entered: eggs that entered, shape (ends, steps, months, pens, machines); two ends where clear eggs
            leave it open, all infertile first.
        passed: eggs that passed, likewise.
        tray_squares: sum over trays of their eggs squared, shape (steps, months, pens, machines).
        batch_squares: sum over batches of the cell's eggs squared, likewise.
        machine_squares: the same with all pens' eggs, shape (steps, months, machines).
    """

    species: str
    steps: tuple[str, ...]
    months: tuple[Month, ...]
    machines: tuple[str, ...]
    pens: tuple[str, ...]
    entered: Floats
    passed: Floats
    tray_squares: Floats
    batch_squares: Floats
    machine_squares: Floats


def told_families(connection: duckdb.DuckDBPyConnection) -> dict[str, Family]:
    """Species -> the family that tells most of at least half of its eggs with a hatch.

    Args:
        connection: from `counting`.
    """
    rows = connection.execute(
        "SELECT species, sum(eggs_set), sum(CASE WHEN in_fertile THEN eggs_set ELSE 0 END),"
        " sum(CASE WHEN in_staged THEN eggs_set ELSE 0 END) FROM chosen WHERE closed AND in_hatch GROUP BY 1"
    ).fetchall()
    return {
        species: "staged" if staged >= eggs / 2 else "fertile" if fertile >= eggs / 2 else "hatch"
        for species, eggs, fertile, staged in rows
    }


def monthly_sums(
    connection: duckdb.DuckDBPyConnection, families: dict[str, Family], months: Sequence[Month]
) -> tuple[MonthlySums, ...]:
    """The sums of every species, most pens first.

    Args:
        connection: from `counting`.
        families: species -> family that is read.
        months: months in a row, oldest first; others are left aside.
    """
    found = []
    for family in dict.fromkeys(families.values()):
        asked = {"family": family, "enough": ENOUGH_OPENED}
        connection.execute(f"CREATE OR REPLACE TEMP TABLE ladder_cells AS {query_text('cells')}", asked)
        rows = rows_of(connection, "monthly", {"family": family})
        for species in (key for key, own in families.items() if own == family):
            own_rows = [row for row in rows if row["species"] == species]
            found.append(_laid_out(species, STEPS[family], tuple(months), own_rows))
    return tuple(sorted((one for one in found if one.pens), key=lambda one: (-len(one.pens), one.species)))


def _laid_out(
    species: str, steps: tuple[str, ...], months: tuple[Month, ...], rows: Sequence[dict[str, Any]]
) -> MonthlySums:
    """Rows put into arrays."""
    when = {month: place for place, month in enumerate(months)}
    dated = [(when.get(Month(row["year"], row["month_of_year"]), -1), row) for row in rows]
    kept = [(place, row) for place, row in dated if place >= 0]
    pens, machines = (_labels(row[name] for _, row in kept) for name in ("pen", "machine"))
    shape = len(steps), len(months), len(pens), len(machines)
    ends: dict[str, Floats] = {name: np.zeros((2, *shape)) for name in ("entered", "passed")}
    squares: dict[str, Floats] = {name: np.zeros(shape) for name in ("tray_squares", "batch_squares")}
    of_machine = np.zeros((len(steps), len(months), len(machines)))
    for place, row in kept:
        step, machine = steps.index(row["step"]), machines.index(row["machine"])
        if not row["pen"]:
            of_machine[step, place, machine] = row["batch_squares"]
            continue
        at = step, place, pens.index(row["pen"]), machine
        for name, values in ends.items():
            values[(0, *at)], values[(1, *at)] = row[name], row[f"{name}_high"]
        for name, values in squares.items():
            values[at] = row[name]
    if np.array_equal(ends["entered"][0], ends["entered"][1]) and np.array_equal(*ends["passed"]):
        ends = {name: values[:1] for name, values in ends.items()}
    return MonthlySums(species, steps, months, machines, pens, **ends, **squares, machine_squares=of_machine)


def _labels(found: Any) -> tuple[str, ...]:
    return tuple(sorted({label for label in found if label}, key=label_order))
