"""False signals and power of the watch: committed figures against their limits, and named cells anew."""

from __future__ import annotations

import csv
import subprocess
import sys
from pathlib import Path

import pytest

from analytics.studies.signal_words import FOUND, MOST

SCRIPT = Path(__file__).with_name("monitoring.py")
CELLS = (
    "no change, 5 pens, r 0.05",
    "fertility down 10 points, 5 pens, r 0.02",
    "a machine's bad months, 12 pens",
)


def _rows() -> list[dict[str, str]]:
    lines = SCRIPT.with_suffix(".csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_committed_figures_are_within_their_limits() -> None:
    limited = [row for row in _rows() if row["lowest"] or row["highest"]]
    assert len(limited) >= 20
    for row in limited:
        slack = 3.29 * float(row["error"])
        low, high = float(row["lowest"] or "-inf") - slack, float(row["highest"] or "inf") + slack
        assert low <= float(row["value"]) <= high, row


def test_what_is_said_of_false_signals_is_what_was_found() -> None:
    """At most one false signal in twelve reviews in every kind of farm, without any slack."""
    null = [float(row["value"]) for row in _rows() if row["figure"] == "false signals a year"]
    assert len(null) >= 14
    assert max(null) <= 1.0


def test_what_is_said_of_power_is_what_was_found() -> None:
    """The page's figures are those of the table, and none beats what can be found at all."""
    found = {row["farms"]: float(row["value"]) for row in _rows()}
    for (likeness, pens), said in FOUND.items():
        value = found[f"fertility down 10 points, {pens} pens, r {likeness:.2f}"]
        assert said == pytest.approx(value, abs=0.0051)
    bound = SCRIPT.with_name("monitoring_bound.csv").read_text(encoding="utf-8").splitlines()
    most = {row["farms"]: float(row["value"]) for row in csv.DictReader(bound[1:])}
    for pens, said in MOST.items():
        assert said == pytest.approx(most[f"{pens} pens, r 0.05, usual level known"], abs=0.0051)
        assert found[f"fertility down 10 points, {pens} pens, r 0.05"] < said


@pytest.mark.slow
@pytest.mark.parametrize("cell", CELLS)
def test_named_cell_run_anew(cell: str) -> None:
    command = [sys.executable, str(SCRIPT), "--runs", "60", "--only", cell]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "figures miss their limits" in done.stdout
