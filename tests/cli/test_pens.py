"""`penwise pens` as it is called: text, JSON with its keys, the pair, refusals with their exit codes."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.cli.main import run

Capture = pytest.CaptureFixture[str]
ROW = {
    "pen", "eggs", "eggs_set", "count", "clear", "rate", "low", "high", "possible_low", "possible_high",
    "shrunk_rate", "shrunk_low", "shrunk_high",
}  # fmt: skip
TEST = {"method", "statistic", "dof", "p_value"}
PAIR = {"pen_a", "pen_b", "difference", "low", "high", "p_value", "q_value"}


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    random = np.random.default_rng(20260403)
    first = datetime.fromisoformat("2026-01-05")
    days = [first + timedelta(days=7 * number) for number in range(12)]
    trays = []
    for number in range(12):
        for pen, rate in {"Rowan": 0.6, "Alder": 0.9, "Birch": 0.88}.items():
            hatched = int(random.binomial(24, rate))
            trays.append({"batch": f"B{number:02}", "tray": pen, "pen": pen, "eggs_set": 24,
                          "hatched": hatched, "infertile": 24 - hatched})  # fmt: skip
    return store_of(
        pens=[
            {"pen": pen, "species": "coturnix_quail", "line": line}
            for pen, line in (("Rowan", "a"), ("Alder", "a"), ("Birch", "b"))
        ],
        batches=[
            {"batch": f"B{n:02}", "incubator": "North", "set_on": day, "pulled_on": day + timedelta(days=18)}
            for n, day in enumerate(days)
        ],
        trays=trays,
    )


def _json(capsys: Capture, store: Path, *more: str, code: int = 0) -> dict[str, Any]:
    assert run(["pens", "--store", str(store), "--json", *more]) == code
    said = capsys.readouterr()
    assert "NaN" not in said.out
    found: dict[str, Any] = json.loads(said.out)
    return found


def test_json_has_its_keys(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--measure", "fertility")
    assert (found["schema"], found["measure"], found["by"]) == ("penwise.pens/1", "fertility", "pen")
    assert {"rows", "tests", "clustering", "pairs", "sentence", "decides", "why"} <= set(found)
    assert [row["pen"] for row in found["rows"]] == ["Alder", "Birch", "Rowan"]
    for row in found["rows"]:
        assert set(row) >= ROW
        assert row["count"] / row["eggs"] == row["rate"]
        assert row["low"] < row["rate"] < row["high"]
    assert set(found["tests"]) == {"independent", "clustered", "stratified"}
    assert set(found["tests"]["independent"]) >= TEST
    assert set(found["tests"]["stratified"]) >= TEST
    assert set(found["tests"]["clustered"]) >= TEST | {"dof2"}
    assert set(found["clustering"]) >= {"icc", "deff"}
    assert len(found["pairs"]) == 3
    for pair in found["pairs"]:
        assert set(pair) >= PAIR
    assert found["decides"] == "clustered"
    assert found["sentence"].startswith("Rowan's fertility is below the others: ")


def test_a_pen_with_few_eggs_is_drawn_in(store: Path, capsys: Capture) -> None:
    rowan = _json(capsys, store)["rows"][2]
    assert rowan["rate"] < rowan["shrunk_rate"] < rowan["shrunk_high"]


def test_two_pens_give_one_difference(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--measure", "fertility", "--pen", "rowan", "--pen", "Alder")
    (pair,) = found["pairs"]
    assert (pair["pen_a"], pair["pen_b"]) == ("Rowan", "Alder")
    assert pair["low"] < pair["difference"] < pair["high"] < 0
    assert [row["pen"] for row in found["rows"]] == ["Alder", "Rowan"]
    assert found["pair"]["shared_batches"] == [f"B{n:02}" for n in range(12)]
    assert found["pair"]["decided"] is True
    assert found["pair"]["more_eggs"] == 0
    assert found["sentence"].startswith("Rowan's fertility is ")
    assert found["tests"]["clustered"]["dof"] == pytest.approx(1, abs=0.1)  # stretched by the trays' tails


def test_one_pen_is_a_filter(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--pen", "Rowan", code=1)
    assert [row["pen"] for row in found["rows"]] == ["Rowan"]
    assert (found["decides"], found["pairs"]) == (None, [])
    assert found["rows"][0]["shrunk_rate"] is None
    assert "Only Rowan has eggs here, and a comparison needs two pens." in found["sentence"]
    assert found["remedy"].startswith("Set eggs of a second one in the same batches, or widen the days")


def test_what_cannot_be_compared_is_said_without_empty_tables(store: Path, capsys: Capture) -> None:
    assert run(["pens", "--store", str(store), "--measure", "fertility", "--pen", "Rowan"]) == 1
    printed = capsys.readouterr()
    said = " ".join(printed.out.split())
    assert printed.err.startswith("penwise: These records allow no comparison. ")
    assert "Only Rowan has eggs here" in printed.err
    assert "Only Rowan has eggs here, and a comparison needs two pens. Set eggs of a second one" in said
    for heading in ("PAIR BY PAIR", "HOW THIS WAS TESTED", "best guess"):
        assert heading not in said
    asked = ["pens", "--store", str(store), "--measure", "fertility", "--to", "2026-01-25"]
    assert run(asked) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "Each pen has one tray here (Alder, Birch and Rowan), and a tray alone does not show chance." in said
    )
    assert "from the second on, chance begins to show" in said
    assert "PAIR BY PAIR" not in said


def test_two_that_never_shared_a_machine_are_exit_1_beside_others_that_can_be_compared(
    store_of: Callable[..., Path], store: Path, capsys: Capture
) -> None:
    day = datetime.fromisoformat("2026-01-05")
    out = day + timedelta(days=18)
    batches = [{"batch": f"C{n}", "incubator": "South", "set_on": day, "pulled_on": out} for n in range(4)]
    trays = [
        {"batch": f"C{n}", "tray": "1", "pen": "Maple", "eggs_set": 24, "hatched": 20 - n, "infertile": 4 + n}
        for n in range(4)
    ]
    store_of(pens=[{"pen": "Maple", "species": "coturnix_quail"}], batches=batches, trays=trays)
    assert run(["pens", "--store", str(store), "--measure", "fertility"]) == 0
    capsys.readouterr()
    found = _json(capsys, store, "--measure", "fertility", "--pen", "Maple", "--pen", "Rowan", code=1)
    assert found["pair"]["difference"] is None
    assert found["sentence"].startswith("Maple and Rowan cannot be compared in fertility.")
    assert [row["pen"] for row in found["rows"]] == ["Maple", "Rowan"]


def test_lines(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--by", "line")
    assert (found["by"], [row["pen"] for row in found["rows"]]) == ("line", ["a", "b"])


def test_text_begins_with_the_answer(store: Path, capsys: Capture) -> None:
    assert run(["pens", "--store", str(store), "--measure", "fertility"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Rowan's fertility is below the others: ")
    # The first batch was set on 5 January and pulled 18 days later, the last 77 days after it.
    assert "Hatched from 23 January 2026 to 10 April 2026: 36 trays of 12 batches." in said
    assert "as if every egg were independent" in said
    assert "tell as much as" in said
    assert "of set less cracked" in said


def test_what_cannot_be_answered_says_so(store: Path, capsys: Capture) -> None:
    for asked, code, words in (
        (("--from", "2030-01-01"), 1, "No closed batch of this selection has a tray."),
        (("--pen", "Rowan", "--pen", "Thorn"), 1, "Thorn has no closed tray in this selection."),
        (("--pen", "Rowan", "--pen", "rowan"), 2, "Rowan twice."),
        (("--measure", "charm"), 2, "The measure 'charm'."),
        (("--by", "machine"), 2, "machine"),
    ):
        assert run(["pens", "--store", str(store), *asked]) == code
        said = capsys.readouterr()
        assert said.out == ""
        assert words in said.err
