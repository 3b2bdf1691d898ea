"""The slopes hold their level and cover the truth: committed figures against limits, and named cells anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("slopes.py")
CELLS = (
    "tiny, x by tray, r 0.05, rate 0.90",
    "tiny, x by batch, r 0.10, rate 0.60",
    "tiny, poor pens stored long",
    "tiny, slope -0.01",
)


def test_committed_figures_are_within_their_limits() -> None:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    limited = [row for row in rows if row["highest"]]
    assert len(limited) >= 80
    for row in limited:
        slack = 3.29 * float(row["error"])
        low, high = float(row["lowest"]) - slack, float(row["highest"]) + slack
        assert low <= float(row["share"]) <= high, row


def test_the_independent_test_is_shown_to_cry_wolf() -> None:
    """Where nothing is true but trays and batches are alike, or poor pens are those stored long."""
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    called = {row["farms"]: float(row["share"]) for row in rows if row["figure"].startswith("independent")}
    assert called["tiny, x by batch, r 0.10, rate 0.60"] > 0.3
    assert called["small, poor pens stored long"] > 0.9


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "150", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "within: truth missed" in done.stdout
