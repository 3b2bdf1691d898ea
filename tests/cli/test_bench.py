"""`penwise bench`: what is begun and not closed."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from analytics.cli.main import run
from analytics.sheets.bench import Tap, tap
from analytics.sheets.load import ByHand
from analytics.sheets.typed import keep_rows


def test_begun_trays_are_listed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    store = tmp_path / "own.duckdb"
    rows = {
        "pens": [{"pen": "Rowan", "species": "chicken"}],
        "incubators": [{"incubator": "North"}],
        "batches": [{"batch": "B1", "incubator": "North", "set_on": "2026-03-01"}],
        "trays": [{"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "24", "clear": "1"}],
    }
    keep_rows(store, rows, ByHand("test"))
    assert run(["bench", "--store", str(store)]) == 0
    assert capsys.readouterr().out == "No tray is begun and not closed.\n"
    tap(store, "B1", "T1", "phone", [Tap("a", "clear"), Tap("b", "rotten", 2)])
    assert run(["bench", "--store", str(store)]) == 0
    assert "B1 T1: 4 of 24 eggs, not closed. Drafted: clear 1, rotten 2." in capsys.readouterr().out
    assert run(["bench", "--store", str(store), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "penwise.bench/1"
    assert told["trays"] == [
        {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": 24, "recorded": {"clear": 1},
         "drafted": {"clear": 1, "rotten": 2}, "without_outcome": 20, "devices": 1}
    ]  # fmt: skip
