"""Hours and warmth of a machine hold the truth and see a degree: committed figures, and named cells anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("hatch_timing.py")
CELLS = ("quail, 10 batches, 1 degree", "quail, stored unlike")


def _rows() -> list[dict[str, str]]:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_committed_figures_are_within_their_limits() -> None:
    limited = [row for row in _rows() if row["highest"]]
    assert len(limited) >= 20
    for row in limited:
        assert int(row["runs"]) >= 1000
        slack = 3.29 * float(row["error"])
        low, high = float(row["lowest"]) - slack, float(row["highest"]) + slack
        assert low <= float(row["share"]) <= high, row


def test_a_degree_is_seen_against_own_machines_and_less_against_print() -> None:
    told = {row["figure"]: float(row["share"]) for row in _rows() if row["farms"].endswith("1 degree")}
    assert told["own machines: warmth told"] >= 0.8
    assert told["published hours: warmth told"] < told["own machines: warmth told"]


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "150", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "own machines: hours covered" in done.stdout
