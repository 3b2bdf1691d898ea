from __future__ import annotations

from pathlib import Path

import pytest

from analytics.store.connection import create


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """An empty store."""
    made = tmp_path / "flock.duckdb"
    create(made)
    return made
