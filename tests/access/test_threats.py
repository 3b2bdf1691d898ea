"""DEVELOPERS.md says who might do harm and what stands against it: every line names tests that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HEADING = "## Who might do harm, and what stands against it"


def _lines() -> list[tuple[str, str, str]]:
    """Threat, what stands against it, tests."""
    section = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split(HEADING)[1].split("\n## ")[0]
    rows = [line.strip("|").split(" | ") for line in section.splitlines() if line.startswith("|")]
    return [(row[0].strip(), row[1], row[2]) for row in rows[2:]]


@pytest.fixture(scope="module")
def known() -> set[str]:
    """Names of all tests."""
    files = (ROOT / "tests").rglob("test_*.py")
    return {name for path in files for name in re.findall(r"^def (test_\w+)", path.read_text("utf-8"), re.M)}


@pytest.mark.parametrize("threat", _lines(), ids=lambda threat: re.sub(r"\W+", "-", threat[0].lower()))
def test_every_threat_has_its_tests(threat: tuple[str, str, str], known: set[str]) -> None:
    named = re.findall(r"`(test_\w+)`", threat[2])
    assert named
    assert len(threat[1]) > 20
    assert set(named) <= known


def test_the_table_is_whole() -> None:
    assert len(_lines()) == 20
    named = re.findall(r"`(test_\w+)`", " ".join(tests for _, _, tests in _lines()))
    assert len(named) == len(set(named))
