"""Pens compared by dealing trays anew within batches, where trays of a pen do not differ at all.

There the spread of trays cannot be measured, but how many ways there are to deal the trays out still can.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analytics.comparisons.counts import Codes, Floats
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.overdispersion import Labels
from analytics.comparisons.pen_model import Contrast
from analytics.comparisons.permutation import permute_within

METHOD = "trays exchanged within batches"
_SEED = 20260301
"""Deals are drawn from a fixed seed, so that the same records give the same answer."""


class DealModel:
    """Whole counts of trays, and tests of pens by exchanging them within their batch.

    Attributes:
        labels: of the pens, sorted.
        groups: places of pens that batches hold together, directly or through others.
        test: whether any pens of a group differ.
        stands: True; differences are of raw rates.
    """

    stands = True

    def __init__(self, passed: Floats, eggs: Floats, pen: Labels, batch: Labels) -> None:
        kept = np.rint(eggs) > 0
        self.eggs = np.rint(eggs)[kept]
        self.passed = np.minimum(np.rint(passed)[kept], self.eggs)
        labels, code = np.unique(np.asarray(pen)[kept], return_inverse=True)
        self.labels: tuple[object, ...] = tuple(labels.tolist())
        self.pen: Codes = code.astype(np.intp)
        self.batch = np.unique(np.asarray(batch)[kept], return_inverse=True)[1]
        self.groups = _islands(self.pen, self.batch, len(labels))
        self.test = self.test_of([group for group in self.groups if len(group) > 1])

    def test_of(self, groups: Sequence[Sequence[int]]) -> HypothesisTest:
        """Whether pens differ within these groups."""
        return self._dealt(np.isin(self.pen, [pen for group in groups for pen in group]), self.pen)

    def _dealt(self, kept: np.ndarray, labels: Codes) -> HypothesisTest:
        found = permute_within(
            self.passed[kept], self.eggs[kept], labels[kept], self.batch[kept], np.random.default_rng(_SEED)
        )
        dof = None if found.dof is None else float(found.dof)
        return HypothesisTest(METHOD, found.statistic, dof, None, found.p_value, found.why)

    def difference(self, first: int, second: int) -> Contrast:
        """The first pen's rate less the second's."""
        return self.against(first, [second])

    def against(self, pen: int, others: Sequence[int]) -> Contrast:
        """A pen's rate less the rate of others together."""
        own, rest = self.pen == pen, np.isin(self.pen, list(others))
        test = self._dealt(own | rest, np.where(own, 1, 0).astype(np.intp))
        rates = [float(self.passed[part].sum() / self.eggs[part].sum()) for part in (own, rest)]
        noise = [_smoothed(self.passed[part].sum(), self.eggs[part].sum()) for part in (own, rest)]
        p_value = 1.0 if test.p_value is None else test.p_value
        apart = rates[0] - rates[1]
        return Contrast(apart, max(float(np.sqrt(sum(noise))), _error_of(apart, p_value)), np.inf, p_value)


def _error_of(apart: float, p_value: float) -> float:
    """The standard error at which the difference has this p-value, so that interval and test agree.

    Source: test-based intervals, Miettinen 1976, American Journal of Epidemiology 103:226-235 (from memory).
    """
    from scipy.special import ndtri

    quantile = -float(ndtri(max(p_value, 1e-12) / 2))
    return abs(apart) / quantile if quantile > abs(apart) else abs(apart)


def _smoothed(passed: float, eggs: float) -> float:
    """Variance of a rate of independent eggs, one egg added to either side (Agresti and Caffo 2000)."""
    rate = (passed + 1) / (eggs + 2)
    return float(rate * (1 - rate) / (eggs + 2))


def _islands(pen: Codes, batch: Codes, pens: int) -> tuple[tuple[int, ...], ...]:
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    batches = int(batch.max()) + 1 if len(batch) else 0
    size = pens + batches
    meets = coo_array((np.ones(len(pen)), (pen, pens + batch)), shape=(size, size))
    island = connected_components(meets, directed=False)[1][:pens]
    groups = [tuple(np.flatnonzero(island == one).tolist()) for one in np.unique(island)]
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))
