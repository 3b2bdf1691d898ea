"""What the watch takes and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from analytics.monitoring.p_chart import Flags, Floats

Kind = Literal["flock", "machine", "pen"]


@dataclass(frozen=True, slots=True)
class MonthlyCounts:
    """Sums over the trays of one species by month of hatch, pen and machine, for every step.

    The machine of a step is the one that the eggs were in. There is one end, or two where clear eggs leave a
    step open: all of them infertile, then none.

    Attributes:
        steps: words of the steps, the first one the pens' own (fertility), or hatch alone.
        machines: labels.
        pens: labels.
        entered: eggs that entered, shape (ends, steps, months, pens, machines).
        passed: eggs that passed, likewise.
        tray_squares: sum over trays of their eggs squared, shape (steps, months, pens, machines).
        batch_squares: sum over batches of the cell's eggs squared, likewise.
        machine_squares: sum over batches of all pens' eggs squared, shape (steps, months, machines).
        likeness: correlation of two eggs of one tray, and of one batch but different trays, as known at each
            month's review, shape (2, steps, months).
        part: what of the farm's allowance of false signals these may use, shape (months,); several species
            share it.
    """

    steps: tuple[str, ...]
    machines: tuple[str, ...]
    pens: tuple[str, ...]
    entered: Floats
    passed: Floats
    tray_squares: Floats
    batch_squares: Floats
    machine_squares: Floats
    likeness: Floats
    part: Floats

    @property
    def months(self) -> int:
        """How many months, the last one the one reviewed."""
        return int(self.entered.shape[2])

    @property
    def units(self) -> tuple[tuple[Kind, str], ...]:
        """Everything that is watched: the flock, then machines, then pens."""
        return (
            ("flock", ""),
            *(("machine", label) for label in self.machines),
            *(("pen", label) for label in self.pens),
        )


@dataclass(frozen=True, slots=True)
class Charts:
    """One chart for every unit and step over the months, as each month's review saw it.

    Every array has the shape (steps, months, units); months before the first review are 0.

    Attributes:
        eggs: eggs that entered.
        share: share that passed; NaN without eggs.
        expected: share expected from the baseline, in the machines and pens of the month.
        worth: independent eggs that the month's eggs are worth.
        base_worth: independent eggs that the baseline is worth.
        distance: of the month from what is expected, in standard errors; below 0 is worse.
        smoothed: the same of the moving average.
        watched: whether a signal was possible: a baseline, and eggs enough.
        reach: distance from which the moving average, and the month alone, are a signal, each below what is
            expected and above, shape (2, 2, steps, ...).
        state: 0 within, 1 a new signal, 2 out since an earlier month; below 0 where it is the worse side.
        since: month in which the present run began, as an index; -1 outside runs.
        own_months: months with eggs of the unit in its baseline.
    """

    eggs: Floats
    share: Floats
    expected: Floats
    worth: Floats
    base_worth: Floats
    distance: Floats
    smoothed: Floats
    watched: Flags
    reach: Floats
    state: np.ndarray
    since: np.ndarray
    own_months: np.ndarray

    @property
    def clustered(self) -> Floats:
        """Part of a month's variance that trays, batches and months add to that of single eggs."""
        return np.where(self.worth > 0, 1 - self.worth / np.maximum(self.eggs, 1e-9), 0.0)
