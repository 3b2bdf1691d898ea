"""The ledger's draws of one species, kept where several questions of a review learn from the same trays."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields

import numpy as np

from analytics.attribution.draws import Draws
from analytics.attribution.evidence import Judged
from analytics.attribution.ledger import draw_steps
from analytics.attribution.terms import Terms, Trays, terms_of

SIZE, POINTS, SEED = 400, 32, 1
"""Draws, points at which the sds are tried, and the seed: the same records give the same answer."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """What was learnt from some trays.

    Attributes:
        terms: of each step.
        draws: of each step.
        judged: what the fits say beside them.
    """

    terms: list[Terms]
    draws: tuple[Draws, ...]
    judged: Judged


@dataclass(slots=True)
class Kept:
    """Draws by the trays they were learnt from, while a review is put together or a store stays the same.

    Attributes:
        found: trays with their draws, the oldest first.
        most: how many are kept.
    """

    found: list[tuple[Trays, Drawn]] = field(default_factory=list)
    most: int = 6

    def drawn(self, trays: Trays, progress: Callable[[float, str], None] | None = None) -> Drawn:
        """What these very trays tell; worked out once.

        Args:
            trays: all fields are compared.
            progress: as of `draw_steps`.

        Raises:
            as `terms_of` and `draw_steps`.
        """
        for known, drawn in tuple(self.found):
            if _same(known, trays):
                return drawn
        terms = [terms_of(trays, step) for step in trays.steps]
        drawn = Drawn(terms, *draw_steps(trays, terms, SIZE, POINTS, SEED, progress))
        self.found[:] = [*self.found, (trays, drawn)][-self.most :]
        return drawn


def _same(one: Trays, other: Trays) -> bool:
    return all(_equal(getattr(one, part.name), getattr(other, part.name)) for part in fields(one))


def _equal(one: object, other: object) -> bool:
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_equal(one[key], other[key]) for key in one)
    if isinstance(one, np.ndarray) and isinstance(other, np.ndarray):
        return np.array_equal(one, other, equal_nan=one.dtype.kind == "f")
    return bool(one == other)
