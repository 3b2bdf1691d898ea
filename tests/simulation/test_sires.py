"""Males told from the pens they exchanged: committed figures, and a named cell anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("sires.py")


def _rows() -> list[dict[str, str]]:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_committed_figures_are_within_their_limits() -> None:
    rows = _rows()
    assert {row["farms"] for row in rows} == {"male", "pen", "alike"}
    for row in rows:
        low, high = (float(row[name] or "nan") for name in ("lowest", "highest"))
        slack = 3.29 * float(row["error"])
        assert low - slack <= float(row["share"]) <= high + slack, row


@pytest.mark.slow
def test_named_cell_run_anew() -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "12", "--only", "male"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "the bad one on top" in done.stdout
