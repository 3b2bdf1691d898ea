"""The trays of one question about a change, and the fixed columns they make."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analytics.comparisons.counts import Codes, Floats
from analytics.comparisons.designs import kept_columns, marks

Flags = NDArray[np.bool_]
Names = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Layout:
    """Trays of one question; every array has one entry a tray.

    Attributes:
        touched: whether the tray is of a pen (or machine) that was changed.
        after: whether its eggs belong to the time after the change.
        unit: pen (or machine).
        held: name -> label of what is held equal (batch; or month and pen).
        alike: label of the trays that may fail together (pen and month; or machine and month).
        numbers: what else each tray is set right for along a straight line (days of storage), finite.
    """

    touched: Flags
    after: Flags
    unit: Names
    held: Mapping[str, Names]
    alike: Names
    numbers: tuple[Floats, ...] = ()

    def kept(self, which: Flags) -> Layout:
        """Some of the trays."""
        return Layout(
            self.touched[which],
            self.after[which],
            self.unit[which],
            {name: labels[which] for name, labels in self.held.items()},
            self.alike[which],
            tuple(values[which] for values in self.numbers),
        )

    def columns(self) -> Floats:
        """The fixed columns, the change last."""
        trays = len(self.unit)
        parts = [np.ones((trays, 1))]
        parts += [marks(coded(labels))[:, 1:] for labels in (*self.held.values(), self.unit)]
        parts += [_standard(values)[:, None] for values in self.numbers]
        parts += [self.after[:, None].astype(float), (self.touched & self.after)[:, None].astype(float)]
        return np.hstack(parts)

    def told_columns(self) -> tuple[Floats, bool]:
        """The columns that others before them do not span, and whether the change is among them."""
        columns = self.columns()
        kept = kept_columns(columns.T @ columns)
        return columns[:, kept], bool(kept) and kept[-1] == columns.shape[1] - 1


def coded(labels: Names) -> Codes:
    """Labels as 0, 1, ... in their order."""
    return np.unique(labels, return_inverse=True)[1].astype(np.intp)


def _standard(values: Floats) -> Floats:
    spread = float(values.std())
    found: Floats = (values - values.mean()) / spread if spread > 0 else np.zeros_like(values)
    return found
