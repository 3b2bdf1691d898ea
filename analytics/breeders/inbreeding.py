"""Inbreeding and kinship from a pedigree; parents that are not known are taken as unrelated.

The inbreeding of a bird is the chance that its two copies of a gene are one copy of a forebear; it equals the
kinship of its parents. The numbers say nothing of what happened before the first birds written down.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array, eye_array

from analytics.breeders.pedigree import UNKNOWN, Pedigree, Places

Floats = NDArray[np.float64]
DENSE_MOST = 3_000
"""Up to so many breeding birds at a time their relationships are a full table; above it a sparse one."""
_TOGETHER = 100
"""Birds whose kinship is worked out at once, which bounds the memory."""
_SPARSE_FILLED = 0.2
"""Above this share of entries a sparse table is slower than a full one."""


def relationships(known: Pedigree) -> Floats:
    """The numerator relationship matrix of all birds, row by row: twice the kinship, 1 + F on the diagonal.

    For small pedigrees only (its size is the square of the birds). Source: the tabular method, Henderson
    1976, Biometrics 32:69-83; Mrode, Linear Models for the Prediction of Animal Breeding Values, section 2.2.
    """
    table: Floats = np.zeros((len(known.birds), len(known.birds)))
    for bird, parents in enumerate(zip(known.sire, known.dam, strict=True)):
        for parent in parents:
            if parent != UNKNOWN:
                table[bird, :bird] += table[parent, :bird] / 2
        table[:bird, bird] = table[bird, :bird]
        table[bird, bird] = 1 + (table[parents] / 2 if UNKNOWN not in parents else 0)
    return table


def inbreeding(known: Pedigree) -> Floats:
    """F of every bird, 0..1, in the pedigree's order.

    The tabular method, a generation at a time: only birds that still have young to come are in the table, so
    a long pedigree costs what its breeding birds cost.
    """
    found = np.zeros(len(known.birds))
    enter, leave = _stays(known)
    there: Places = np.flatnonzero((enter == 0) & (leave > 0))
    table: Any = _sized(eye_array(len(there), format="csr"))
    at = np.full(len(known.birds), UNKNOWN, dtype=np.intp)
    for generation in range(1, int(known.generation.max(initial=0)) + 1):
        at[there] = np.arange(len(there))
        born = _born(known, generation)
        found[born] = np.asarray(table[at[known.sire[born]], at[known.dam[born]]]).ravel() / 2
        new = np.flatnonzero((enter == generation) & (leave > generation))
        stays = there[leave[there] > generation]
        table = _next(table, _passed_on(known, at, stays, new, len(there)), 1 + found[new])
        there = np.concatenate((stays, new))
    return found


def _born(known: Pedigree, generation: int) -> Places:
    """Birds of a generation whose parents are both known."""
    both = (known.sire != UNKNOWN) & (known.dam != UNKNOWN)
    return np.flatnonzero(both & (known.generation == generation))


def _stays(known: Pedigree) -> tuple[Places, Places]:
    """From and to which generation a bird is needed as a parent; 0 to 0 where it has no young.

    A bird without parents comes in just before its first young.
    """
    last = np.zeros(len(known.birds), dtype=np.intp)
    first = np.full(len(known.birds), np.iinfo(np.intp).max, dtype=np.intp)
    for parent in (known.sire, known.dam):
        named = parent != UNKNOWN
        np.maximum.at(last, parent[named], known.generation[named])
        np.minimum.at(first, parent[named], known.generation[named])
    enter = np.where((known.generation == 0) & (last > 0), first - 1, known.generation)
    return enter, last


def _passed_on(known: Pedigree, at: Places, stays: Places, new: Places, size: int) -> Any:
    """What each bird of the next table has of those of this one: itself, or half of each parent."""
    rows, columns, shares = [np.arange(len(stays))], [at[stays]], [np.ones(len(stays))]
    for parent in (known.sire[new], known.dam[new]):
        named = np.flatnonzero(parent != UNKNOWN)
        rows.append(len(stays) + named)
        columns.append(at[parent[named]])
        shares.append(np.full(len(named), 0.5))
    entries = np.concatenate(shares), (np.concatenate(rows), np.concatenate(columns))
    return csr_array(entries, shape=(len(stays) + len(new), size))


def _next(table: Any, passed: Any, own: Floats) -> Any:
    """The next table; the new birds stand last, with `own` on the diagonal."""
    whole = _sized(passed @ table @ passed.T)
    new = np.arange(whole.shape[0] - len(own), whole.shape[0])
    if isinstance(whole, np.ndarray):
        whole[new, new] = own
        return whole
    missing = np.zeros(whole.shape[0])
    missing[new] = own - whole.diagonal()[new]
    return (whole + diags_array(missing)).tocsr()


def _sized(table: Any) -> Any:
    """Full or sparse, whichever is quicker."""
    size, full = table.shape[0], isinstance(table, np.ndarray)
    filled = np.count_nonzero(table) if full else table.nnz
    if size <= DENSE_MOST or filled > _SPARSE_FILLED * size**2:
        return table if full else table.toarray()
    return csr_array(table) if full else table


def kinship(
    known: Pedigree, birds: Sequence[str], others: Sequence[str], found: Floats | None = None
) -> Floats:
    """Kinship of each of some birds with each of others: the inbreeding that their young would have.

    The table of all birds is never written out, so the pedigree may be large. Source: Colleau 2002, Genetics
    Selection Evolution 34:409-421 (the relationship matrix as a product of sparse ones).

    Args:
        known: the pedigree.
        birds: labels.
        others: labels; may be the same ones. A bird with itself has (1 + F) / 2.
        found: `inbreeding` of the pedigree, if at hand.

    Returns:
        Kinships 0..1, shape (birds, others).

    Raises:
        WrongUsage: a bird is not in the pedigree.
    """
    if len(others) < len(birds):
        return kinship(known, others, birds, found).T
    f = inbreeding(known) if found is None else found
    spread, rows = _own_part(known, f)[:, None] / 2, known.places(others)
    parts = [known.places(birds[at : at + _TOGETHER]) for at in range(0, len(birds), _TOGETHER)]
    tables = [_handed_down(known, spread * _contributions(known, part))[rows].T for part in parts]
    return np.vstack(tables) if tables else np.zeros((0, len(others)))


def _own_part(known: Pedigree, f: Floats) -> Floats:
    """What a bird has that its known parents do not explain: the chance of which half it gets."""
    whole = np.append(f, -1.0)  # a parent that is not known explains nothing: 1 + F is 0
    explained: Floats = (2 + whole[known.sire] + whole[known.dam]) / 4
    return 1 - explained


def _contributions(known: Pedigree, places: Places) -> Floats:
    """What each bird gave to the chosen ones, shape (birds, chosen): the young hand back to their parents."""
    shares = np.zeros((len(known.birds), len(places)))
    shares[places, np.arange(len(places))] = 1.0
    for rows in _youngest_first(known):
        rows = rows[shares[rows].any(axis=1)]
        for parent in (known.sire[rows], known.dam[rows]):
            named = parent != UNKNOWN
            to, code = np.unique(parent[named], return_inverse=True)
            sums = csr_array(
                (np.full(len(code), 0.5), (code, np.flatnonzero(named))), shape=(len(to), len(rows))
            )
            shares[to] += sums @ shares[rows]
    return shares


def _handed_down(known: Pedigree, shares: Floats) -> Floats:
    """What all birds get of these shares, from the oldest down: half of each parent's."""
    for rows in reversed(list(_youngest_first(known))):
        for parent in (known.sire[rows], known.dam[rows]):
            named = parent != UNKNOWN
            shares[rows[named]] += shares[parent[named]] / 2
    return shares


def _youngest_first(known: Pedigree) -> Iterator[Places]:
    ends = np.searchsorted(known.generation, np.arange(int(known.generation.max(initial=0)) + 2))
    for generation in range(len(ends) - 2, 0, -1):
        yield np.arange(ends[generation], ends[generation + 1])
