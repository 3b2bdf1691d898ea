"""Shells, water and late losses: the hypothesis with all its conditions, and without one of them."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.common import plain
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.reports.signs_shells import NONE, shells_lines, shells_values
from analytics.studies.shells import ShellsAnswer, shells

Make = Callable[..., Path]
Row = dict[str, Any]
PENS = ("Rowan", "Alder", "Birch")
START = datetime.fromisoformat("2026-01-05T09:00")


def farm(
    pipped: int = 8, millimetres: float = 0.180, loss: float = 0.080, machine_loss: float = 0.11, **more: Any
) -> dict[str, list[Row]]:
    """12 batches in two machines, 30 eggs of 10 g a tray of 200 g; what is given is Rowan's, or South's."""
    batches, trays = [], []
    for number in range(12):
        machine, start = ("North", "South")[number % 2], START + timedelta(days=7 * (number // 2))
        batches.append({"batch": f"B{number:02}", "incubator": machine, "set_on": start,
                        "pulled_on": start + timedelta(days=18)})  # fmt: skip
        for pen in PENS:
            lost = loss if pen == "Rowan" else machine_loss if machine == "South" else 0.11
            lost += 0.001 * ((number + len(pen)) % 3)
            out = pipped if pen == "Rowan" else 1
            trays.append({"batch": f"B{number:02}", "tray": pen, "pen": pen, "eggs_set": 30, "infertile": 2,
                          "external_pip": out, "hatched": 28 - out, "tare_g": more.get("tare_g", 200.0),
                          "weight_set_g": 500.0, "weight_transfer_g": 500.0 - 300.0 * lost})  # fmt: skip
    samples = [
        {"pen": pen, "sampled_on": (START + timedelta(days=14 * week)).date(), "eggs": 10,
         "thickness_mm": (millimetres if pen == "Rowan" else 0.160) + 0.001 * (week % 2)}
        for week in range(4) for pen in more.get("sampled", PENS)
    ]  # fmt: skip
    return {
        "pens": [{"pen": pen, "species": "coturnix_quail"} for pen in PENS],
        "incubators": [{"incubator": name} for name in ("North", "South")],
        "batches": batches, "trays": trays, "shells": samples,
    }  # fmt: skip


def ask(store: Path) -> ShellsAnswer:
    found = shells(store, Selection())
    json.dumps(plain({"shells": shells_values(found)}), allow_nan=False)
    assert "SHELLS AND WATER" in "\n".join(shells_lines(found))
    return found[0]


def test_all_conditions_together_make_a_hypothesis_and_no_more(store_of: Make) -> None:
    found = ask(store_of(**farm()))
    rowan = next(one for one in found.pens if one.pen == "Rowan")
    assert rowan.conditions == (True, True, True)
    assert [one.pen for one in found.pens if one.may_be_too_hard] == ["Rowan"]
    assert rowan.thickness is not None
    assert rowan.water is not None
    # .180, .181 and .180 mm; the fourth sample is younger than the last setting
    assert rowan.thickness.own == pytest.approx(0.541 / 3)
    assert rowan.water.own == pytest.approx(0.081)  # 8.0 % and .0, .1, .2 points in turn
    (said,) = found.hypotheses
    for text in ("is a hypothesis", "No trial of calcium doses found shells too hard", "Saylam 1999"):
        assert text in said
    assert found.weighed == (36, 36)


@pytest.mark.parametrize("other", [{"millimetres": 0.160}, {"sampled": ()}])
def test_without_one_condition_nothing_is_said_of_hard_shells(store_of: Make, other: dict[str, Any]) -> None:
    found = ask(store_of(**farm(**other)))
    assert found.hypotheses == ()
    measured = found.samples > 0 and found.weighed[0] > 0
    assert (NONE in " ".join("\n".join(shells_lines([found])).split())) == measured


def test_one_pen_that_loses_little_may_have_other_shells_and_makes_no_other_stand_above(
    store_of: Make,
) -> None:
    one_pen = ask(store_of(**farm(pipped=1)))
    assert [said.split(" loses")[0] for said in one_pen.water] == ["Rowan"]
    assert "8.1 % against 11.1 %" in one_pen.water[0]
    assert "That may be its shells; the size of its eggs" in one_pen.water[0]


def test_a_machine_whose_pens_all_lose_less_than_elsewhere_may_have_humid_air(store_of: Make) -> None:
    sheets = farm(pipped=1, loss=0.11, machine_loss=0.06)
    for row in sheets["trays"]:  # Rowan too
        if int(row["batch"][1:]) % 2:
            row["weight_transfer_g"] = 500.0 - 300.0 * (0.06 + 0.001 * (int(row["batch"][1:]) % 3))
    (said,) = ask(store_of(**sheets)).water
    assert "Eggs in North lose more water than in South: 11." in said
    assert "it may be the air, drier here" in said
    assert "its humidity is not written down" in said
    assert "Which of the two is off, this does not say." in said
    assert "by day 14 or 15 are 8.9 to 12.0 %" in said  # 8.94 to 11.96 by day 15, 9.17 by day 14


def test_an_odd_machine_does_not_make_the_sound_ones_odd(store_of: Make) -> None:
    """Of three machines North alone loses much: East and South are held against one another only."""
    sheets = farm(pipped=1, loss=0.11, machine_loss=0.11)
    sheets["incubators"].append({"incubator": "East"})
    for row in sheets["batches"]:
        number = int(row["batch"][1:])
        row.update(incubator=("North", "South", "East")[number % 3], set_on=START + timedelta(days=number))
        row["pulled_on"] = row["set_on"] + timedelta(days=18)
    for row in sheets["trays"]:
        number = int(row["batch"][1:])
        lost = (0.14 if number % 3 == 0 else 0.11) + 0.002 * (number % 2)
        row["weight_transfer_g"] = 500.0 - 300.0 * lost
    (said,) = ask(store_of(**sheets)).water
    assert said.startswith("Eggs in North lose more water than in the other machines: 14.1 % against 11.1 %")


def test_pens_that_differ_do_not_make_their_machines_differ(store_of: Make) -> None:
    """Rowan's dense shells lie in South mostly: each pen beside itself loses alike in both machines."""
    sheets = farm(pipped=1, loss=0.11, machine_loss=0.11)
    kept = []
    for row in sheets["trays"]:
        number, is_rowan = int(row["batch"][1:]), row["pen"] == "Rowan"
        if (number % 2 == 1) is is_rowan or number >= 10:
            lost = (0.08 if is_rowan else 0.11) + 0.0005 * (number % 3)
            kept.append({**row, "weight_transfer_g": 500.0 - 300.0 * lost})
    found = ask(store_of(**{**sheets, "trays": kept}))
    south = next(one for one in found.machines if one.incubator == "South")
    assert south.water is not None
    assert south.water.is_less  # as the batches are
    assert south.apart is None


def test_a_tray_without_its_tare_is_in_no_water_loss(store_of: Make) -> None:
    found = ask(store_of(**farm(tare_g=None)))
    assert found.weighed == (0, 36)
    assert found.hypotheses == ()
    assert any("No tray was weighed twice with its tare" in said for said in found.not_known)


def test_an_empty_store_is_refused(store_of: Make) -> None:
    with pytest.raises(DataTooThin):
        shells(store_of(), Selection())
