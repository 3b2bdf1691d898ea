"""Sums by month, pen and machine: by hand, and the same from trays one by one."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.options import Selection
from analytics.store.counts import counting
from analytics.store.monthly import MonthlySums, monthly_sums, told_families
from analytics.values import Month

Make = Callable[..., Path]
AT = datetime.fromisoformat
JANUARY, MARCH = Month(2026, 1), Month(2026, 3)
MONTHS = [JANUARY, Month(2026, 2), MARCH]
TOLD = {"culled": 0, "mid_dead": 0, "late_dead": 0, "internal_pip": 0, "external_pip": 0, "rotten": 0,
        "cracked": 0, "not_opened": 0, "clear": 0}  # fmt: skip


def _tray(batch: str, tray: str, pen: str, hatched: int, **more: int) -> dict[str, Any]:
    return {"batch": batch, "tray": tray, "pen": pen, "eggs_set": 20, "hatched": hatched} | TOLD | more


@pytest.fixture
def store(store_of: Make) -> Path:
    """January: one batch in North, hatched in South, trays of A (two) and B. March: one batch in South."""
    return store_of(
        pens=[{"pen": "A", "species": "chicken"}, {"pen": "B", "species": "chicken"}],
        batches=[
            {"batch": "1", "incubator": "North", "hatcher": "South", "set_on": AT("2026-01-01"),
             "pulled_on": AT("2026-01-23")},
            {"batch": "2", "incubator": "South", "set_on": AT("2026-03-01"), "pulled_on": AT("2026-03-23")},
        ],
        trays=[
            _tray("1", "a", "A", 15, infertile=2, early_dead=1, late_dead=2),
            _tray("1", "b", "A", 16, infertile=4),
            _tray("1", "c", "B", 10, infertile=6, early_dead=1, mid_dead=1, external_pip=2),
            _tray("2", "a", "A", 14, infertile=1, clear=3, early_dead=2),
        ],
    )  # fmt: skip


def _asked(store: Path, months: list[Month] = MONTHS) -> MonthlySums:
    with counting(store, Selection()) as connection:
        families = told_families(connection)
        assert families == {"chicken": "staged"}
        (found,) = monthly_sums(connection, families, months)
    return found


def test_sums_by_hand(store: Path) -> None:
    found = _asked(store)
    assert (found.pens, found.machines) == (("A", "B"), ("North", "South"))
    assert found.steps == ("fertility", "early_loss", "mid_loss", "late_loss", "shell_loss")
    north, south = 0, 1
    january = {step: place for place, step in enumerate(found.steps)}
    low = found.entered[0, :, 0], found.passed[0, :, 0]
    # pen A in January: 40 eggs, 34 fertile, 1 dead early, 2 late; setter North, hatcher South
    assert [values[january["fertility"], 0, north] for values in low] == [40, 34]
    assert [values[january["early_loss"], 0, north] for values in low] == [34, 33]
    assert [values[january["late_loss"], 0, south] for values in low] == [33, 31]
    assert [values[january["shell_loss"], 1, south] for values in low] == [12, 10]  # pen B
    assert low[0][january["fertility"], 0, south] == 0
    assert found.entered[0, :, 1].sum() == 0  # February
    # trays and batches squared: 20 and 20 of pen A; the machine's batch held 60
    assert found.tray_squares[0, 0, 0, north] == 800
    assert found.batch_squares[0, 0, 0, north] == 1600
    assert found.machine_squares[0, 0, north] == 3600


def test_clear_eggs_open_two_ends(store: Path) -> None:
    found = _asked(store)
    assert found.passed[:, 0, 2, 0, 1].tolist() == [16, 19]
    assert found.entered[:, 1, 2, 0, 1].tolist() == [16, 19]
    assert found.passed[:, 1, 2, 0, 1].tolist() == [14, 14]


def test_one_end_without_clear_eggs(store: Path) -> None:
    assert len(_asked(store, [JANUARY]).entered) == 1


def test_months_not_asked_for_stay_out(store: Path) -> None:
    found = _asked(store, [MARCH])
    assert (found.pens, found.machines) == (("A",), ("South",))
    assert np.count_nonzero(found.entered[0]) == 5


def test_who_counts_the_hatch_alone(store_of: Make) -> None:
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}],
        batches=[{"batch": "1", "incubator": "N", "set_on": AT("2026-01-01"), "pulled_on": AT("2026-01-23")}],
        trays=[{"batch": "1", "tray": "1", "pen": "A", "eggs_set": 20, "hatched": 15}],
    )
    with counting(store, Selection()) as connection:
        families = told_families(connection)
        (found,) = monthly_sums(connection, families, [JANUARY])
    assert families == {"chicken": "hatch"}
    assert (found.steps, found.entered.ravel().tolist(), found.passed.ravel().tolist()) == (
        ("hatch_of_set",), [20], [15]
    )  # fmt: skip
