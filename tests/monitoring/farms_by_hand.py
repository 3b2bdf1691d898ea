"""Farms of even months, made by hand: every cell the same eggs, and rates as they are said to be."""

from __future__ import annotations

import numpy as np

from analytics.monitoring.records import MonthlyCounts


def even_farm(
    rates: np.ndarray, eggs: float = 160.0, pens: int = 4, machines: int = 2, likeness: float = 0.02
) -> MonthlyCounts:
    """Exact rates without chance, trays of 20 and batches of 40 eggs a cell.

    Args:
        rates: shape (months, pens, machines), of the one step fertility.
        eggs: eggs of a pen in a month, half in each machine.
        pens: pens.
        machines: machines.
        likeness: of eggs of a tray.
    """
    months = len(rates)
    entered = np.full((1, 1, months, pens, machines), eggs / machines)
    return MonthlyCounts(
        steps=("fertility",),
        machines=tuple("NS"[:machines]),
        pens=tuple("ABCDEFGH"[:pens]),
        entered=entered,
        passed=entered * rates,
        tray_squares=entered[0] * 20,
        batch_squares=entered[0] * 40,
        machine_squares=entered[0].sum(axis=2) * 40 * pens,
        likeness=np.stack([np.full((1, months), likeness), np.zeros((1, months))]),
        part=np.ones(months),
    )
