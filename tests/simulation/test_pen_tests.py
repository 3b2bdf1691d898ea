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
    "tiny, r 0.10, rate 0.97",
    "tiny, all pens in every batch",
    "tiny, trays of 3 to 90",
    "tiny, home machines",
    "tiny, a pen of 0.70 for 0.90",
    "small, r 0.10",
)


def test_committed_figures_are_within_their_limits() -> None:
    """Limits by the rule: at most 6 %, at least 4 % with 5 losses and 4 trays a pen; power .81 at least."""
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    deciding = {row["farms"]: row for row in rows if row["test"] == "clustered F"}
    assert set(CELLS) < set(deciding)
    assert len(deciding) >= 30
    for row in deciding.values():
        slack = 0.0 if int(row["runs"]) >= 10_000 else 3.29 * float(row["error"])
        share = float(row["share"])
        if row["asks"] == "level":
            assert share <= 0.06 + slack, row
            if float(row["losses"]) >= 5 and float(row["trays"]) >= 4:
                assert share >= 0.04 - slack, row
    assert float(deciding["tiny, a pen of 0.70 for 0.90"]["share"]) >= 0.81


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "400", "--contrast", "0", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "clustered F" in done.stdout
