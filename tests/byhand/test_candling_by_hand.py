"""Eggs taken out at candling lend their stage to eggs left closed: leaning, but within the range."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.store.counts import Span, counting, strata
from analytics.values import Period


def test_the_range_holds_what_the_share_leans_away_from(store_of: Callable[..., Path]) -> None:
    """40 set; 6 infertile and 2 early dead taken out on day 7; of 8 unhatched at the end 5 opened, 3 not.

    Those 3 stayed after candling, so that hardly one was infertile: 34 of 40 fertile, 85 %. Shared out like
    all 13 that were opened, 3 x 6/13 = 1.38 of them are: 32.62 of 40, 81.5 %. If all 3 were: 31 of 40.
    """
    at = datetime.fromisoformat
    store = store_of(
        pens=[{"pen": "Rowan", "species": "coturnix_quail"}],
        batches=[
            {"batch": "B1", "incubator": "North", "set_on": at("2026-03-03"), "pulled_on": at("2026-03-21")}
        ],
        trays=[
            {"batch": "B1", "tray": "1", "pen": "Rowan", "eggs_set": 40, "hatched": 24, "infertile": 6,
             "early_dead": 2, "mid_dead": 1, "late_dead": 4, "not_opened": 3, "candled_on": at("2026-03-10"),
             "removed_at_candling": 8}
        ],
    )  # fmt: skip
    with counting(store, Selection()) as connection:
        (whole, _) = strata(connection, [Span(Period(None, None))])
    fertility = rates(whole.families, {})["fertility"]
    assert fertility.value == pytest.approx((34 - 18 / 13) / 40)
    assert fertility.possible
    assert (fertility.possible.low, fertility.possible.high) == (31 / 40, 34 / 40)
