"""Water loss of a machine's trays, and the line from nothing at setting to a target on its day.

A weighing on day d is held against the target's share d / T, where T is the day the target is for: published
targets are for the day of transfer or a day near it, and eggs lose water evenly.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.errors import DataTooThin
from analytics.measures.intervals import LEVEL, t_quantile
from analytics.reference.settings import Quantity, settings_of
from analytics.reference.species import species_table
from analytics.values import Interval

METHOD_BATCHES = "Student's t over batches; trays of a batch taken together"
METHOD_TRAYS = "Student's t over the trays of one batch: how batches differ is not in it"


@dataclass(frozen=True, slots=True)
class WeighedTray:
    """A tray weighed twice.

    Attributes:
        batch: its batch.
        loss: share of the weight at setting lost, 0..1.
        days: days from setting to the second weighing.
    """

    batch: str
    loss: float
    days: float


@dataclass(frozen=True, slots=True)
class WaterLoss:
    """Mean loss of a machine's trays.

    Attributes:
        loss: mean over trays, 0..1.
        interval: its interval, or None from a single tray.
        trays: trays.
        batches: batches.
        days: mean day of the second weighing.
    """

    loss: float
    interval: Interval | None
    trays: int
    batches: int
    days: float


@dataclass(frozen=True, slots=True)
class WaterTarget:
    """What is published of a bird's loss, brought to a day.

    Attributes:
        low: least share that any source leaves, on the day asked about.
        high: most.
        day: that day.
        source_ids: the sources.
        is_scaled_from: days the sources' figures are for.
    """

    low: float
    high: float
    day: float
    source_ids: tuple[str, ...]
    is_scaled_from: tuple[int, ...]


def mean_loss(trays: Sequence[WeighedTray]) -> WaterLoss:
    """The mean loss of some trays.

    Raises:
        DataTooThin: no tray.
    """
    if not trays:
        raise DataTooThin("No tray was weighed twice", "Water loss needs two weighings and the tare", "")
    losses = np.array([tray.loss for tray in trays])
    names, of = np.unique([tray.batch for tray in trays], return_inverse=True)
    off = losses - losses.mean()
    groups = np.bincount(of, weights=off) if len(names) > 1 else off
    interval = None
    if len(groups) > 1:
        error = float(np.sqrt(len(groups) / (len(groups) - 1) * (groups**2).sum())) / len(losses)
        half = t_quantile(LEVEL, len(groups) - 1) * error
        method = METHOD_BATCHES if len(names) > 1 else METHOD_TRAYS
        interval = Interval(float(losses.mean()) - half, float(losses.mean()) + half, LEVEL, method)
    days = float(np.mean([tray.days for tray in trays]))
    return WaterLoss(float(losses.mean()), interval, len(trays), len(names), days)


def target_on(species: str, day: float) -> WaterTarget | None:
    """What is published for a bird on a day of incubation; None where nothing was found.

    A figure whose day its source does not say counts for the usual day of transfer, and where none is known
    for the shortest usual day of hatch.
    """
    rows = settings_of(species, Quantity.WATER_LOSS_PCT)
    if not rows:
        return None
    bird = species_table()[species]
    usual = bird.transfer_days[0] if bird.transfer_days else int(bird.usual_days[0])
    of_day = [row.by_day or usual for row in rows]
    lows = [row.low / 100 * day / full for row, full in zip(rows, of_day, strict=True)]
    highs = [(row.high or row.low) / 100 * day / full for row, full in zip(rows, of_day, strict=True)]
    return WaterTarget(
        min(lows), max(highs), day, tuple(row.source_id for row in rows), tuple(sorted(set(of_day)))
    )
