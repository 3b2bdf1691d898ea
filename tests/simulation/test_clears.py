"""What clear eggs may be holds the truth: committed figures against their limits, and named cells anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("clears.py")
CELLS = (
    "storage 2 to 12 days, s0 0.95",
    "fresh eggs, storage alike, s0 1",
    "half opened late, misread all",
    "silent: storage alike, all clear dead early",
)


def _rows() -> list[dict[str, str]]:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_committed_figures_are_within_their_limits() -> None:
    limited = [row for row in _rows() if row["lowest"]]
    assert len(limited) >= 80
    for row in limited:
        assert int(row["runs"]) >= 1000
        assert float(row["share"]) >= float(row["lowest"]) - 3.29 * float(row["error"]), row


def test_the_interval_is_wide_where_the_records_are_silent() -> None:
    """Fresh eggs halve what is open; without anything the clear eggs may all be either."""
    width = {(row["farms"], row["figure"]): float(row["share"]) for row in _rows()}
    share = "farm: share of clears, width"
    assert width["silent: storage alike", share] > 0.95
    assert width["fresh eggs, storage alike", share] < 0.6
    assert width["fresh eggs and storage", "farm: fertility, width"] < 0.15


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "100", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "pen: fertility held" in done.stdout
