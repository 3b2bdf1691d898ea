"""The tests of pens hold their level: committed figures against their limits, and named cells run anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("pen_tests.py")
CELLS = (
    "tiny, r 0.00, rate 0.90",
    "tiny, r 0.05, rate 0.50",
    "tiny, r 0.10, rate 0.90",
    "tiny, all pens in every batch",
    "tiny, trays of 3 to 90",
    "tiny, home machines",
    "tiny, a pen of 0.70 for 0.90",
    "small, r 0.10",
)


def test_committed_figures_are_within_their_limits() -> None:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    limited = [row for row in rows if row["lowest"]]
    assert len(limited) >= 50
    for row in limited:
        slack = 3.29 * float(row["error"])
        low, high = float(row["lowest"]) - slack, float(row["highest"] or 1) + slack
        assert low <= float(row["share"]) <= high, row


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "400", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "clustered F" in done.stdout
