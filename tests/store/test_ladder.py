"""Trays as a ladder: what passed each step by hand, whose trays are wanted, what a diet had beyond."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.options import Selection
from analytics.store.counts import counting
from analytics.store.ladder import Asked, Family, LadderTrays, asked_for, diet_shares, ladder_trays

AT = datetime.fromisoformat
Make = Callable[..., Path]
Found = tuple[tuple[Asked, ...], LadderTrays]
PENS = [{"pen": pen, "species": "coturnix_quail"} for pen in ("Rowan", "Alder")]
BATCHES = [
    {"batch": "B1", "incubator": "North", "set_on": AT("2026-03-01"), "pulled_on": AT("2026-03-19")},
    {"batch": "B2", "incubator": "South", "set_on": AT("2026-03-20"), "pulled_on": AT("2026-04-07")},
    {"batch": "B3", "incubator": "South", "set_on": AT("2026-04-20")},
]
WHOLE = {"hatched": 24, "culled": 2, "infertile": 3, "clear": 2, "early_dead": 2, "mid_dead": 1,
         "late_dead": 3, "internal_pip": 1, "external_pip": 1, "cracked": 1}  # fmt: skip


def _tray(batch: str, tray: str, pen: str, eggs_set: int, **more: Any) -> dict[str, Any]:
    return {"batch": batch, "tray": tray, "pen": pen, "eggs_set": eggs_set, **more}


def _ladder(store: Path, family: Family = "staged", **filters: Any) -> Found:
    with counting(store, Selection(**filters)) as connection:
        asked = asked_for(connection)
        return asked, ladder_trays(connection, Selection(species=("coturnix_quail",)), family)


def test_what_passed_each_step(store_of: Make) -> None:
    """40 set, 1 cracked: 39; less 3 + 2 infertile and clear 34; less 2, 1, 3, 2 pipped: 26 chicks."""
    store = store_of(pens=PENS, batches=BATCHES, trays=[_tray("B1", "1", "Rowan", 40, **WHOLE)])
    asked, found = _ladder(store)
    assert asked == (Asked("coturnix_quail", 1, 40, 40),)
    assert found.eggs.tolist() == [39]
    assert found.passed.tolist() == [[34, 32, 31, 28, 26]]
    assert (found.numbers["eggs_set"].tolist(), found.numbers["clear"].tolist()) == ([40], [2])
    assert found.set_on.astype(str).tolist() == ["2026-03-01"]
    assert _ladder(store, "hatch")[1].passed.tolist() == [[26]]


def test_unopened_eggs_are_shared_out(store_of: Make) -> None:
    """10 opened: 5 infertile, 3 early, 2 late; 10 not opened fall out like these."""
    counts = {"hatched": 20, "infertile": 5, "clear": 0, "early_dead": 3, "mid_dead": 0, "late_dead": 2,
              "internal_pip": 0, "external_pip": 0, "not_opened": 10, "rotten": 0, "cracked": 0}  # fmt: skip
    store = store_of(pens=PENS, batches=BATCHES, trays=[_tray("B1", "1", "Rowan", 40, **counts)])
    assert_allclose(_ladder(store)[1].passed, [[30, 24, 24, 20, 20]])


def test_wanted_are_those_of_the_selection(store_of: Make) -> None:
    trays = [
        _tray("B1", "1", "Rowan", 40, **WHOLE),
        _tray("B2", "1", "Rowan", 40, **WHOLE),
        _tray("B2", "2", "Alder", 40, **WHOLE),
        _tray("B2", "3", "Alder", 40, infertile=1),
        _tray("B3", "1", "Alder", 40),
    ]
    store = store_of(pens=PENS, batches=BATCHES, incubators=[{"incubator": "North"}, {"incubator": "South"}],
                     trays=trays)  # fmt: skip
    asked, found = _ladder(store, pens=(" ALDER",))
    assert asked == (
        Asked("coturnix_quail", 2, 80, 40),
    )  # one without a hatch; the open batch is not asked for
    assert list(zip(found.labels["batch"], found.labels["tray"], found.wanted, strict=True)) == [
        ("B1", "1", False), ("B2", "1", False), ("B2", "2", True)
    ]  # fmt: skip
    assert _ladder(store, incubators=("north",))[1].wanted.tolist() == [True, False, False]


def test_a_parent_has_one_spelling(store_of: Make) -> None:
    trays = [_tray("B1", "1", "Rowan", 40, sire="Old Tom", **WHOLE),
             _tray("B1", "2", "Rowan", 40, sire="old tom ", **WHOLE),
             _tray("B1", "3", "Alder", 40, **WHOLE)]  # fmt: skip
    store = store_of(pens=PENS, batches=BATCHES, trays=trays)
    assert len(set(_ladder(store)[1].labels["sire"][:2])) == 1
    assert _ladder(store)[1].labels["sire"][2] == ""


def test_diets_by_laying_days(store_of: Make) -> None:
    """Laid 25 to 28 February, the new feed from the 28th: one day of four."""
    days = {"laid_from": date(2026, 2, 25), "laid_to": date(2026, 2, 28)}
    trays = [_tray("B1", "1", "Rowan", 40, **days, **WHOLE),
             _tray("B1", "2", "Alder", 40, **days, **WHOLE),
             _tray("B2", "1", "Rowan", 30, storage_days=4, **{**WHOLE, "hatched": 14})]  # fmt: skip
    diets = [
        {"pen": "rowan", "from": date(2026, 1, 1), "to": date(2026, 2, 27), "feed": "crumble"},
        {"pen": "Rowan", "from": date(2026, 2, 28), "feed": "crumble", "protein_pct": 22.0},
        {"pen": "Alder", "from": date(2026, 1, 1), "feed": "crumble"},
    ]
    store = store_of(pens=PENS, batches=BATCHES, trays=trays, diets=diets)
    assert_allclose(_ladder(store)[1].diets["protein 22 %"], [0.25, 0, 1])


KEYS = [("b1", "1"), ("b1", "2")]


@pytest.mark.parametrize(
    ("one", "name"),
    [
        ({"feed": "mash"}, "mash"),
        ({"supplement": "shell"}, "shell"),
        ({"feed": "mash", "supplement": "shell"}, "mash and shell"),
        ({"calcium_pct": 3.5}, "calcium 3.5 %"),
        ({"feed": None}, "another diet"),
    ],
)
def test_a_diet_is_named_by_what_is_new(one: dict[str, Any], name: str) -> None:
    usual = {"feed": "crumble", "supplement": None, "calcium_pct": 2.9, "protein_pct": 20.0}
    rows = [
        {"batch_key": "b1", "tray_key": "1", "share": 1.0, **usual},
        {"batch_key": "b1", "tray_key": "2", "share": 1.0, **usual, **one},
    ]
    found = diet_shares(rows, KEYS, np.array([30.0, 10.0]))
    assert {key: values.tolist() for key, values in found.items()} == {name: [0.0, 1.0]}
    assert diet_shares(rows[:1], KEYS, np.array([30.0, 10.0])) == {}
