"""Rates of pens against their eggs, on small stores."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from analytics.comparisons.funnel import LEVELS, expected_limits
from analytics.options import Selection
from analytics.studies.pen_data import pen_data
from analytics.studies.pen_funnel import PenFunnel, pen_funnels

AT = datetime.fromisoformat


@pytest.fixture
def farm(store_of: Callable[..., Path]) -> Path:
    """Quail pens of 60, 60 and 40 eggs in two batches; a duck pen; a pen whose one tray was not counted."""
    quail = [("Ash", 60, 54, 0), ("Birch", 60, 51, 2), ("Cedar", 40, 8, 4)]
    trays = [
        {"batch": batch, "tray": pen, "pen": pen, "eggs_set": eggs // 2, "hatched": hatched // 2,
         "clear": clear // 2, "infertile": 0, "early_dead": (eggs - hatched - clear) // 2,
         "mid_dead": 0, "late_dead": (eggs - hatched - clear + 1) // 2 - (eggs - hatched - clear) // 2}
        for batch in ("b1", "b2") for pen, eggs, hatched, clear in quail
    ]  # fmt: skip
    trays += [
        {"batch": "b1", "tray": "d", "pen": "Pond", "eggs_set": 20, "hatched": 12, "infertile": 8},
        {"batch": "b1", "tray": "u", "pen": "Unknown", "eggs_set": 20},
    ]
    for tray in trays[:6]:
        rest = ("eggs_set", "hatched", "clear", "early_dead", "late_dead")
        left = int(tray["eggs_set"]) - sum(int(tray[name]) for name in rest[1:])
        tray["infertile"] = left
    return store_of(
        pens=[
            {"pen": pen, "species": "duck" if pen == "Pond" else "coturnix_quail"}
            for pen in ("Ash", "Birch", "Cedar", "Pond", "Unknown")
        ],
        incubators=[{"incubator": "North"}],
        batches=[
            {"batch": name, "incubator": "North", "set_on": AT(f"2026-0{month}-01"),
             "pulled_on": AT(f"2026-0{month}-19")}
            for name, month in (("b1", 3), ("b2", 4))
        ],
        trays=trays,
    )  # fmt: skip


def _funnels(store: Path, measure: str) -> dict[str, PenFunnel]:
    return {one.species: one for one in pen_funnels(pen_data(store, measure, Selection(), "pen"))}


def test_every_species_has_its_own_common_rate(farm: Path) -> None:
    found = _funnels(farm, "hatch_of_set")
    assert list(found) == ["coturnix_quail", "duck"]
    # By hand, both batches together: 54 + 50 + 8 = 112 of 160 quail (half of 51 is 25), 12 of 20 ducks.
    assert found["coturnix_quail"].common == (112 / 160, 112 / 160)
    assert found["duck"].common == (0.6, 0.6)
    points = {point.pen: point for point in found["coturnix_quail"].points}
    assert {pen: (point.eggs, point.low, point.high) for pen, point in points.items()} == {
        "Ash": (60, 54 / 60, 54 / 60),
        "Birch": (60, 50 / 60, 50 / 60),
        "Cedar": (40, 8 / 40, 8 / 40),
    }


def test_only_what_is_far_from_the_common_rate_lies_beyond(farm: Path) -> None:
    points = {point.pen: point for point in _funnels(farm, "hatch_of_set")["coturnix_quail"].points}
    # 8 of 40 where 28 are expected is beyond any limit, even at a design effect of 3:
    # binomial, 2.67 or fewer of 13.3 at 0.7 has a probability below 0.001.
    assert (points["Cedar"].beyond, points["Cedar"].below) == (0.998, True)
    assert points["Birch"].beyond is None


def test_the_limits_are_those_of_the_common_rate_at_the_design_effect(farm: Path) -> None:
    funnel = _funnels(farm, "hatch_of_set")["coturnix_quail"]
    assert funnel.deff > 1
    assert [limits.level for limits in funnel.limits] == list(LEVELS)
    for limits in funnel.limits:
        low, high = expected_limits(funnel.common[0], funnel.eggs, funnel.deff, limits.level)
        assert limits.low == tuple(low.tolist())
        assert limits.high == tuple(high.tolist())
    assert list(funnel.eggs) == sorted(funnel.eggs)
    assert funnel.eggs[-1] > 60


def test_clear_eggs_leave_two_ends_and_widen_the_limits(farm: Path) -> None:
    funnel = _funnels(farm, "fertility")["coturnix_quail"]
    points = {point.pen: point for point in funnel.points}
    assert funnel.common[0] < funnel.common[1]
    assert points["Ash"].low == points["Ash"].high
    # Cedar's 4 clear eggs of 40 are either infertile or not: a tenth is open.
    assert points["Cedar"].high - points["Cedar"].low == pytest.approx(0.1)
    inner = funnel.limits[0]
    low = expected_limits(funnel.common[0], funnel.eggs, funnel.deff, inner.level)[0]
    high = expected_limits(funnel.common[1], funnel.eggs, funnel.deff, inner.level)[1]
    assert (inner.low, inner.high) == (tuple(low.tolist()), tuple(high.tolist()))


def test_a_pen_without_counted_eggs_has_no_mark(farm: Path) -> None:
    assert "Unknown" not in {point.pen for point in _funnels(farm, "hatch_of_set")["coturnix_quail"].points}
