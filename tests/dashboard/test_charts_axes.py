"""Axes of shares: what is written on them, and where."""

from __future__ import annotations

import pytest

from dashboard.charts_axes import share_axis, share_axis_from_nothing, ticks
from dashboard.look import DAY


@pytest.mark.parametrize(
    ("low", "high", "shown"),
    [
        (0, 1.02, [0, 20, 40, 60, 80, 100]),
        (-0.02, 0.11, [0, 2, 4, 6, 8, 10]),
        (0.73, 0.97, [75, 80, 85, 90, 95]),
        (0.88, 0.92, [88, 89, 90, 91, 92]),
        (0.29, 0.88, [30, 40, 50, 60, 70, 80]),
    ],
)
def test_ticks_are_whole_percents_and_never_more_than_six(low: float, high: float, shown: list[int]) -> None:
    assert ticks(low, high) == shown


def test_a_share_is_written_with_a_space_as_in_sentences() -> None:
    axis = share_axis(DAY, [0.75, 0.95])
    assert axis["ticktext"] == [f"{tick}\N{NO-BREAK SPACE}%" for tick in (75, 80, 85, 90, 95)]
    assert axis["tickvals"] == [0.75, 0.8, 0.85, 0.9, 0.95]
    assert axis["range"] == [pytest.approx(0.73), pytest.approx(0.97)]
    assert share_axis_from_nothing(DAY, 0.5)["range"] == [0, 0.51]
