"""Water loss against worked examples."""

from __future__ import annotations

import pytest

from analytics.errors import DataTooThin
from analytics.measures.water import water_loss


def test_the_tare_matters() -> None:
    """100 eggs of 60 g on a tray of 300 g, later 5700 g in all: 600 of 6000 g is 10 %.

    A trade page (seen at second hand) forgets the tray: 600 of 6300 g would be 9.52 %.
    """
    assert water_loss(300, 6300, 100, 5700, 100) == pytest.approx(0.10)
    assert water_loss(0, 6300, 100, 5700, 100) == pytest.approx(0.0952, abs=5e-5)


def test_one_egg() -> None:
    """50.0 g to 45.0 g is 10.0 % (textbook arithmetic)."""
    assert water_loss(0, 50.0, 1, 45.0, 1) == pytest.approx(0.10)


def test_eggs_taken_out_between_do_not_count_as_water() -> None:
    # by hand: 20 eggs of 10 g, then 15 eggs of 9 g, tray 100 g
    assert water_loss(100, 300, 20, 235, 15) == pytest.approx(0.10)


@pytest.mark.parametrize("given", [(0, 100, 0, 90, 10), (0, 100, 10, 90, 0), (200, 100, 10, 90, 10)])
def test_impossible_weighings_are_refused(given: tuple[float, float, int, float, int]) -> None:
    with pytest.raises(DataTooThin):
        water_loss(*given)
