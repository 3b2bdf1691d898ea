"""False signs are rare where there is no cause: committed figures, and two kinds run anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("signs.py")


def test_committed_figures_hold_their_limits() -> None:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    false = {row["kind"]: float(row["share"]) for row in rows if row["figure"] == "false"}
    seen = {row["kind"]: float(row["share"]) for row in rows if row["figure"] == "seen"}
    assert all(int(row["runs"]) >= 400 for row in rows)
    assert len(false) == 11
    assert all(share <= 0.05 for share in false.values()), false
    machines = [share for kind, share in seen.items() if "machine" in kind]
    assert len(machines) == 2
    assert min(machines) >= 0.8


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["small, 5 %, very alike", "tiny, 5 %, a machine of 25 %"])
def test_a_kind_run_anew(kind: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "100", "--only", kind]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "limits none to 0.05" in done.stdout
