"""Farms of a set: committed figures within their limits, and a kind anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("many_farms.py")


def test_committed_figures_are_within_their_limits() -> None:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert len({row["kind"] for row in rows}) == 4
    assert {"farms", "each farm", "sd of farms", "called though alike"} <= {row["line"] for row in rows}
    for row in rows:
        slack = 3.29 * float(row["error"])
        assert float(row["lowest"]) - slack <= float(row["share"]) <= float(row["highest"]) + slack, row


@pytest.mark.slow
def test_four_farms_run_anew() -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "25", "--only", "4 farms"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("4 farms, prior") >= 7
