"""Sums of cells (a pen in a machine) for the flock, each machine and each pen, on one axis."""

from __future__ import annotations

import numpy as np

from analytics.monitoring.p_chart import Floats
from analytics.monitoring.records import MonthlyCounts


def by_unit(cells: Floats) -> Floats:
    """Sums over cells, shape (..., pens, machines) -> (..., units): flock, machines, pens."""
    machines, pens = cells.sum(axis=-2), cells.sum(axis=-1)
    return np.concatenate((pens.sum(axis=-1, keepdims=True), machines, pens), axis=-1)


def to_cells(units: Floats, machines: int) -> Floats:
    """What each cell has of its flock, machine and pen together: (..., units) -> (..., pens, machines)."""
    flock, machine, pen = units[..., :1], units[..., 1 : 1 + machines], units[..., 1 + machines :]
    return (pen + flock)[..., :, None] + machine[..., None, :]


def squares_by_unit(counts: MonthlyCounts) -> tuple[Floats, Floats]:
    """Sums over trays and over batches of their eggs squared, shape (steps, months, units) each."""
    machine = counts.machine_squares
    own = by_unit(counts.batch_squares)
    own[..., : 1 + machine.shape[-1]] = np.concatenate(
        (machine.sum(axis=-1, keepdims=True), machine), axis=-1
    )
    return by_unit(counts.tray_squares), own


def design_effect(eggs: Floats, trays: Floats, batches: Floats, likeness: Floats) -> Floats:
    """How many times larger the variance of a share is than that of as many independent eggs.

    Args:
        eggs: eggs of each sum.
        trays: sum over its trays of their eggs squared.
        batches: sum over its batches of their eggs squared.
        likeness: of two eggs of a tray, and of a batch; shape (2, ...) that fits the others.
    """
    n = np.maximum(eggs, 1e-9)
    in_tray, in_batch = np.maximum(trays / n - 1, 0), np.maximum(batches - trays, 0) / n
    return np.asarray(1 + in_tray * likeness[0] + in_batch * likeness[1])


def slopes_of_units(weights: Floats, rates: Floats) -> Floats:
    """How the units' expected shares move with the cells' log odds.

    Args:
        weights: eggs of the cells, shape (..., pens, machines).
        rates: their expected shares, likewise.

    Returns:
        Shape (..., units, cells).
    """
    pens, machines = weights.shape[-2:]
    led = weights * rates * (1 - rates)
    total = np.maximum(by_unit(weights), 1e-9)
    flat = led.reshape(*led.shape[:-2], 1, -1)
    return flat * _membership(pens, machines) / total[..., None]


def _membership(pens: int, machines: int) -> Floats:
    """Which cells a unit has, shape (units, cells)."""
    pen, machine = np.divmod(np.arange(pens * machines), machines)
    rows = [np.ones((1, pens * machines)), np.arange(machines)[:, None] == machine]
    return np.vstack([*rows, np.arange(pens)[:, None] == pen]).astype(float)
