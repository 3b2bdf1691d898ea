"""Infertile, or dead before anything showed: what clear eggs are, as far as the records tell.

The likelihood is in `analytics.measures.clear_likelihood`. An interval holds every value that loses less of
it than chance allows once everything else has been fitted anew (profile likelihood), so that it is as wide as
the records leave it; what became of these very clear eggs adds their own luck (predictive likelihood,
Bjørnstad 1990, Stat. Sci. 5:242-254, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from analytics.measures.clear_cells import ClearCells, Worth, fresh_worth, gathered, likeness, worth_of
from analytics.measures.clear_likelihood import GroupCurve, StorageGrid, curve, finer, first_grid, heights
from analytics.measures.clear_records import (
    ClearAssumptions,
    ClearInformed,
    ClearShare,
    ClearSplit,
    ClearTrays,
    Codes,
    Floats,
    FreshAdvice,
    FreshEggs,
)
from analytics.measures.counts import Clustering
from analytics.measures.intervals import LEVEL, normal_quantile

ASSUMED = ClearAssumptions()
_KILLS = (13, 25)
_DROPS = (0.0, 0.3, 0.8, 1.4, 2.0, 2.8, 4.0, 6.0, 9.0)
AT_A_TIME = 10
"""Fresh eggs of one pen opened on a day, for the advice (our choice, no source)."""
WITHIN = 0.10
"""Half the width of a fertility interval that is aimed at (our choice, no source)."""


@dataclass(frozen=True, slots=True)
class _Path:
    """Fits of all wanted groups together, each entry one; arrays of one shape.

    Attributes:
        drop: twice the log likelihood lost against the best.
        fertility: of all their eggs.
        infertile: expected infertile ones among their clear eggs.
        luck: variance of their number.
    """

    drop: Floats
    fertility: Floats
    infertile: Floats
    luck: Floats


def split_clears(
    trays: ClearTrays,
    fresh: FreshEggs,
    wanted: tuple[int, ...],
    assumed: ClearAssumptions = ASSUMED,
) -> ClearSplit:
    """Shares clear eggs out between infertility and very early death.

    Args:
        trays: of one species; at least one egg in every wanted group.
        fresh: fresh eggs opened.
        wanted: codes of the groups asked for; the others only help to tell what storage does.
        assumed: what no record tells.
    """
    clustering = likeness(trays)
    codes = np.unique(trays.group)
    worth = {int(code): worth_of(trays, trays.group == code, clustering) for code in codes}
    cells = gathered(trays, np.array([worth[int(code)].effect for code in trays.group]), assumed)
    by_group = {code: cells.of(code) for code in worth}
    found, others = _fitted(by_group, fresh_worth(fresh, clustering), wanted, first_grid(cells, assumed))
    best = others + sum(one.best for one in found.values())
    together = worth_of(trays, np.isin(trays.group, wanted), clustering)
    share = {
        code: _share(trays, fresh, (code,), worth[code], _alone(found, code, best, worth[code]))
        for code in wanted
    }
    path = _together(found, others, worth, together)
    whole = _share(trays, fresh, wanted, together, path)
    informed = _informed(trays, fresh, assumed)
    if informed.silent:
        whole, share = _left_open(whole), {code: _left_open(one) for code, one in share.items()}
    return ClearSplit(whole, share, informed, _advice(whole, clustering), assumed)


def _left_open(share: ClearShare) -> ClearShare:
    """Where nothing tells, all clear eggs may be dead early, whatever other pens with the same storage show.

    The likelihood would take the luck of the pen with fewest clear eggs for a sign that the others' were not
    all dead early, and very early death is the same in all pens only as far as it is storage's.
    """
    return replace(share, fertility_high=1.0, infertile_low=0.0)


def _fitted(
    cells: Mapping[int, ClearCells], fresh: FreshEggs, wanted: tuple[int, ...], grid: StorageGrid
) -> tuple[dict[int, GroupCurve], Floats]:
    """The curves of the wanted groups, and the height of the others, on a grid as fine as needed."""
    opened = {code: _of(fresh, code) for code in cells}
    for kills in _KILLS:
        grid = finer(grid, _heights(cells, opened, grid), kills)
    others = {code: own for code, own in cells.items() if code not in wanted}
    found = {code: curve(cells[code], opened[code], grid) for code in wanted}
    return found, _heights(others, opened, grid)


def _heights(
    cells: Mapping[int, ClearCells], fresh: Mapping[int, tuple[float, float]], grid: StorageGrid
) -> Floats:
    total = np.zeros(len(grid.kill))
    for code, own in cells.items():
        total += heights(own, fresh[code], grid)
    return total


def _of(fresh: FreshEggs, code: int) -> tuple[float, float]:
    """Fertile and infertile fresh eggs of a group."""
    own = fresh.group == code
    return float(fresh.fertile[own].sum()), float((fresh.eggs - fresh.fertile)[own].sum())


def _alone(found: Mapping[int, GroupCurve], code: int, best: Floats, worth: Worth) -> _Path:
    """All fits of one group, the others at their best; a fertility in a column of the arrays."""
    own = found[code]
    level = own.level + (best - own.best)[:, None]
    fertility = np.broadcast_to(own.fertility, level.shape)
    return _Path(2 * (best.max() - level).T, fertility.T, own.infertile.T, own.luck.T * worth.effect)


def _together(
    found: Mapping[int, GroupCurve], others: Floats, worth: Mapping[int, Worth], together: Worth
) -> _Path:
    """Fits of the fertility of all wanted groups: for each value of it the best way to reach it.

    By Lagrange's multipliers, one a row of the arrays, from low to high fertility. Groups of one batch are
    alike, too: what is lost is divided by how much more that makes of the design effect.
    """
    part = {code: worth[code].eggs / together.eggs for code in found}
    alone = sum(part[code] * worth[code].effect for code in found)
    alike = max(1.0, together.effect / alone)
    best = others + sum(one.best for one in found.values())
    rows = [_pulled(found, part, others, pull) for pull in _pulls(found, part, worth)]
    level, fertility, infertile, luck = (np.array(column) for column in zip(*rows, strict=True))
    return _Path(2 * (best.max() - level) / alike, fertility, infertile, luck * together.effect)


def _pulls(
    found: Mapping[int, GroupCurve], part: Mapping[int, float], worth: Mapping[int, Worth]
) -> list[float]:
    """Multipliers that lose about as much as `_DROPS`, from the strongest down to the strongest up."""
    variance = 0.0
    for code, share in part.items():
        middle = float(np.median(found[code].fertility))
        variance += share**2 * middle * (1 - middle) * worth[code].effect / worth[code].eggs
    strengths = [math.sqrt(2 * drop / max(variance, 1e-12)) for drop in _DROPS]
    return [-strength for strength in strengths[:0:-1]] + strengths


def _pulled(
    found: Mapping[int, GroupCurve], part: Mapping[int, float], others: Floats, pull: float
) -> tuple[Floats, Floats, Floats, Floats]:
    sums = (others.copy(), np.zeros_like(others), np.zeros_like(others), np.zeros_like(others))
    points = np.arange(len(others))
    for code, share in part.items():
        own = found[code]
        at = (own.level + pull * share * own.fertility).argmax(axis=1)
        sums[1][:] += share * own.fertility[at]
        for total, values in ((sums[0], own.level), (sums[2], own.infertile), (sums[3], own.luck)):
            total += values[points, at]
    return sums


def _share(
    trays: ClearTrays, fresh: FreshEggs, codes: tuple[int, ...], worth: Worth, path: _Path
) -> ClearShare:
    own, opened = np.isin(trays.group, codes), np.isin(fresh.group, codes)
    clear, eggs = float(trays.clear[own].sum()), int(fresh.eggs[opened].sum())
    low, high = _ends(path.drop, path.fertility, worth.reach)
    fewest, most = _infertile_ends(path, worth.reach)
    likeliest = float(path.fertility.flat[int(path.drop.argmin())])
    return ClearShare(
        eggs=worth.eggs,
        clear=clear,
        read_infertile=float(trays.infertile[own].sum()),
        fresh_eggs=eggs,
        fertility=likeliest if eggs else None,
        fertility_low=low,
        fertility_high=high,
        infertile_low=min(max(fewest, 0.0), clear),
        infertile_high=min(max(most, 0.0), clear),
    )


def _ends(drop: Floats, values: Floats, reach: float) -> tuple[float, float]:
    """Lowest and highest value that loses no more than `reach`, interpolated along the rows."""
    inside = values[drop <= reach]
    between = _at_reach(drop, values, reach)
    found = np.concatenate([inside, between])
    return float(found.min()), float(found.max())


def _infertile_ends(path: _Path, reach: float) -> tuple[float, float]:
    inside = path.drop <= reach
    mean = path.infertile[inside]
    luck = np.sqrt(np.maximum((reach - path.drop[inside]) * path.luck[inside], 0))
    between = _at_reach(path.drop, path.infertile, reach)
    low, high = np.concatenate([mean - luck, between]), np.concatenate([mean + luck, between])
    return float(low.min()), float(high.max())


def _at_reach(drop: Floats, values: Floats, reach: float) -> Floats:
    """Values where the drop from one row to the next crosses `reach`."""
    before, after = drop[:-1], drop[1:]
    crosses = (before <= reach) != (after <= reach)
    start, end = np.sqrt(np.maximum(before[crosses], 0)), np.sqrt(np.maximum(after[crosses], 0))
    part = (math.sqrt(reach) - start) / (end - start)
    found: Floats = values[:-1][crosses] + part * (values[1:][crosses] - values[:-1][crosses])
    return found


def _informed(trays: ClearTrays, fresh: FreshEggs, assumed: ClearAssumptions) -> ClearInformed:
    known = np.isfinite(trays.storage_days)
    days, group = trays.storage_days[known], trays.group[known]
    early = trays.infertile * (trays.days_incubated < assumed.misread_all_after)
    return ClearInformed(
        eggs=float(trays.eggs.sum()),
        trays=len(trays.eggs),
        storage_trays=len(days),
        storage_low=float(days.min()) if len(days) else None,
        storage_high=float(days.max()) if len(days) else None,
        storage_spread=_spread_within(days, trays.eggs[known], group),
        fresh_eggs=int(fresh.eggs.sum()),
        read_infertile=float(trays.infertile.sum()),
        early_opened=float(early.sum()),
    )


def _spread_within(days: Floats, eggs: Floats, group: Codes) -> float:
    """Standard deviation of the days within groups, by eggs."""
    if not len(days):
        return 0.0
    sums = np.bincount(group, weights=eggs)
    mean = np.bincount(group, weights=days * eggs) / np.maximum(sums, 1e-9)
    return float(np.sqrt(((days - mean[group]) ** 2 @ eggs) / eggs.sum()))


def _advice(whole: ClearShare, clustering: Clustering) -> FreshAdvice:
    """Fresh eggs that would bring the fertility within some points, by the score interval's width.

    As many independent eggs as z**2 f (1 - f) / half width**2, at the end of the interval nearer to .5, times
    the design effect of `AT_A_TIME` eggs of a pen opened on one day.
    """
    half, alike = (whole.fertility_high - whole.fertility_low) / 2, clustering.rho_tray
    if half <= WITHIN:
        return FreshAdvice(0, half, alike)
    middle = min(max(0.5, whole.fertility_low), whole.fertility_high)
    independent = (normal_quantile(LEVEL) / WITHIN) ** 2 * middle * (1 - middle)
    eggs = independent * (1 + (AT_A_TIME - 1) * alike)
    return FreshAdvice(5 * math.ceil(eggs / 5), WITHIN, alike)
