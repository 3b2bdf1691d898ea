"""Short forms of the long runs of this folder: each prints its table and exits 1 where anything missed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

HERE = Path(__file__).parent


def _run(script: str, *words: str) -> str:
    done = subprocess.run(
        [sys.executable, str(HERE / script), *words], capture_output=True, text=True, timeout=580, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_a_kill_at_any_moment_loses_nothing() -> None:
    assert "11 random moments" in _run("kill.py", "--moments", "11", "--points", "1", "--seed", "7")


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_bad_sheets_are_refused_in_words_or_loaded_as_they_stand() -> None:
    assert "by hypothesis" in _run("bad_sheets.py", "--sheets", "300", "--seed", "7")


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_full_disks_shut_folders_and_clocks_set_back() -> None:
    assert "0 missed" in _run("disk.py", "--rounds", "1", "--seed", "7")


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_two_programs_at_once_lose_and_double_nothing() -> None:
    assert "0 wrong" in _run("two_programs.py", "--minutes", "0.15")
