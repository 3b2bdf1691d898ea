"""`penwise trends` as it is called: text, JSON, filters and refusals."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.main import run

Capture = pytest.CaptureFixture[str]
FIRST = datetime.fromisoformat("2026-01-05")
SLOPE_KEYS = {"slope", "low", "high", "dof", "p_value", "odds_ratio", "odds_low", "odds_high", "why"}


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    """Two pens in eight batches; an egg of twenty more is lost for every two days of storage."""
    days = [(5 * batch + 3 * pen) % 8 for batch in range(8) for pen in range(2)]
    return store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in ("Alder", "Rowan")],
        batches=[
            {
                "batch": f"B{place}",
                "incubator": "North",
                "set_on": FIRST + timedelta(days=10 * place),
                "pulled_on": FIRST + timedelta(days=10 * place + 18),
            }
            for place in range(8)
        ],
        trays=[
            {
                "batch": f"B{place // 2}",
                "tray": str(place % 2),
                "pen": ("Alder", "Rowan")[place % 2],
                "eggs_set": 20,
                "storage_days": stored,
                "hatched": 18 - stored // 2 - (place * place) % 3,
                "infertile": 1,
                "early_dead": 1 + stored // 2 + (place * place) % 3,
            }
            for place, stored in enumerate(days)
        ],
        changes=[{"changed_on": date(2026, 2, 1), "scope": "all", "target": None, "what": "lamps on"}],
    )


def _json(capsys: Capture, store: Path, *more: str, code: int = 0) -> dict[str, Any]:
    assert run(["trends", "--store", str(store), "--json", *more]) == code
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_json_has_its_keys(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--measure", "hatch_of_set", "--by", "storage")
    assert (found["schema"], found["measure"], found["by"]) == ("penwise.trends/1", "hatch_of_set", "storage")
    assert {"sentence", "notes", "why", "points", "tests", "curve", "changes", "selection"} < set(found)
    assert {"x", "eggs", "count", "rate", "low", "high"} < set(found["points"][0])
    assert set(found["curve"][0]) == {"x", "rate", "low", "high"}
    assert set(found["tests"]) == {"independent", "clustered", "bend"}
    assert {"method", "statistic", "dof", "p_value"} < set(found["tests"]["independent"])
    clustered = found["tests"]["clustered"]
    assert {"method", "decides", "ends"} | SLOPE_KEYS == set(clustered)
    assert clustered["low"] < clustered["slope"] < clustered["high"] < 0
    assert clustered["odds_low"] < clustered["odds_ratio"] < clustered["odds_high"] < 1
    for part in ("within_pens", "same_batch", "between_pens"):
        assert set(found[part]) == SLOPE_KEYS
    assert found["within_pens"]["slope"] == clustered["slope"]
    assert found["between_pens"]["slope"] is None
    assert found["between_pens"]["why"]
    assert sum(point["eggs"] for point in found["points"]) == 320
    change = {"changed_on": "2026-02-01", "x": None, "scope": "all", "target": "", "what": "lamps on"}
    assert found["changes"] == [change]


def test_text_begins_with_the_answer(store: Path, capsys: Capture) -> None:
    assert run(["trends", "--store", str(store), "--measure", "hatch_of_set", "--by", "storage"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Each day of storage goes with ")
    for part in (
        "points less hatch of set",
        "3–5 days",
        "HOW THIS WAS TESTED",
        "as if every egg were",
        "As odds: × 0.",
        " for each day of storage, about ",
        "odds ×",
        "lamps on",
    ):
        assert part in said


def test_filters_stand_in_the_answer(store: Path, capsys: Capture) -> None:
    asked = ("--measure", "early_loss", "--by", "month", "--pen", "rowan", "--from", "2026-01-01")
    found = _json(capsys, store, *asked)
    assert found["selection"]["pens"] == ["rowan"]
    assert found["trays"] == 8
    assert found["first_day"] == "2026-01-01"
    assert found["changes"][0]["x"] == pytest.approx(31 / (365.25 / 12))


def test_no_slope_is_exit_1_with_the_reason(store: Path, capsys: Capture) -> None:
    asked = ["trends", "--store", str(store), "--json", "--measure", "fertility", "--by", "hen_age"]
    assert run(asked) == 1
    out, err = capsys.readouterr()
    found = json.loads(out)
    assert found["tests"]["clustered"]["slope"] is None
    assert found["tests"]["clustered"]["decides"] is None
    assert "hens_hatched_on" in found["why"]
    assert "These records allow no slope" in err


@pytest.mark.parametrize(
    ("given", "code"),
    [
        (("--measure", "early_loss", "--by", "storage", "--pen", "Nobody"), 2),
        (("--measure", "luck", "--by", "storage"), 2),
        (("--measure", "early_loss", "--by", "moon"), 2),
        (("--measure", "early_loss"), 2),
        (("--by", "storage"), 2),
    ],
)
def test_refusals(store: Path, capsys: Capture, given: tuple[str, ...], code: int) -> None:
    assert run(["trends", "--store", str(store), *given]) == code
    out, err = capsys.readouterr()
    assert out == ""
    assert err
    assert "Traceback" not in err
