"""A machine without a drift gets no months, one with a drift its own: committed figures, and cells anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("drift_months.py")
CELLS = ("10 h early for 3", "steady, monthly", "air steady, noise lasts", "air 1 degree")


def _rows() -> list[dict[str, str]]:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_committed_figures_are_within_their_limits() -> None:
    limited = [row for row in _rows() if row["highest"]]
    assert len(limited) >= 12
    for row in limited:
        slack = 3.29 * float(row["error"])
        low, high = float(row["lowest"]) - slack, float(row["highest"]) + slack
        assert low <= float(row["share"]) <= high, row


def test_steady_machines_seldom_get_months_and_a_drift_mostly_its_own() -> None:
    """Without slack for chance: at most 5 % of steady farms, 60 % and more of those that drift."""
    share = {(row["farms"], row["figure"]): float(row["share"]) for row in _rows()}
    assert share["steady, fortnightly batches", "given months"] <= 0.05
    assert share["all machines 10 h early", "one machine blamed"] <= 0.05
    for months in ("2 months", "3 months"):
        assert share[f"10 h early for {months}", "found within a month"] >= 0.6


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "40", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "limits" in done.stdout
