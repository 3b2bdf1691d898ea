"""Worlds of other seeds: how a verdict is reached, and a few of them run."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).with_name("demo_worlds.py")


@pytest.fixture(scope="module")
def worlds() -> ModuleType:
    spec = importlib.util.spec_from_file_location("demo_worlds", SCRIPT)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["demo_worlds"] = module
    spec.loader.exec_module(module)
    return module


def _outcome(worlds: ModuleType, power: float, **since: float) -> object:
    return worlds.Outcome(1, 1.0, power, since, {})


def _missed(worlds: ModuleType, cell: str, found: list[object]) -> list[str]:
    return [row["figure"] for row in worlds.rows(cell, found) if worlds.FIGURES.misses(row)]


def test_limits_are_kept_or_missed(worlds: ModuleType) -> None:
    right = [_outcome(worlds, 0.99, Hazel=-0.3)] * 9
    silent, weak = _outcome(worlds, 0.99), _outcome(worlds, 0.3)
    near, far = (_outcome(worlds, 0.99, Hazel=-0.3, Alder=at) for at in (-0.01, -0.08))
    as_they_are, alike = worlds.AS_THEY_ARE, worlds.ALIKE
    assert _missed(worlds, as_they_are, [*right, silent]) == []
    assert _missed(worlds, as_they_are, [*right, weak, weak]) == []  # too little power to be expected
    assert _missed(worlds, as_they_are, [*right[:8], silent, silent]) == [
        "Hazel named, planned power 0.95 or more"
    ]
    assert _missed(worlds, as_they_are, [*right, near]) == ["a wrong pen named"]
    assert _missed(worlds, as_they_are, [*right, far]) == []  # really apart
    assert _missed(worlds, alike, [*right, far]) == ["a wrong pen named"]


def test_committed_figures_keep_their_limits(worlds: ModuleType) -> None:
    table = worlds.FIGURES.read()
    assert {cell for cell, _ in table} == set(worlds.CELLS)
    held = [row for row in table.values() if row["highest"]]
    assert len(held) == 4
    for row in held:
        assert not worlds.FIGURES.misses(row), row
    assert all(row["count"].endswith("of 100") for row in held if row["figure"] == "a wrong pen named")


@pytest.mark.slow
@pytest.mark.timeout(900)
@pytest.mark.parametrize("cell", ["pens alike", "pens a little different"])
def test_a_few_worlds_keep_the_limits(cell: str) -> None:
    asked = [sys.executable, str(SCRIPT), "--runs", "14", "--only", cell]
    done = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=850)
    assert done.returncode == 0, done.stdout + done.stderr
