"""Counts of published examples, read from tests/reference."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

REFERENCE = Path(__file__).parents[1] / "reference"


@pytest.fixture(scope="session")
def columns() -> Callable[[str], dict[str, np.ndarray]]:
    """Reads one file of counts as columns; numbers become numbers."""

    def read(name: str) -> dict[str, np.ndarray]:
        lines = (REFERENCE / f"{name}.csv").read_text(encoding="utf-8").splitlines()
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
        return {key: _numbers([row[key] for row in rows]) for key in rows[0]}

    return read


def _numbers(values: list[str]) -> np.ndarray:
    try:
        return np.array([float(value) for value in values])
    except ValueError:
        return np.array(values)
