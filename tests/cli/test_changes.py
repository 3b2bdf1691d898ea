"""`penwise changes` as it is called: JSON with its keys, text, and a refusal without changes."""

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
STEP_KEYS = {
    "step", "before", "after", "controls_before", "controls_after", "odds_ratio", "low", "high", "difference",
    "difference_low", "difference_high", "p_value", "verdict", "why",
}  # fmt: skip


def _store(store_of: Callable[..., Path], **more: Any) -> Path:
    """Three pens in ten batches; one egg more or less hatches by turns."""
    pens = ("Alder", "Birch", "Rowan")
    return store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in pens],
        batches=[
            {"batch": f"B{place}", "incubator": "North", "set_on": FIRST + timedelta(days=14 * place),
             "pulled_on": FIRST + timedelta(days=14 * place + 18)}
            for place in range(10)
        ],
        trays=[
            {"batch": f"B{batch}", "tray": pen, "pen": pen, "eggs_set": 30, "storage_days": 3,
             "hatched": 22 + more_out, "infertile": 3, "early_dead": 2 - more_out, "mid_dead": 1,
             "late_dead": 1, "external_pip": 1}
            for batch in range(10)
            for place, pen in enumerate(pens)
            for more_out in ((batch + 2 * place) % 3,)
        ],
        **more,
    )  # fmt: skip


def test_json_has_its_keys(store_of: Callable[..., Path], capsys: Capture) -> None:
    change = {"changed_on": date(2026, 3, 10), "scope": "pen", "target": "Rowan", "what": "grit"}
    store = _store(store_of, changes=[change])
    assert run(["changes", "--store", str(store), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "penwise.changes/1"
    (one,) = found["changes"]
    assert (one["changed_on"], one["scope"], one["target"], one["targets"], one["what"]) == (
        "2026-03-10", "pen", "Rowan", ["Rowan"], "grit",
    )  # fmt: skip
    assert [step["step"] for step in one["steps"]] == ["fertile", "early", "mid", "late", "shell"]
    assert all(set(step) >= STEP_KEYS for step in one["steps"])
    assert {step["verdict"] for step in one["steps"]} <= {"no_clear_change", "cannot_tell"}
    assert one["steps"][0]["before"] == pytest.approx(27 / 30)
    assert found["made_up"]["dates"] > 0


def test_text_begins_with_the_answer(store_of: Callable[..., Path], capsys: Capture) -> None:
    change = {"changed_on": date(2026, 3, 10), "scope": "all", "what": "lamps"}
    assert run(["changes", "--store", str(_store(store_of, changes=[change]))]) == 0
    told = capsys.readouterr()
    assert told.out.startswith("Of 1 dated change, 1 cannot be told.")
    assert not told.err


def test_without_a_change_there_is_a_reason(store_of: Callable[..., Path], capsys: Capture) -> None:
    assert run(["changes", "--store", str(_store(store_of))]) == 1
    told = capsys.readouterr()
    assert not told.out
    assert "No change with a date is written down" in told.err
