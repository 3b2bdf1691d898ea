"""How trays hang on pens, machines and batches: the sparse tables the crossed model is computed from.

The unknowns stand in one row: first the slopes, then the levels of all factors but the largest,
last the levels of the largest factor. The information matrix of that row is an arrow: the block
of the largest factor is diagonal, because a tray belongs to one level of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import connected_components

from analytics.errors import WrongUsage

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

DENSE_CELLS = 8_000_000
DENSE_WORK = 200_000_000
WORTH_SPLITTING = 200
CALL = 100_000


@dataclass(frozen=True, slots=True)
class Factor:
    """One grouping of the trays whose levels are taken as drawn from a normal distribution.

    Attributes:
        name: what it is, e.g. "pen".
        codes: level of each tray, shape (trays,); -1 = the tray belongs to none.
        levels: the names of the levels, in the order of the codes.
    """

    name: str
    codes: Ints
    levels: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """The fixed part of the computation; the same for every response on the same trays.

    Attributes:
        names: factor names, as given.
        order: positions of the factors in the row of unknowns (the largest last).
        spans: for each factor, as given, its stretch of the row.
        fixed: number of slopes.
        small: slopes and levels of all factors but the largest.
        large: levels of the largest factor.
        design: trays x unknowns, entries unscaled.
        turned: the same, transposed (a view).
        pairs: trays x cells of the information matrix; products of two entries of `design`.
        turned_pairs: the same, transposed (a view).
        blocks: small unknowns that meet only each other once the first ones are set aside, such as
            the batches of one month; each block's places after those first ones. Empty where setting
            aside does not pay.
        cells: for a sparse side block its (columns, row starts), or None where it is kept dense.
    """

    names: tuple[str, ...]
    order: tuple[int, ...]
    spans: tuple[slice, ...]
    fixed: int
    small: int
    large: int
    design: Any
    turned: Any
    pairs: Any
    turned_pairs: Any
    blocks: tuple[Ints, ...]
    cells: tuple[NDArray[np.int32], NDArray[np.int64]] | None

    @property
    def unknowns(self) -> int:
        """Length of the row of unknowns."""
        return self.small + self.large

    def slope_columns(self) -> Floats:
        """The columns of x, shape (trays, slopes)."""
        trays = self.design.shape[0]
        slots = self.fixed + len(self.names)
        return np.asarray(self.design.data).reshape(trays, slots)[:, : self.fixed]

    @property
    def side(self) -> int:
        """Stored cells of the block of the largest factor against the rest."""
        return self.small * self.large if self.cells is None else len(self.cells[0])


def lay_out(slopes: Floats, factors: Sequence[Factor]) -> Layout:
    """Builds the tables.

    Args:
        slopes: shape (trays, slopes), the intercept included.
        factors: the groupings; codes outside -1 .. levels - 1 are refused.

    Raises:
        WrongUsage: a factor does not fit the trays.
    """
    trays, fixed = slopes.shape
    for factor in factors:
        _check(factor, trays)
    sizes = [len(factor.levels) for factor in factors]
    order = sorted(range(len(factors)), key=lambda at: sizes[at])
    starts = fixed + np.concatenate(([0], np.cumsum([sizes[at] for at in order]))).astype(np.int64)
    spans = {at: slice(int(starts[i]), int(starts[i + 1])) for i, at in enumerate(order)}
    large = sizes[order[-1]] if order else 0
    small = int(starts[-1]) - large
    columns, entries = _slots(slopes, [factors[at] for at in order], starts)
    pairs, cells = _pairs(columns, entries, small, large)
    design = _rows(columns, entries, small + large)
    return Layout(
        names=tuple(factor.name for factor in factors),
        order=tuple(order),
        spans=tuple(spans[at] for at in range(len(factors))),
        fixed=fixed,
        small=small,
        large=large,
        design=design,
        turned=design.T,
        pairs=pairs,
        turned_pairs=pairs.T,
        blocks=_blocks(columns, starts, small),
        cells=cells,
    )


def _check(factor: Factor, trays: int) -> None:
    codes = factor.codes
    if not factor.levels:
        raise WrongUsage(f"{factor.name}: no levels", "A factor has at least one level", "Leave it out")
    if codes.shape != (trays,):
        raise WrongUsage(f"{factor.name}: {codes.shape} codes", f"There are {trays} trays, one code each")
    if trays and (codes.min() < -1 or codes.max() >= len(factor.levels)):
        raise WrongUsage(
            f"{factor.name}: codes {codes.min()} to {codes.max()}",
            f"It has {len(factor.levels)} levels; codes run from 0, and -1 is none",
        )


def _slots(slopes: Floats, factors: Sequence[Factor], starts: Ints) -> tuple[Ints, Floats]:
    """For every tray the columns it touches and the entries there, both (trays, slots)."""
    trays, fixed = slopes.shape
    columns = np.empty((trays, fixed + len(factors)), dtype=np.int64)
    entries = np.empty((trays, fixed + len(factors)))
    columns[:, :fixed] = np.arange(fixed)
    entries[:, :fixed] = slopes
    for at, factor in enumerate(factors):
        columns[:, fixed + at] = starts[at] + np.maximum(factor.codes, 0)
        entries[:, fixed + at] = factor.codes >= 0
    return columns, entries


def _rows(columns: NDArray[Any], entries: Floats, width: int) -> Any:
    """A sparse table whose rows all store the same number of entries."""
    trays, slots = columns.shape
    kind = np.int32 if max(width, trays * slots) < 2**31 else np.int64
    starts = np.arange(0, trays * slots + 1, slots, dtype=kind) if slots else np.zeros(trays + 1, dtype=kind)
    return csr_array((entries.ravel(), columns.astype(kind).ravel(), starts), shape=(trays, width))


def _pairs(
    columns: Ints, entries: Floats, small: int, large: int
) -> tuple[Any, tuple[NDArray[np.int32], NDArray[np.int64]] | None]:
    """The products of two entries of a tray, addressed by their cell of the information matrix."""
    slots = columns.shape[1]
    inner = slots - 1 if large else slots
    first, second = np.triu_indices(inner)
    square = columns[:, first] * small + columns[:, second]
    products = entries[:, first] * entries[:, second]
    if not large:
        return _rows(square, products, small * small), None
    last, is_in = columns[:, -1] - small, entries[:, -1]
    side = last[:, None] * small + columns[:, :inner]
    cells = None
    width = small * large
    if width > DENSE_CELLS or small * width > DENSE_WORK:
        keys, flat = np.unique(side, return_inverse=True)
        side, width = flat.reshape(side.shape), len(keys)
        starts = np.searchsorted(keys, np.arange(large + 1) * small)
        cells = ((keys % small).astype(np.int32), starts)
    cell = np.column_stack((square, small * small + side, small * small + width + last))
    value = np.column_stack((products, entries[:, :inner] * is_in[:, None], is_in))
    return _rows(cell, value, small * small + width + large), cells


def _blocks(columns: Ints, starts: Ints, small: int) -> tuple[Ints, ...]:
    """The cheapest way to set the slopes and the smallest factors aside and find the rest in blocks."""
    best: tuple[Ints, ...] = ()
    cheapest = float(small) ** 3
    if small < WORTH_SPLITTING:
        return best
    for aside, edge in enumerate(starts[:-2].tolist()):
        blocks = _islands(columns[:, starts[0] + aside :] - edge, small - edge, int(starts[-1]) - edge)
        cost = edge**2 * small + sum(len(block) ** 3 + CALL for block in blocks)
        if cost < cheapest:
            best, cheapest = blocks, cost
    return best


def _islands(columns: Ints, kept: int, width: int) -> tuple[Ints, ...]:
    """Connected components among the columns; of each its members among the first `kept`."""
    pairs = (columns[:, :-1].ravel(), columns[:, 1:].ravel())
    links = csr_array((np.ones(len(pairs[0]), dtype=np.int8), pairs), shape=(width, width))
    labels = connected_components(links, directed=False)[1][:kept]
    order = np.argsort(labels, kind="stable")
    return tuple(np.split(order, np.flatnonzero(np.diff(labels[order])) + 1))
