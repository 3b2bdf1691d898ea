"""The chances that breeders are ranked by are what they say: committed figures, and a named cell anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

SCRIPT = Path(__file__).with_name("breeders.py")


def _rows() -> dict[tuple[str, str], dict[str, str]]:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return {(row["farms"], row["figure"]): row for row in rows}


def test_committed_figures_are_within_their_limits() -> None:
    rows = _rows()
    bins = [row for (farms, figure), row in rows.items() if farms == "prior" and "bin" in figure]
    assert len(bins) == 10
    assert all(int(row["of"]) >= 1000 for row in bins)
    for row in rows.values():
        low, high = (float(row[name] or "nan") for name in ("lowest", "highest"))
        slack = 3.29 * float(row["error"])
        missed = float(row["share"]) < low - slack or float(row["share"]) > high + slack
        assert not missed, row


def test_a_pen_that_is_as_good_as_the_others_is_hardly_ever_replaced() -> None:
    for (_, figure), row in _rows().items():
        if figure == "replaced, of pens not below the others":
            assert float(row["share"]) <= 0.05


@pytest.mark.slow
def test_named_cell_run_anew() -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "40", "--only", "one pen far off"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "far pen on top" in done.stdout
