"""How alike eggs of a tray and of a batch are in one sign, from the trays themselves.

The same moments as of the store's measures (`analytics.measures.counts.ClusterSums` has the formulas), with a
rate for each pen in each machine, so that what sets machines apart does not pass for batches that differ.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analytics.measures.clustering import TYPICAL_BATCH, TYPICAL_TRAY, estimate_clustering
from analytics.measures.counts import Clustering, ClusterSums

Floats = NDArray[np.float64]
_NOTHING = 1e-9


def alike(seen: Floats, eggs: Floats, group: NDArray[np.str_], batch: NDArray[np.str_]) -> Clustering:
    """The likeness of eggs in one sign.

    Args:
        seen: eggs that show it, one entry a tray; NaN where not recorded.
        eggs: eggs looked at, likewise.
        group: what has a rate of its own: pen, or pen and machine.
        batch: label of each tray's batch.

    Returns:
        As `estimate_clustering`, but at least what is assumed without records, and a standard deviation of
        what is not known more: a likeness found too small would make signs of chance.
    """
    found = estimate_clustering(sums_of(seen, eggs, group, batch))
    tray = min(1.0, max(TYPICAL_TRAY, found.rho_tray) + found.spread_tray)
    between = min(tray, max(TYPICAL_BATCH, found.rho_batch) + found.spread_batch)
    return replace(found, rho_tray=tray, rho_batch=between)


def sums_of(
    seen: Floats, eggs: Floats, group: NDArray[np.str_], batch: NDArray[np.str_]
) -> ClusterSums | None:
    """The moments; None where no group has both eggs that show the sign and eggs that do not."""
    known = np.isfinite(seen) & np.isfinite(eggs) & (np.nan_to_num(eggs) > _NOTHING)
    code = np.unique(group[known], return_inverse=True)[1]
    y, n = seen[known], eggs[known]
    shown, looked = np.bincount(code, y), np.bincount(code, n)
    mixed = ((shown > _NOTHING) & (looked - shown > _NOTHING))[code]
    if not mixed.any():
        return None
    y, n, pen = y[mixed], n[mixed], np.unique(code[mixed], return_inverse=True)[1]
    where = np.unique(batch[known][mixed], return_inverse=True)[1]
    return _sums(y, n, pen, where)


def _sums(y: Floats, n: Floats, pen: NDArray[np.intp], batch: NDArray[np.intp]) -> ClusterSums:
    pen_n, pen_s2 = np.bincount(pen, n), np.bincount(pen, n * n)
    p = (np.bincount(pen, y) / pen_n)[pen]
    z = (y - n * p) / np.sqrt(p * (1 - p))
    shape = (int(batch.max()) + 1, len(pen_n))
    at, cells = batch * shape[1] + pen, shape[0] * shape[1]
    count, squares, cubes = (np.bincount(at, n**k, cells).reshape(shape) for k in (1, 2, 3))
    batch_n, batch_z = count.sum(axis=1), np.bincount(batch, z, shape[0])
    shares = count / np.sqrt(pen_n)
    met = shares.T @ shares
    own = 1 - 2 * count / pen_n + (count**2).sum(axis=0) / pen_n**2
    return ClusterSums(
        trays=len(y),
        pens=shape[1],
        batches=shape[0],
        dispersion=float((z * z / n).sum()),
        tray_weight=float(((n - 1) * (1 - n / pen_n[pen])).sum()),
        shared_pens=float(((count**2 - squares) / pen_n).sum()),
        cross=float(batch_z @ batch_z - z @ z),
        cross_own=float(
            (2 * (count * squares - cubes) / pen_n - (count**2 - squares) * pen_s2 / pen_n**2).sum()
        ),
        cross_weight=float(
            batch_n @ batch_n
            - 2 * (batch_n[:, None] * count**2 / pen_n).sum()
            + (met * met).sum()
            - (squares * own).sum()
        ),
    )
