"""Trays and fresh eggs gathered into cells of like storage and like reading, each egg at its worth.

Eggs of a tray and of a batch are alike: an egg weighs as much as one independent egg divided by the design
effect of its group (`analytics.measures.clustering`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from analytics.measures.clear_records import ClearAssumptions, ClearTrays, Codes, Floats, FreshEggs
from analytics.measures.clustering import degrees_of_freedom, design_effect, estimate_clustering
from analytics.measures.counts import Clustering, ClusterSums, LadderCounts
from analytics.measures.intervals import LEVEL, t_quantile

_DAY_STEPS, _PART_STEPS, _DEGREE_STEPS = 2, 4, 0.5
"""Steps a day, a unit of a share, a degree, within which trays are taken together at their mean."""


@dataclass(frozen=True, slots=True)
class ClearCells:
    """Trays of like storage and reading, one entry a cell in every array.

    Attributes:
        group: code.
        storage: days of storage as a multiple of the mean.
        warmer: °C above the mean temperature of storage; 0 where not recorded.
        left: share of the eggs without development that were left as clear, 0..1.
        misread: most of the opened very early dead that may have been read as infertile, 0..1.
        silent: eggs without development, at their worth.
        shown: all others, at their worth.
        early: early dead among `shown`, of trays as far as they were opened, at their worth.
        later: the rest of these.
        clear: clear eggs, as counted.
    """

    group: Codes
    storage: Floats
    warmer: Floats
    left: Floats
    misread: Floats
    silent: Floats
    shown: Floats
    early: Floats
    later: Floats
    clear: Floats

    def of(self, group: int) -> ClearCells:
        """The cells of one group."""
        own = self.group == group
        return ClearCells(**{name: getattr(self, name)[own] for name in self.__slots__})


@dataclass(frozen=True, slots=True)
class Worth:
    """How much the eggs of some trays are worth.

    Attributes:
        eggs: eggs followed.
        effect: design effect.
        reach: twice the log likelihood that a 95 % interval may lose (a squared t quantile).
    """

    eggs: float
    effect: float
    reach: float


def worth_of(trays: ClearTrays, which: np.ndarray, clustering: Clustering) -> Worth:
    """Worth of the trays where `which` is true.

    Args:
        trays: of one species.
        which: shape (trays,).
        clustering: of fertility.
    """
    eggs = trays.eggs[which]
    total = float(eggs.sum())
    in_batch = np.bincount(trays.batch[which], weights=eggs) if len(eggs) else np.zeros(1)
    counts = LadderCounts(
        eggs_set=round(total),
        tray_squares=float(eggs @ eggs),
        batch_squares=float(in_batch @ in_batch),
    )
    dof = degrees_of_freedom(counts, total, clustering) if total else np.inf
    effect = design_effect(counts, total, clustering)
    return Worth(total, effect, t_quantile(LEVEL, dof) ** 2)


def likeness(trays: ClearTrays) -> Clustering:
    """How alike the eggs of a tray and batch are in being silent or not, estimated from all the trays."""
    return estimate_clustering(tray_sums(trays.batch, trays.group, trays.eggs - trays.silent, trays.eggs))


def tray_sums(batch: Codes, group: Codes, counted: Floats, eggs: Floats) -> ClusterSums:
    """The sums of `ClusterSums` over trays, with groups for pens; those with a rate of 0 or 1 do not enter.

    Args:
        batch: code of each tray's batch, shape (trays,).
        group: code of its group.
        counted: eggs counted.
        eggs: eggs in the denominator, above 0.
    """
    rate = np.bincount(group, counted) / np.maximum(np.bincount(group, eggs), 1e-9)
    kept = ((rate > 1e-9) & (rate < 1 - 1e-9))[group]
    if not kept.any():
        return ClusterSums()
    p, n = rate[group[kept]], eggs[kept]
    group, batch = (np.unique(codes[kept], return_inverse=True)[1] for codes in (group, batch))
    z = (counted[kept] - n * p) / np.sqrt(p * (1 - p))
    shape = int(batch.max()) + 1, int(group.max()) + 1
    cell = batch * shape[1] + group
    n1, n2, n3 = (np.bincount(cell, n**k, shape[0] * shape[1]).reshape(shape) for k in (1, 2, 3))
    own, met, z_batch = n1.sum(axis=0), n1.T @ n1, np.bincount(batch, z)
    more = n1**2 - n2
    weight = (n1.sum(axis=1) ** 2).sum() - 2 * (n1.sum(axis=1)[:, None] * n1**2 / own).sum()
    weight += (met**2 / own[:, None] / own[None, :]).sum()
    weight -= (n2 * (1 - 2 * n1 / own + np.diag(met) / own**2)).sum()
    return ClusterSums(
        trays=len(n),
        pens=shape[1],
        batches=shape[0],
        dispersion=float((z**2 / n).sum()),
        tray_weight=float(((n - 1) * (1 - n / own[group])).sum()),
        shared_pens=float((more / own).sum()),
        cross=float((z_batch**2).sum() - (z**2).sum()),
        cross_own=float((2 * (n1 * n2 - n3) / own - more * n2.sum(axis=0) / own**2).sum()),
        cross_weight=float(weight),
    )


def gathered(trays: ClearTrays, effect: Floats, assumed: ClearAssumptions) -> ClearCells:
    """The cells of the trays.

    Args:
        trays: of one species.
        effect: design effect of each tray's group, shape (trays,).
        assumed: how far readings may err.
    """
    days = _filled(trays.storage_days, 1.0)
    degrees = _filled(trays.storage_c, 0.0)
    left = _left_clear(trays)
    grown = np.clip(trays.days_incubated / assumed.misread_all_after, 0, 1)
    misread = assumed.misread_fresh + (1 - assumed.misread_fresh) * grown
    silent = np.minimum(trays.silent, trays.eggs)
    shown, weight = trays.eggs - silent, trays.known / effect
    early = np.minimum(trays.early, shown) * (1 - left)
    keys = (days * _DAY_STEPS, left * _PART_STEPS, misread * _PART_STEPS, degrees * _DEGREE_STEPS)
    code = np.column_stack([trays.group, *(np.round(key).astype(np.int64) for key in keys)])
    cell = np.unique(code, axis=0, return_inverse=True)[1].ravel()
    mean_days = float(days @ trays.eggs / trays.eggs.sum())
    mean_degrees = float(degrees @ trays.eggs / trays.eggs.sum())
    means = (days / max(mean_days, 0.5), degrees - mean_degrees, left, misread)
    later = (shown * (1 - left) - early) * weight
    sums = (silent * weight, shown * weight, early * weight, later, trays.clear)
    eggs = np.bincount(cell, weights=trays.eggs)
    return ClearCells(
        np.round(np.bincount(cell, weights=trays.group * trays.eggs) / eggs).astype(np.int64),
        *(np.bincount(cell, weights=value * trays.eggs) / eggs for value in means),
        *(np.bincount(cell, weights=value) for value in sums),
    )


def fresh_worth(fresh: FreshEggs, clustering: Clustering) -> FreshEggs:
    """Fresh eggs at their worth: those of a pen opened on one day are as alike as those of a tray."""
    weight = 1 / (1 + np.maximum(fresh.eggs - 1, 0) * clustering.rho_tray)
    return replace(fresh, eggs=fresh.eggs * weight, fertile=fresh.fertile * weight)


def _filled(values: Floats, nothing: float) -> Floats:
    """Values not recorded stand at the mean of the others."""
    known = np.isfinite(values)
    return np.where(known, values, values[known].mean() if known.any() else nothing)


def _left_clear(trays: ClearTrays) -> Floats:
    """Of eggs without development, the share left as clear; a tray without such eggs is like its group."""
    silent = trays.clear + trays.infertile
    groups = int(trays.group.max()) + 1
    of_group = np.bincount(trays.group, weights=trays.clear, minlength=groups)
    in_group = np.bincount(trays.group, weights=silent, minlength=groups)
    of_all = trays.clear.sum() / max(float(silent.sum()), 1e-9)
    usual = np.where(in_group > 0, of_group / np.maximum(in_group, 1e-9), of_all)
    return np.where(silent > 0, trays.clear / np.maximum(silent, 1e-9), usual[trays.group])
