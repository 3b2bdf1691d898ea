"""`penwise causes` as it is called: text, JSON with its keys, refusals with their exit codes, the bar."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.cli.main import run
from analytics.store.connection import create, writing

Capture = pytest.CaptureFixture[str]
KEYS = {
    "schema", "period", "eggs_set", "hatched", "target_hatched", "shortfall", "groups", "steps", "findings",
    "cannot_separate",
}  # fmt: skip
GROUPS = ["flock", "handling", "incubator", "season", "shared", "baseline", "chance"]
FINDING = {
    "group", "factor", "level", "step", "from", "to", "eggs", "low", "high", "p_value", "q_value", "strength",
}  # fmt: skip
APART = {"factors", "levels", "why", "next_step"}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory, put_rows: Callable[..., None]) -> Path:
    """Rowan's eggs are often infertile; Cedar only ever went into Chalk."""
    random = np.random.default_rng(20261127)
    first = datetime.fromisoformat("2026-01-05")
    batches, trays = [], []
    for number in range(16):
        for machine in ("North", "Chalk"):
            batch, day = f"{machine[0]}{number:02}", first + timedelta(days=7 * number)
            batches.append({"batch": batch, "incubator": machine, "set_on": day,
                            "pulled_on": day + timedelta(days=18)})  # fmt: skip
            for pen in ("Cedar",) if machine == "Chalk" else ("Rowan", "Alder", "Birch"):
                fertile = int(random.binomial(24, 0.55 if pen == "Rowan" else 0.92))
                hatched = int(random.binomial(fertile, 0.9))
                trays.append({"batch": batch, "tray": pen, "pen": pen, "eggs_set": 24, "hatched": hatched,
                              "infertile": 24 - fertile, "early_dead": fertile - hatched})  # fmt: skip
    made = tmp_path_factory.mktemp("causes") / "flock.duckdb"
    create(made)
    with writing(made) as connection:
        pens = [{"pen": pen, "species": "coturnix_quail"} for pen in ("Rowan", "Alder", "Birch", "Cedar")]
        put_rows(connection, "pens", pens)
        put_rows(connection, "incubators", [{"incubator": name} for name in ("North", "Chalk")])
        put_rows(connection, "batches", batches)
        put_rows(connection, "trays", trays)
    return made


def _json(capsys: Capture, store: Path, *more: str) -> dict[str, Any]:
    assert run(["causes", "--store", str(store), "--json", *more]) == 0
    said = capsys.readouterr()
    assert "NaN" not in said.out
    assert said.err == ""
    found: dict[str, Any] = json.loads(said.out)
    return found


def test_json_has_its_keys_and_adds_up(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--target", "0.8", "--from", "2026-02-01")
    assert set(found) >= KEYS
    assert found["schema"] == "penwise.causes/1"
    assert found["period"]["from"] == "2026-02-01"
    assert found["target_hatched"] == pytest.approx(0.8 * found["eggs_set"])
    assert set(found["shortfall"]) >= {"eggs", "low", "high"}
    short = found["target_hatched"] - found["hatched"]
    assert found["shortfall"]["eggs"] == pytest.approx(short)
    assert [one["group"] for one in found["groups"]] == GROUPS
    assert sum(one["eggs"] for one in found["groups"]) == pytest.approx(short, abs=1e-6)
    for one in found["groups"]:
        assert one["low"] <= one["eggs"] <= one["high"]
        assert 0 <= one["probability_positive"] <= 1
    assert [one["step"] for one in found["steps"]] == ["fertile", "early", "mid", "late", "shell"]
    assert all({"step", "entering", "lost", "expected_lost"} <= set(one) for one in found["steps"])
    first = found["findings"][0]
    assert set(first) >= FINDING
    assert (first["group"], first["factor"], first["level"], first["step"]) == (
        "flock", "pen", "Rowan", "fertile"
    )  # fmt: skip
    assert first["strength"] in ("clear", "likely", "hint")
    (apart,) = (one for one in found["cannot_separate"] if "pen" in one["factors"])
    assert set(apart) >= APART
    assert apart["levels"] == ["Cedar", "Chalk"]
    assert apart["next_step"].startswith("Put 12 eggs of ")


def test_text_says_the_answer_first(store: Path, capsys: Capture) -> None:
    assert run(["causes", "--store", str(store), "--target", "0.95"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(
        "COTURNIX QUAIL\n\n1,144 chicks of 1,536 Coturnix quail eggs: 315 short of the aim"
    )
    for heading in (
        "WHOSE LOSS IT IS",
        "WHERE THE EGGS WERE LOST",
        "WHAT STANDS OUT",
        "WHAT CANNOT BE TOLD APART",
    ):
        assert heading in said
    assert max(len(line) for line in said.splitlines()) <= 96


@pytest.mark.parametrize(
    ("more", "code", "why"),
    [
        (("--target", "80"), 2, "from 0 to 1"),
        (("--target", "-0.1"), 2, "from 0 to 1"),
        (("--target", "many"), 2, "many"),
        (("--pen", "Rowen"), 2, "Did you mean Rowan"),
        (("--from", "2020-01-01", "--to", "2020-01-31"), 1, "No closed batch"),
        (("--to", "2026-01-25"), 0, ""),
    ],
)
def test_exit_codes(store: Path, capsys: Capture, more: tuple[str, ...], code: int, why: str) -> None:
    assert run(["causes", "--store", str(store), "--json", *more]) == code
    said = capsys.readouterr()
    assert (said.out == "") is (code != 0)
    assert why in said.err


def test_no_store_is_said(tmp_path: Path, capsys: Capture) -> None:
    assert run(["causes", "--store", str(tmp_path / "none.duckdb")]) == 4
    assert capsys.readouterr().out == ""


def test_a_terminal_sees_how_far_it_is(store: Path, capsys: Capture, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    assert run(["causes", "--store", str(store), "--json", "--pen", "Rowan"]) == 0
    said = capsys.readouterr()
    assert "Sharing losses out" in said.err
    json.loads(said.out)
