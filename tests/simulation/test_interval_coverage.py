"""The committed coverage figures keep their limits, and a small run of the simulation still finds them."""

from __future__ import annotations

import importlib.util
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).with_name("interval_coverage.py")
NAMED = (
    "two batches, 4 pens; .05 half of batch",
    "6 months of 3 batches, 4 pens; .05",
    "12 months of 7 batches, 8 pens; .10 half of batch",
    "machines differ",
)


@pytest.fixture(scope="module")
def coverage() -> ModuleType:
    spec = importlib.util.spec_from_file_location("interval_coverage", SCRIPT)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules["interval_coverage"] = module
    spec.loader.exec_module(module)
    return module


def test_committed_figures_keep_their_limits(coverage: ModuleType) -> None:
    table = coverage.FIGURES.read()
    expected = {
        (name, who, measure)
        for name in coverage.cells()
        for who in ("farm", "pens")
        for measure in coverage.MEASURES
    }
    assert set(table) == expected
    for row in table.values():
        assert int(row["runs"]) >= 1000
        assert 0.9 <= float(row["lowest"]) <= float(row["coverage"]) <= float(row["highest"]), row


def test_eggs_taken_as_independent_hold_far_less(coverage: ModuleType) -> None:
    # the contrast that the whole effort is for: the simulation tells a bad interval from a good one
    row = coverage.FIGURES.read()["12 months of 7 batches, 8 pens; .10 half of batch", "farm", "hatch_of_set"]
    assert float(row["plain"]) < 0.8
    calm = coverage.FIGURES.read()["12 months of 7 batches, 8 pens; eggs independent", "farm", "hatch_of_set"]
    assert float(calm["plain"]) > 0.93


def test_a_figure_misses_only_beyond_chance(coverage: ModuleType) -> None:
    limits = {"lowest": "0.93", "highest": "0.98"}
    for figure, missed in (("0.95", False), ("0.92", False), ("0.89", True), ("0.99", False), ("1.0", True)):
        error = "0.005" if figure in {"0.95", "0.92", "0.99", "1.0"} else "0.01"
        assert coverage.FIGURES.misses({"coverage": figure, "error": error, **limits}) is missed


def test_a_miss_ends_with_1(
    coverage: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    doctored = [line.replace(",0.93,0.98,", ",0.10,0.20,") for line in lines]
    assert doctored != lines
    table = tmp_path / "limits.csv"
    table.write_text("\n".join(doctored), encoding="utf-8")
    monkeypatch.setattr(sys, "argv", [str(SCRIPT), "--runs", "30", "--only", "rates of 25 to 50 %"])
    figures = replace(coverage.FIGURES, file=table)
    assert coverage.run(figures, None, coverage.cells(), coverage.coverage) == 1
    said = capsys.readouterr().out
    assert "MISSED" in said
    assert said.endswith("10 of 10 figures miss their limits\n")


@pytest.mark.slow
def test_a_small_run_finds_the_same() -> None:
    done = subprocess.run(
        [sys.executable, SCRIPT, "--runs", "200", "--only", *NAMED],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.endswith("0 of 60 figures miss their limits\n")
