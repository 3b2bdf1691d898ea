"""Mean water loss with its interval by hand, and published targets brought to the day of weighing."""

from __future__ import annotations

import pytest

from analytics.errors import DataTooThin
from analytics.incubation.water_line import WeighedTray, mean_loss, target_on


def _trays(*pairs: tuple[str, float]) -> list[WeighedTray]:
    return [WeighedTray(batch, loss, 14.5) for batch, loss in pairs]


def test_batches_by_hand() -> None:
    """Losses .10 .12 | .11 .13 | .09 .11: mean .11; sums off it 0, .02, -.02 by batch; error
    sqrt(3/2 * .0008) / 6 = .005774; t(2) = 4.3027 (any table), so .02484 on either side."""
    found = mean_loss(_trays(("a", 0.10), ("a", 0.12), ("b", 0.11), ("b", 0.13), ("c", 0.09), ("c", 0.11)))
    assert (found.trays, found.batches, found.days) == (6, 3, 14.5)
    assert found.loss == pytest.approx(0.11)
    assert found.interval is not None
    assert found.interval.high - found.loss == pytest.approx(0.02484, abs=1e-5)


def test_few_trays_are_wide_and_one_has_no_range() -> None:
    """Two trays of one batch, .10 and .12: error .01, t(1) = 12.706 (any table)."""
    found = mean_loss(_trays(("a", 0.10), ("a", 0.12)))
    assert found.interval is not None
    assert found.interval.high - found.loss == pytest.approx(0.12706, abs=1e-4)
    assert mean_loss(_trays(("a", 0.10))).interval is None
    with pytest.raises(DataTooThin):
        mean_loss([])


def test_targets_on_a_day() -> None:
    """Chicken: 12 % by day 18 (Tullett 2009, SEEN) is 6 % on day 9; all sources from 9.5 to 13 %.

    Coturnix: 8.94-11.96 % by day 15 (Romao 2009, SEEN) and 9.17 % by day 14 (shell-colour study, SEEN).
    """
    chicken = target_on("chicken", 9.0)
    assert chicken is not None
    assert (chicken.low, chicken.high) == (pytest.approx(0.0475), pytest.approx(0.065))
    assert chicken.low < 0.06 < chicken.high
    quail = target_on("coturnix_quail", 7.5)
    assert quail is not None
    assert (quail.low, quail.high) == (pytest.approx(0.0447), pytest.approx(0.0598))
    assert quail.is_scaled_from == (14, 15)


def test_a_bird_without_a_published_figure_has_none() -> None:
    assert target_on("chukar", 19.0) is None
