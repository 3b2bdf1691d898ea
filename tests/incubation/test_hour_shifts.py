"""Batches that hatched apart: of one machine, of all of them, or not to be told."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from analytics.incubation.hour_shifts import TimedBatch, hour_shifts
from analytics.measures.hatch_timing import HatchCounts

LOOKS = np.arange(300.0, 500.0, 8.0)


def _batch(day: float, middle: float, days: float = 3.0) -> TimedBatch:
    """30 chicks evenly over the 20 hours around a middle, counted every 8 hours."""
    out = middle + np.linspace(-10, 10, 30)
    so_far = tuple(int((out <= look).sum()) for look in LOOKS)
    return TimedBatch(day, middle, HatchCounts(tuple(LOOKS), so_far, 30, days))


def _machine(off: Callable[[int], float], seed: int, wobbles: float = 2.0) -> list[TimedBatch]:
    wobble = np.random.default_rng(seed).normal(0, wobbles, 20)
    return [_batch(14 * at, 405 + wobble[at] + off(at)) for at in range(20)]


def _hot(at: int) -> float:
    return -10.0 if 8 <= at <= 12 else 0.0


def _level(at: int) -> float:
    return 0.0


def test_a_machine_by_itself() -> None:
    (found,) = hour_shifts(_machine(_hot, 1), _machine(_level, 2), "coturnix_quail")
    assert (found.first, found.last, found.verdict) == (8, 12, "machine")
    assert found.offset.interval.low <= -10 <= found.offset.interval.high
    assert found.offset.warmth_interval.low > 0
    assert found.others is not None
    assert found.others.interval.low <= 0 <= found.others.interval.high


def test_all_machines_together_are_no_drift_of_one() -> None:
    (found,) = hour_shifts(_machine(_hot, 1), _machine(_hot, 2), "coturnix_quail")
    assert found.verdict == "all_machines"


def test_without_another_machine_it_cannot_be_told() -> None:
    (found,) = hour_shifts(_machine(_hot, 1), [], "coturnix_quail")
    assert (found.verdict, found.others) == ("cannot_tell", None)


def test_storage_that_explains_the_hours_is_no_shift() -> None:
    """Five batches stored 12 days more hatch 10 h later: 0.84 h a day, inside the published range."""
    own = [
        _batch(one.day, one.middle + (10 if 8 <= at <= 12 else 0), 15.0 if 8 <= at <= 12 else 3.0)
        for at, one in enumerate(_machine(_level, 1))
    ]
    assert hour_shifts(own, _machine(_level, 2), "coturnix_quail") == ()


@pytest.mark.parametrize("size", [0.0, 2.0])
def test_what_is_not_worth_naming_is_not_named(size: float) -> None:
    own = _machine(lambda at: -size if at > 12 else 0.0, 5, wobbles=0.4)
    assert hour_shifts(own, _machine(_level, 2), "coturnix_quail") == ()
