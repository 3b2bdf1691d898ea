"""Which strata a ledger of many farms learns from, and how eggs of unknown stage are shared among them."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from analytics.studies import farm_data
from analytics.studies.farm_data import STAGES, bound_of


def _sums(farms: dict[str, int], months: int, joined: int = 5) -> list[dict[str, Any]]:
    return [
        {"farm": farm, "month": f"2025-{month:02d}", "strata": strata, "joined": joined, "trays": 10,
         "eggs_set": 100 * strata}
        for farm, strata in farms.items()
        for month in range(1, months + 1)
    ]  # fmt: skip


def test_all_months_where_they_fit() -> None:
    found = bound_of(_sums({"A": 100, "B": 200}, 12))
    assert (found.months, found.farms, found.joined) == (("2025-01", "2025-12"), ("A", "B"), False)
    assert (found.older, found.other) == (0, ())


def test_classes_are_joined_so_that_more_months_fit() -> None:
    # 12 months of 400 strata are 4,800 and more than 4,000; joined they are 12 * 2 * 150
    found = bound_of(_sums({"A": 200, "B": 200}, 12, joined=150))
    assert (found.months, found.joined, found.older) == (("2025-01", "2025-12"), True, 0)
    # joined, 10 of 12 months of 400 fit: 20 trays a month are left aside
    found = bound_of(_sums({"A": 300, "B": 300}, 12, joined=200))
    assert (found.months, found.joined, found.older) == (("2025-03", "2025-12"), True, 40)


def test_of_too_many_farms_the_largest_of_the_last_month() -> None:
    farms = {f"F{number}": 1000 + number for number in range(6)}
    found = bound_of(_sums(farms, 2, joined=1500))
    assert found.months == ("2025-02", "2025-02")
    assert found.farms == ("F4", "F5")
    assert found.other == ("F0", "F1", "F2", "F3")
    assert found.older == 60


def _rows(counts: list[list[float]], unknown: list[float], pens: list[str]) -> dict[str, Any]:
    table = np.array(counts, dtype=float)
    rows: dict[str, Any] = {stage: table[:, at] for at, stage in enumerate(STAGES)}
    rows |= {
        "unknown": np.array(unknown, dtype=float),
        "farm": np.array(["A"] * len(pens)),
        "pen": np.array(pens),
    }
    rows["staged_chicks"] = np.full(len(pens), 50.0)
    rows["staged_followed"] = rows["staged_chicks"] + table.sum(axis=1) + rows["unknown"]
    return rows


def test_unknown_eggs_go_by_their_stratum_then_the_pen_then_the_farm() -> None:
    rows = _rows(
        [[6, 0, 2, 0, 2, 0], [0, 0, 1, 0, 0, 0], [0, 0, 0, 0, 0, 4], [0, 0, 0, 0, 0, 0]],
        [10, 11, 3, 30],
        ["P", "P", "Q", "Q"],
    )
    eggs, passed, told = farm_data._ladder(rows, "staged")
    # by hand: row 0 by its own 10 opened (6 infertile, 2 early, 2 late); row 1 by pen P's 11 (6, 3, 2)
    assert eggs[:2] == pytest.approx([70, 62])
    assert passed[0] == pytest.approx([50 + 8 - 4 + 4, 50 + 4, 50 + 4, 50, 50])
    assert passed[1] == pytest.approx([50 + 1 + 5, 50 + 2, 50 + 2, 50, 50])
    # rows 2 and 3: pen Q opened 4, too few; the farm's 15 are 6 infertile, 3 early, 2 late, 4 in the shell
    assert passed[3] == pytest.approx([50 + 30 * 9 / 15, 50 + 30 * 6 / 15, 50 + 12, 50 + 8, 50])
    assert passed[2, 3] == pytest.approx(50 + 4 + 3 * 4 / 15)
    assert told.all()


def test_without_an_opened_egg_the_stage_is_not_told() -> None:
    _, _, told = farm_data._ladder(_rows([[0.0] * 6] * 2, [3, 0], ["P", "P"]), "staged")
    assert told.tolist() == [False, True]
