"""What was changed and when, as the store hands it on: labels of the records, and nothing set aside."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path

import numpy as np

from analytics.options import Selection
from analytics.store.changes import DatedChange
from analytics.store.changes_dated import (
    DietPeriod,
    diet_periods,
    laying_days,
    male_arrivals,
    written_changes,
)
from analytics.store.counts import counting
from analytics.store.ladder import asked_for, ladder_trays

DAY = date(2026, 3, 10)
SET = datetime.fromisoformat("2026-03-20T09:00")


def _store(store_of: Callable[..., Path]) -> Path:
    pen = {"pen": "Rowan", "eggs_set": 10, "hatched": 7, "infertile": 1, "early_dead": 2}
    return store_of(
        pens=[{"pen": "Rowan", "species": "coturnix_quail"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "B1", "incubator": "North", "set_on": SET, "pulled_on": SET}],
        trays=[
            {**pen, "batch": "B1", "tray": "1", "laid_from": DAY, "laid_to": date(2026, 3, 12)},
            {**pen, "batch": "B1", "tray": "2", "storage_days": 4},
            {**pen, "batch": "B1", "tray": "3"},
        ],
        changes=[
            {"changed_on": DAY, "scope": "pen", "target": " rowan ", "what": "grit"},
            {"changed_on": DAY, "scope": "pen", "target": "Rowan", "what": "wrong", "withdrawn_in": 2},
            {"changed_on": DAY, "scope": "storage", "what": "cellar"},
        ],
        incubator_events=[
            {"incubator": "north", "at": SET, "event": "moved", "notes": "to the shed"},
            {"incubator": "north", "at": SET, "event": "cleaned"},
        ],
        diets=[{"pen": "ROWAN", "from": DAY, "feed": "mash", "calcium_pct": 2.5}],
        birds=[{"bird": "cock", "sex": "m"}, {"bird": "hen", "sex": "f"}],
        pen_birds=[{"pen": "rowan", "bird": bird, "from": DAY} for bird in ("cock", "hen")],
    )


def test_changes_moves_diets_and_males_carry_the_labels_of_their_own_sheets(
    store_of: Callable[..., Path],
) -> None:
    with counting(_store(store_of), Selection()) as connection:
        assert written_changes(connection) == (
            DatedChange(DAY, "pen", "Rowan", "grit"),
            DatedChange(DAY, "storage", "", "cellar"),
            DatedChange(SET.date(), "incubator", "North", "moved: to the shed"),
        )
        assert diet_periods(connection) == (DietPeriod("Rowan", DAY, None, "mash", "", 2.5, None),)
        assert male_arrivals(connection) == (("Rowan", DAY),)


def test_days_of_lay_are_those_written_else_set_less_storage_else_not_known(
    store_of: Callable[..., Path],
) -> None:
    with counting(_store(store_of), Selection()) as connection:
        asked_for(connection)
        ladder = ladder_trays(connection, Selection(), "staged")
        first, last = laying_days(connection, ladder)
    assert ladder.labels["tray"].tolist() == ["1", "2", "3"]
    assert first[:2].astype(str).tolist() == ["2026-03-10", "2026-03-16"]
    assert last[:2].astype(str).tolist() == ["2026-03-12", "2026-03-16"]
    assert np.isnat(first[2])
    assert np.isnat(last[2])
