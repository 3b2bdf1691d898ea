"""`penwise export --farm` and `penwise causes --data`: several farms, from stores to whose loss it is."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from analytics.cli.main import run

Capture = pytest.CaptureFixture[str]
GROUPS = ["flock", "handling", "incubator", "season", "farms", "shared", "baseline", "chance"]


@pytest.fixture(scope="module")
def folder(
    tmp_path_factory: pytest.TempPathFactory, put_rows: Callable[..., None], farm_sets: ModuleType
) -> Path:
    """Five farms; of Dale's eggs eight more of thirty stay unhatched in every tray."""
    room = tmp_path_factory.mktemp("farms")
    for number, name in enumerate(("Brook", "Dale", "Heath", "Moor", "Wold")):
        shift = 8 if name == "Dale" else number % 2
        store = farm_sets.farm_store(room / f"{name}.duckdb", put_rows, batches=4, shift=shift)
        assert run(["export", str(room / "set"), "--farm", name, "--store", str(store)]) == 0
    return room / "set"


def test_a_set_names_the_farm_that_loses(folder: Path, capsys: Capture) -> None:
    capsys.readouterr()
    assert run(["causes", "--data", str(folder), "--target", "0.8", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "penwise.causes/1"
    assert [one["group"] for one in found["groups"]] == GROUPS
    short = found["target_hatched"] - found["hatched"]
    assert sum(one["eggs"] for one in found["groups"]) == pytest.approx(short, abs=1e-6)
    assert found["shortfall"]["eggs"] == pytest.approx(short)
    assert (found["engine"], found["trays"], found["counted"]["batches"]) == ("duckdb", 5 * 24, None)
    farms = {one["farm"]: one for one in found["farms"]}
    assert sorted(farms) == ["Brook", "Dale", "Heath", "Moor", "Wold"]
    # by hand: 24 trays of 30 eggs, 23 less 8 chicks each on average
    assert (farms["Dale"]["eggs"], farms["Dale"]["hatched"]) == (720, 24 * 15)
    assert farms["Dale"]["low"] > 100
    assert farms["Dale"]["p_value"] < 0.001
    assert all(one["p_value"] > 0.001 for name, one in farms.items() if name != "Dale")
    first = found["findings"][0]
    assert (first["group"], first["factor"], first["level"]) == ("farms", "farm", "Dale")
    assert "batch" not in first["sentence"]


def test_text_lists_the_farms(folder: Path, capsys: Capture) -> None:
    capsys.readouterr()
    assert run(["causes", "--data", str(folder), "--farm", "dale", "--farm", "Moor"]) == 0
    said = capsys.readouterr().out
    assert "what sets farms apart" in said
    listed = said[said.index("THE FARMS") :].splitlines()
    assert [line.split()[0] for line in listed if line.startswith(("  Dale", "  Moor", "  Wold"))] == [
        "Dale",
        "Moor",
    ]
    assert "a set cannot tell which of these" not in listed


@pytest.mark.parametrize(
    ("more", "code", "said"),
    [
        (["--farm", "Nowhere"], 2, "No farm Nowhere"),
        (["--from", "2026-02-03"], 2, "within a month"),
        (["--from", "2031-01-01"], 2, "Nothing in this set"),
        (["--engine", "abacus"], 2, "abacus"),
    ],
)
def test_what_names_nothing_is_refused(
    folder: Path, capsys: Capture, more: list[str], code: int, said: str
) -> None:
    assert run(["causes", "--data", str(folder), *more]) == code
    assert said in capsys.readouterr().err


def test_engine_and_farm_need_a_set(tmp_path: Path, capsys: Capture) -> None:
    assert run(["causes", "--store", str(tmp_path / "none"), "--engine", "spark"]) == 2
    assert "--data DIR" in capsys.readouterr().err
