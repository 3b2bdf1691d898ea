"""Lines compared through their pens: a line's pens differ among themselves, so pens are what is counted."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from analytics.comparisons.counts import Floats
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.pen_model import Contrast, PenModel

METHOD = "F test of lines over the adjusted pens, pens random"
_ONE_EACH = "Each line has only one pen that can be compared, so line and pen cannot be told apart."


class LineModel:
    """Adjusted pens from a pen model, with a variance between pens of one line.

    Attributes:
        labels: of the lines, sorted.
        groups: places of lines that can be compared with one another.
        test: F test that lines do not differ; its denominator counts pens, not eggs.
        pen_variance: variance between the true rates of pens of one line (Paule and Mandel 1982), or None.
    """

    def __init__(self, model: PenModel, line_of: Sequence[str]) -> None:
        self.labels: tuple[object, ...] = tuple(sorted(set(line_of)))
        self.groups: tuple[tuple[int, ...], ...] = tuple((place,) for place in range(len(self.labels)))
        self.pen_variance: float | None = None
        self.stands = False
        if not model.stands:
            self.test = HypothesisTest.missing(METHOD, model.test.why)
            return
        member = np.array([[float(name == line) for name in self.labels] for line in line_of])
        rows = [
            _row(len(line_of), group[0], pen) for group in model.groups for pen in group[1:]
        ]  # fmt: skip
        self._fit(model, np.array(rows), member)

    def _fit(self, model: PenModel, rows: Floats, member: Floats) -> None:
        self._values, self._noise = model.covariance_of(rows)
        self._design, self._between = rows @ member, rows @ rows.T
        self.dof = len(rows) - int(np.linalg.matrix_rank(self._design))
        self.groups = _islands(self._design)
        if all(len(group) < 2 for group in self.groups):
            self.test = HypothesisTest.missing(METHOD, "No two lines have pens that can be compared.")
            return
        if self.dof < 1:
            self.test = HypothesisTest.missing(METHOD, _ONE_EACH)
            return
        self.pen_variance = self._paule_mandel()
        self.stands = True
        self.test = self.test_of([group for group in self.groups if len(group) > 1])

    def _squares(self, variance: float) -> float:
        """Weighted squares left over, with that variance between pens."""
        weight = self._weight(variance)
        left = self._values - self._design @ self._solved(weight)[0]
        return float(left @ weight @ left)

    def _weight(self, variance: float) -> Floats:
        return np.asarray(np.linalg.inv(self._noise + variance * self._between), dtype=float)

    def _solved(self, weight: Floats) -> tuple[Floats, Floats]:
        covariance = np.linalg.pinv(self._design.T @ weight @ self._design, hermitian=True)
        return np.asarray(covariance @ self._design.T @ weight @ self._values), np.asarray(covariance)

    def _paule_mandel(self) -> float:
        from scipy.optimize import brentq

        if self._squares(0.0) <= self.dof:
            return 0.0
        top = float(np.ptp(self._values) ** 2 + self._values.max() ** 2 + 1.0)
        return float(brentq(lambda at: self._squares(at) - self.dof, 0.0, top, xtol=1e-12))

    def _estimates(self) -> tuple[Floats, Floats]:
        return self._solved(self._weight(self.pen_variance or 0.0))

    def contrast(self, weights: Floats) -> Contrast:
        """A weighted sum of lines' rates; weights add up to 0 within each group."""
        from scipy.special import stdtr

        values, covariance = self._estimates()
        estimate, error = float(weights @ values), float(np.sqrt(weights @ covariance @ weights))
        p_value = 2 * float(stdtr(self.dof, -abs(estimate) / error)) if error > 0 else 1.0
        return Contrast(estimate, error, float(self.dof), p_value)

    def difference(self, first: int, second: int) -> Contrast:
        """The first line's rate less the second's."""
        return self.contrast(-_row(len(self.labels), first, second))

    def against(self, pen: int, others: Sequence[int]) -> Contrast:
        """A line's rate less the mean of others of its group."""
        weights = np.zeros(len(self.labels))
        weights[list(others)] = -1 / len(others)
        weights[pen] = 1.0
        return self.contrast(weights)

    def test_of(self, groups: Sequence[Sequence[int]]) -> HypothesisTest:
        """F test that lines do not differ within each of these groups."""
        rows = [_row(len(self.labels), lines[0], other) for lines in groups for other in lines[1:]]
        if not rows:
            return HypothesisTest.missing(METHOD, "There is no line to compare with another.")
        values, covariance = self._estimates()
        taken = np.array(rows)
        apart = taken @ values
        f = float(apart @ np.linalg.solve(taken @ covariance @ taken.T, apart)) / len(rows)
        return HypothesisTest.f_ratio(METHOD, f, len(rows), self.dof)


def _row(size: int, first: int, other: int) -> Floats:
    row = np.zeros(size)
    row[first] -= 1.0
    row[other] += 1.0
    return row


def _islands(design: Floats) -> tuple[tuple[int, ...], ...]:
    """Lines whose differences the design tells."""
    lines = design.shape[1]
    kept = np.linalg.pinv(design) @ design
    found: list[list[int]] = []
    for line in range(lines):
        for group in found:
            row = _row(lines, group[0], line)
            if np.allclose(kept @ row, row, atol=1e-8):
                group.append(line)
                break
        else:
            found.append([line])
    return tuple(sorted((tuple(group) for group in found), key=lambda group: (-len(group), group)))
