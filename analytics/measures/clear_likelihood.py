"""The likelihood of silent eggs: those that show no development, whether infertile or dead too early to tell.

Of a fertile egg stored d days the chance to be seen developing is
s = s0 exp(-kill (d / mean d)**shape exp(warmth degrees)): it falls with storage, and storage kills no faster
at first than later (shape >= 1). With f fertile, an egg is infertile with 1 - f and very early dead with
f (1 - s). A clear egg is either. An opened one that died very early is read as infertile with the chance err,
else counted with the early dead, which must be at least as many. So an egg is silent with
1 - f (1 - (1 - s) m), where m is 1 if such eggs were left as clear and err if they were opened. Every
fertility is that of one group; the storage part is common to all.

All of it is a profile likelihood on a grid: what the records do not tell stays as wide as its assumed range,
since every value in it fits as well.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analytics.measures.clear_cells import ClearCells
from analytics.measures.clear_records import ClearAssumptions, Floats

_KILL = np.concatenate([[0.0], np.geomspace(0.004, 4, 17)])
_SHAPES = np.array([1.0, 2.0, 4.0])
_WARMTHS = np.array([0.0, 0.08])
_FEELS_WARMTH = 1.0
_KEEP = 6.0
_TINY = 1e-12
_POINTS = 60
_SPREADS = 6.0
_HALVINGS = 12


@dataclass(frozen=True, slots=True)
class StorageGrid:
    """Points of what all groups have in common, one entry a point in every array.

    Attributes:
        kill: exponent at the mean days of storage.
        shape: power of the days.
        warmth: rise of the exponent's logarithm a degree.
        fresh: chance of a fertile egg set fresh to be seen developing.
        err: how much of the most that may be misread is.
    """

    kill: Floats
    shape: Floats
    warmth: Floats
    fresh: Floats
    err: Floats

    def survival(self, cells: ClearCells) -> Floats:
        """Chance of a fertile egg to be seen developing, shape (points, cells)."""
        days = cells.storage[None, :] ** self.shape[:, None]
        degrees = np.exp(self.warmth[:, None] * cells.warmer[None, :])
        return self.fresh[:, None] * np.exp(-self.kill[:, None] * days * degrees)


@dataclass(frozen=True, slots=True)
class GroupCurve:
    """The log likelihood of one group.

    Attributes:
        fertility: values tried, shape (values,).
        level: log likelihood, shape (points, values).
        infertile: expected infertile ones among the clear eggs, shape (points, values).
        luck: variance of their number, likewise.
    """

    fertility: Floats
    level: Floats
    infertile: Floats
    luck: Floats

    @property
    def best(self) -> Floats:
        """Highest level at each point, shape (points,)."""
        best: Floats = self.level.max(axis=1)
        return best


def first_grid(cells: ClearCells, assumed: ClearAssumptions) -> StorageGrid:
    """A coarse grid over all that is thought possible; an axis that these cells do not feel has one value."""
    opened = bool((cells.left < 1).any())
    warm = float(np.ptp(cells.warmer)) > _FEELS_WARMTH if len(cells.warmer) else False
    stored = float(np.ptp(cells.storage)) > 0 if len(cells.storage) else False
    return _crossed(
        _KILL,
        _SHAPES if stored else _SHAPES[:1],
        _WARMTHS if warm else _WARMTHS[:1],
        np.linspace(assumed.fresh_survive, 1, 3),
        np.linspace(0, 1, 3) if opened else np.ones(1),
    )


def finer(grid: StorageGrid, height: Floats, kills: int) -> StorageGrid:
    """The part of a grid where the likelihood is near its highest, with other values of `kill`.

    Args:
        grid: as tried.
        height: log likelihood at its points.
        kills: values of `kill` for each shape and warmth kept.
    """
    near = height >= height.max() - _KEEP
    fresh, err = np.unique(grid.fresh), np.unique(grid.err)
    parts = []
    for shape, warmth in sorted(set(zip(grid.shape[near], grid.warmth[near], strict=True))):
        same = (grid.shape == shape) & (grid.warmth == warmth)
        known = np.unique(grid.kill[same])
        good = np.searchsorted(known, grid.kill[same & near])
        low, high = known[max(good.min() - 1, 0)], known[min(good.max() + 1, len(known) - 1)]
        kill = np.linspace(low, high, kills)
        parts.append(_crossed(kill, np.array([shape]), np.array([warmth]), fresh, err))
    names = StorageGrid.__slots__
    return StorageGrid(**{name: np.concatenate([getattr(part, name) for part in parts]) for name in names})


def _crossed(*axes: Floats) -> StorageGrid:
    return StorageGrid(*(axis.ravel() for axis in np.meshgrid(*axes, indexing="ij")))


def heights(cells: ClearCells, fresh: tuple[float, float], grid: StorageGrid) -> Floats:
    """Highest log likelihood of one group at each point, shape (points,).

    Args:
        cells: of the group.
        fresh: fertile and infertile fresh eggs at their worth.
        grid: points.
    """
    survival, misread, seen = _chances(cells, grid)
    fertility = _likeliest(cells, fresh, seen)
    silent = np.log(np.maximum(1 - seen * fertility[:, None], _TINY)) @ cells.silent
    shown = np.log(seen) @ cells.shown + float(cells.shown.sum()) * np.log(fertility)
    opened = fresh[0] * np.log(fertility) + fresh[1] * np.log(np.maximum(1 - fertility, _TINY))
    level: Floats = silent + shown + opened + _early_level(cells, survival, misread)
    return level


def _likeliest(cells: ClearCells, fresh: tuple[float, float], seen: Floats) -> Floats:
    """Where the likelihood, concave in the fertility, is highest: by halving on its slope."""
    low = np.full(len(seen), _values(cells)[0])
    high = np.ones(len(seen))
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        falls = (seen / np.maximum(1 - seen * middle[:, None], _TINY)) @ cells.silent
        rises = (float(cells.shown.sum()) + fresh[0]) / middle - fresh[1] / np.maximum(1 - middle, _TINY)
        up = rises > falls
        low, high = np.where(up, middle, low), np.where(up, high, middle)
    return (low + high) / 2


def curve(cells: ClearCells, fresh: tuple[float, float], grid: StorageGrid) -> GroupCurve:
    """The whole log likelihood of one group.

    Args:
        cells: of the group.
        fresh: fertile and infertile fresh eggs at their worth.
        grid: points.
    """
    fertility = _values(cells)
    survival, misread, seen = _chances(cells, grid)
    level = _silent_level(cells, seen, fertility) + _early_level(cells, survival, misread)[:, None]
    level += fresh[0] * np.log(fertility) + fresh[1] * np.log(np.maximum(1 - fertility, _TINY))
    infertile, luck = _infertile(cells, survival, fertility)
    return GroupCurve(fertility, level, infertile, luck)


def _chances(cells: ClearCells, grid: StorageGrid) -> tuple[Floats, Floats, Floats]:
    """Survival, misreading when opened, and chance of a fertile egg not to be silent; (points, cells)."""
    survival = grid.survival(cells)
    misread = cells.misread * grid.err[:, None]
    seen = np.maximum(1 - (1 - survival) * (cells.left + (1 - cells.left) * misread), _TINY)
    return survival, misread, seen


def _values(cells: ClearCells) -> Floats:
    """Values of the fertility: from well below what was seen developing up to 1."""
    silent, shown = float(cells.silent.sum()), float(cells.shown.sum())
    seen = (shown + 1) / (silent + shown + 2)
    spread = np.sqrt(seen * (1 - seen) / (silent + shown + 2))
    return np.linspace(max(0.002, seen - _SPREADS * spread), 1, _POINTS)


def _silent_level(cells: ClearCells, seen: Floats, fertility: Floats) -> Floats:
    shown = np.log(seen) @ cells.shown
    level = shown[:, None] + float(cells.shown.sum()) * np.log(fertility)[None, :]
    for at in np.flatnonzero(cells.silent > 0):
        silent = np.maximum(1 - seen[:, at, None] * fertility[None, :], _TINY)
        level += cells.silent[at] * np.log(silent)
    return level


def _early_level(cells: ClearCells, survival: Floats, misread: Floats) -> Floats:
    """What it costs that more very early dead should have been found on opening than early dead were."""
    early, later = float(cells.early.sum()), float(cells.later.sum())
    if early + later <= 0:
        return np.zeros(len(survival))
    found = (1 - survival) * (1 - misread) / np.maximum(1 - (1 - survival) * misread, _TINY)
    least = np.clip(found @ (cells.early + cells.later) / (early + later), _TINY, 1 - _TINY)
    share = np.clip(early / (early + later), _TINY, 1 - _TINY)
    cost = early * np.log(least / share) + later * np.log((1 - least) / (1 - share))
    return np.where(least > share, cost, 0.0)


def _infertile(cells: ClearCells, survival: Floats, fertility: Floats) -> tuple[Floats, Floats]:
    """Expected infertile ones among the clear eggs, and the variance of their number."""
    mean = np.zeros((len(survival), len(fertility)))
    luck = np.zeros_like(mean)
    for at in np.flatnonzero(cells.clear > 0):
        silent = np.maximum(1 - survival[:, at, None] * fertility[None, :], _TINY)
        share = np.minimum((1 - fertility)[None, :] / silent, 1.0)
        mean += cells.clear[at] * share
        luck += cells.clear[at] * share * (1 - share)
    return mean, luck
