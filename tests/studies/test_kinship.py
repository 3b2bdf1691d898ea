"""Kinship from a store: who stood where, whose parents are known, and a planted fall of the hatch."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.cli.main import run
from analytics.errors import DataTooThin, WrongUsage
from analytics.studies.kinship import plan_matings, young_of
from analytics.studies.kinship_records import MatingsAsked

FIRST = datetime.fromisoformat("2025-03-03")
CHANGED = date(2025, 6, 2)
WEEKS = 26
PENS = ("Ash", "Elm", "Oak")


def _birds() -> list[dict[str, Any]]:
    """Three families of full brothers and sisters, and Ash's second cock of Oak's family."""
    rows: list[dict[str, Any]] = []
    for pen in PENS:
        rows += [{"bird": f"{pen} old {sex}", "sex": sex} for sex in "mf"]
        rows += [
            {"bird": f"{pen} {name}", "sex": name[0], "sire": f"{pen.upper()} old m", "dam": f"{pen} old f"}
            for name in ("m1", "f1", "f2")
        ]
    return [*rows, {"bird": "Ash m2", "sex": "m", "sire": "Oak old m", "dam": "Oak old f"}]


def _stays() -> list[dict[str, Any]]:
    """Ash's own brother is taken out in June; Elm and Oak have each other's cocks all the time."""
    start = date(2025, 1, 1)
    hens = [{"pen": pen, "bird": f"{pen} {name}", "from": start} for pen in PENS for name in ("f1", "f2")]
    return [
        *hens,
        {"pen": "Ash", "bird": "Ash m1", "from": start, "to": CHANGED - timedelta(days=1)},
        {"pen": "Ash", "bird": "Ash m2", "from": CHANGED},
        {"pen": "Elm", "bird": "Oak m1", "from": start},
        {"pen": "Oak", "bird": "Elm m1", "from": start},
    ]


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    """Weekly batches of three trays of 40; related parents (F = .25) cost 20 points of hatch, 8 per 10 %."""
    random = np.random.default_rng(21)
    batches, trays = [], []
    for week in range(WEEKS):
        day = FIRST + timedelta(days=7 * week)
        batches.append({"batch": f"B{week}", "incubator": "North", "set_on": day,
                        "pulled_on": day + timedelta(days=18)})  # fmt: skip
        shift = 0.05 * random.normal()
        for pen in PENS:
            related = pen == "Ash" and (day - timedelta(days=4)).date() < CHANGED
            hatched = int(random.binomial(40, np.clip(0.8 + shift - 0.2 * related, 0, 1)))
            trays.append({"batch": f"B{week}", "tray": pen, "pen": pen, "eggs_set": 40, "storage_days": 4,
                          "hatched": hatched, "early_dead": 40 - hatched})  # fmt: skip
    return store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in PENS],
        incubators=[{"incubator": "North"}],
        birds=_birds(),
        pen_birds=_stays(),
        batches=batches,
        trays=trays,
    )


def test_a_planted_fall_is_found_within_the_pen_that_changed_its_male(store: Path) -> None:
    found = plan_matings(store, MatingsAsked()).depression
    assert (found.kind, found.unknown) == ("within_pens", 0)
    low, slope, high, p_value = found.per_tenth.known()
    assert low < -0.08 < high < 0
    assert slope < 0
    assert p_value < 0.01
    assert any(
        note.startswith("Hatch of fertile falls by") and "within pens, 78 trays" in note
        for note in plan_matings(store, MatingsAsked()).notes
    )


def test_pens_as_they_stand_on_a_day(store: Path) -> None:
    """Full brother and sisters .25; strangers 0; by hand."""
    before = {one.pen: one for one in plan_matings(store, MatingsAsked(), date(2025, 4, 1)).pens}
    after = {one.pen: one for one in plan_matings(store, MatingsAsked(), date(2025, 7, 1)).pens}
    assert (before["Ash"].of_young, after["Ash"].of_young, before["Elm"].of_young) == (0.25, 0.0, 0.0)
    assert (before["Ash"].males, before["Ash"].females, before["Ash"].pairs) == (1, 2, 2)


def test_what_pens_sires_and_dams_would_have(store: Path) -> None:
    day = date(2025, 4, 1)
    assert young_of(store, "pen", day) == {"Ash": 0.25, "Elm": 0.0, "Oak": 0.0}
    assert young_of(store, "sire", day) == {"Ash m1": 0.25, "Oak m1": 0.0, "Elm m1": 0.0}
    assert young_of(store, "dam", date(2025, 7, 1))["Ash f2"] == 0.0


def test_the_plan_beside_rotation_and_beside_staying(store: Path) -> None:
    found = plan_matings(store, MatingsAsked(), date(2025, 4, 1))
    assert (found.most_females, found.with_parents) == (2, 9)
    assert found.as_now == pytest.approx(0.25 / 3)  # Ash's two hens with their brother
    assert found.plan.mean == 0
    assert found.plan.rotation_mean == pytest.approx(0.25 / 3)  # Oak's hens get Elm's cock, their brother
    assert "leaving them where they are 8.3 %" in found.sentence
    assert "Moving the males on by one pen gives 8.3 %" in found.sentence
    assert next(row.trait for row in found.published) == "hatchability"
    few = plan_matings(store, MatingsAsked(males=("ash m1", "Elm old M"), females=("Ash f1", "Elm f1")))
    assert few.plan.mean == 0
    assert any("Both parents are written down for 3 of these 4 birds" in note for note in few.notes)


def test_refusals_and_json(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for asked, words in (
        (MatingsAsked(males=("Yew",)), "'Yew'"),
        (MatingsAsked(males=("Ash f1",)), "Ash f1 is female"),
        (MatingsAsked(males=("Ash m1",), most_females=2), "6 females for 1 male"),
    ):
        with pytest.raises(WrongUsage, match=words):
            plan_matings(store, asked)
    assert run(["plan", "matings", "--store", str(store), "--json", "--as-of", "2025-04-01"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["schema"], found["kind"]) == ("penwise.plan/1", "matings")
    assert found["rotation"]["mean_inbreeding"] == pytest.approx(0.25 / 3)
    assert found["depression"]["per_tenth"] < 0
    assert found["pens"][0]["of_young"] == 0.25
    assert run(["plan", "matings", "--store", str(store)]) == 0
    said = capsys.readouterr().out
    assert "WHO WITH WHOM" in said
    (row,) = (line.split() for line in said.splitlines() if line.startswith("  1  "))
    assert row == ["1", "10", "0", "%", "0.0", "%", "3", "3", "6"]  # ten young of three pairs, 4 x 9 / 6


def test_an_empty_store_has_nobody_to_mate(store_of: Callable[..., Path]) -> None:
    with pytest.raises(DataTooThin, match="No bird stands in a pen"):
        plan_matings(store_of(), MatingsAsked())
