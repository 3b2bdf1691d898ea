"""A display against its reference: by hand, and the definition put back in."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.errors import DataTooThin
from analytics.measures.display_offset import display_offset


def test_by_hand() -> None:
    # differences 0.2, 0.3, 0.4, 0.5: mean 0.35, sd 0.1291; t of 3 degrees 3.182 (any table): 0.35 +- 0.205
    found = display_offset([37.5, 37.6, 37.7, 37.8], [37.3, 37.3, 37.3, 37.3])
    assert found.offset == pytest.approx(0.35)
    assert found.scatter == pytest.approx(0.1291, abs=1e-4)
    assert found.interval is not None
    assert found.interval.low == pytest.approx(0.35 - 0.2054, abs=1e-3)
    assert found.interval.high == pytest.approx(0.35 + 0.2054, abs=1e-3)
    assert found.checks == 4


def test_one_check_has_no_interval() -> None:
    found = display_offset([37.9], [37.5])
    assert found.offset == pytest.approx(0.4)
    assert (found.interval, found.scatter, found.checks) == (None, None, 1)


def test_intervals_hold_the_offset_they_are_drawn_from() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(2000):
        reference = rng.normal(37.5, 0.2, 5)
        found = display_offset((reference + 0.3 + rng.normal(0, 0.1, 5)).tolist(), reference.tolist())
        assert found.interval is not None
        held += found.interval.low <= 0.3 <= found.interval.high
    assert held / 2000 == pytest.approx(0.95, abs=0.016)


@pytest.mark.parametrize(("displayed", "reference"), [([], []), ([37.5], []), ([37.5, 37.6], [37.5])])
def test_readings_without_a_partner_are_refused(displayed: list[float], reference: list[float]) -> None:
    with pytest.raises(DataTooThin):
        display_offset(displayed, reference)
