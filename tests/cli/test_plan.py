"""`penwise plan` as it is called: JSON with its keys, text, the calendar file, refusals."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar

from analytics.cli.main import run

Capture = pytest.CaptureFixture[str]
DAYS = ("--set-on", "2026-12-01", "--species", "coturnix_quail")


def _json(capsys: Capture, *asked: str) -> dict[str, Any]:
    assert run(["plan", *asked, "--json"]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_size_as_json_and_text(store_of: Callable[..., Path], capsys: Capture) -> None:
    store = str(store_of())
    asked = ("size", "--store", store, "--rate", "0.8", "--tray-eggs", "12", "--batches", "10")
    found = _json(capsys, *asked)
    assert (found["schema"], found["kind"], found["measure"]) == ("penwise.plan/1", "size", "hatch_of_set")
    assert found["other_rate"] == pytest.approx(0.7)
    assert found["eggs_set"] == found["trays"] * 12 == found["batches"] * 12
    assert found["power_reached"] >= 0.8
    assert found["clustering"] == {"icc_tray": 0.05, "icc_batch": 0.03, "assumed": True}
    assert [row["difference"] for row in found["differences"]] == [0.05, 0.1, 0.15, 0.2, 0.3]
    assert found["smallest"]["batches"] == 10
    assert 0 < found["smallest"]["smallest_above"] < found["smallest"]["smallest_below"] < 0.8
    assert found["at_hand"] is None
    assert run(["plan", *asked]) == 0
    said = capsys.readouterr().out
    assert said.startswith("To see hatch of set at 70 % instead of 80 % in 8 of 10 cases, set ")
    assert "OF EACH PEN, in trays of 12, both pens in each batch" in said


def test_dates_as_json_text_and_calendar(tmp_path: Path, capsys: Capture) -> None:
    store, file = str(tmp_path / "none.duckdb"), tmp_path / "plan.ics"
    found = _json(capsys, "dates", "--store", store, *DAYS, "--ics", str(file))
    assert (found["schema"], found["kind"], found["set_on"]) == ("penwise.plan/1", "dates", "2026-12-01")
    (quail,) = found["species"]
    assert (quail["hatch"]["from"], quail["hatch"]["to"]) == ("2026-12-17", "2026-12-19")
    assert len(Calendar.from_ical(file.read_bytes()).walk("VEVENT")) == 4
    assert run(["plan", "dates", "--store", store, *DAYS, "--species", "chicken"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Set on 1 December 2026: Coturnix quail eggs hatch 17 to 19 Dec 2026 and")
    assert "still want turning" in said
    assert "WHO SAYS SO" in said


def test_refusals_leave_no_file(tmp_path: Path, store_of: Callable[..., Path], capsys: Capture) -> None:
    store, file = str(store_of()), tmp_path / "plan.ics"
    for asked, code, words in (
        (("size", "--store", store), 1, "No closed batch here tells the usual hatch of set."),
        (
            ("size", "--store", store, "--rate", "0.8", "--difference", "0.9"),
            2,
            "Ask about a smaller difference.",
        ),
        (("dates", "--set-on", "1.12.2026", "--species", "duck", "--ics", str(file)), 2, "is not a day"),
        (("dates", *DAYS, "--species", "dodo", "--ics", str(file)), 2, "'dodo'"),
        (("dates", "--store", store, *DAYS, "--ics", str(tmp_path / "no" / "x.ics")), 2, "cannot be written"),
    ):
        assert run(["plan", *asked]) == code
        assert words in " ".join(capsys.readouterr().err.split())
    assert not file.exists()


def test_split_as_json_and_text(store_of: Callable[..., Path], capsys: Capture) -> None:
    names = ("North", "South")
    store = str(store_of(
        pens=[{"pen": f"Pen {name}", "species": "coturnix_quail"} for name in names],
        incubators=[{"incubator": name, "capacity_eggs": 60} for name in names],
        batches=[
            {"batch": name, "incubator": name, "set_on": datetime.fromisoformat("2026-03-02"),
             "pulled_on": datetime.fromisoformat("2026-03-20")} for name in names
        ],
        trays=[
            {"batch": name, "tray": "1", "pen": f"Pen {name}", "eggs_set": 30, "hatched": 20}
            for name in names
        ],
    ))  # fmt: skip
    asked = ("split", "--store", store, "--seed", "11", "--eggs", "Pen North=26", "--room", "South=50")
    found = _json(capsys, *asked)
    assert (found["schema"], found["kind"], found["seed"], found["moved"]) == (
        "penwise.plan/1",
        "split",
        11,
        12,
    )
    assert sum(lot["eggs"] for lot in found["lots"]) == 26 + 30
    (moved,) = (lot for lot in found["lots"] if lot["moved"])
    assert len(moved["numbers"]) == 12
    assert [group["stays_apart"] for group in found["groups"]] == [False, False]
    (known,) = found["narrowing"]
    assert (known["kind"], known["now"], known["sets"]) == ("setter", None, 2)
    assert known["give_or_take"] == found["give_or_take"]
    assert (found["hatcher_groups"], found["storage"]["goes_with"]) == ([], [])
    assert {lot["storage_days"] for lot in found["lots"]} == {None}
    assert run(["plan", *asked, "--fresh-days", "7"]) == 2
    assert "kept for long is older than the fresh one" in " ".join(capsys.readouterr().err.split())
    assert run(["plan", *asked]) == 0
    said = capsys.readouterr().out
    assert said.startswith("2 groups of pens and machines never met")
    assert "from elsewhere" in said
    assert run(["plan", "split", "--store", store, "--eggs", "Pen North"]) == 2
    assert "Write it like Rowan=24" in " ".join(capsys.readouterr().err.split())
