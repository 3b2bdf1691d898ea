"""Infertile, or dead before anything showed: what clear eggs are, as far as the records tell."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analytics.measures.clear_records import (
    ClearAssumptions,
    ClearInformed,
    ClearShare,
    ClearSplit,
    ClearTrays,
    FreshAdvice,
    FreshEggs,
)
from analytics.measures.counts import Clustering
from analytics.measures.intervals import wilson

Mask = NDArray[np.bool_]
ASSUMED = ClearAssumptions()


def split_clears(
    trays: ClearTrays,
    fresh: FreshEggs,
    wanted: tuple[int, ...],
    clustering: Clustering,
    assumed: ClearAssumptions = ASSUMED,
) -> ClearSplit:
    """Shares clear eggs out between infertility and very early death.

    Args:
        trays: of one species.
        fresh: fresh eggs opened.
        wanted: codes of the groups asked for; the others only help to tell what storage does.
        clustering: of fertility, from the whole store.
        assumed: what no record tells.
    """
    share = {code: _share(trays, fresh, trays.group == code, fresh.group == code) for code in wanted}
    whole = _share(trays, fresh, np.isin(trays.group, wanted), np.isin(fresh.group, wanted))
    advice = FreshAdvice(100, 0.1, clustering.rho_tray)
    return ClearSplit(whole, share, _informed(trays, fresh), advice, assumed)


def _share(trays: ClearTrays, fresh: FreshEggs, own: Mask, opened: Mask) -> ClearShare:
    eggs, clear, read = (float(x[own].sum()) for x in (trays.eggs, trays.clear, trays.infertile))
    low = wilson(max(eggs - clear - read, 0), eggs).low
    return ClearShare(eggs, clear, read, int(fresh.eggs[opened].sum()), None, low, 1.0, 0.0, clear)


def _informed(trays: ClearTrays, fresh: FreshEggs) -> ClearInformed:
    days = trays.storage_days[np.isfinite(trays.storage_days)]
    return ClearInformed(
        eggs=float(trays.eggs.sum()),
        trays=len(trays.eggs),
        storage_trays=len(days),
        storage_low=float(days.min()) if len(days) else None,
        storage_high=float(days.max()) if len(days) else None,
        storage_spread=0.0,
        fresh_eggs=int(fresh.eggs.sum()),
        read_infertile=float(trays.infertile.sum()),
        early_opened=0.0,
    )
