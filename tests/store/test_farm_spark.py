"""Spark's counts beside DuckDB's, to the last one. Needs the extra `spark` and Java."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from analytics.store import farm_set as by_duckdb
from analytics.store import farm_spark

pytestmark = [pytest.mark.spark, pytest.mark.timeout(900)]
EVERY = "SELECT * FROM strata ORDER BY ALL"


def test_both_engines_count_alike(
    tmp_path: Path, put_rows: Callable[..., None], farm_sets: ModuleType
) -> None:
    farms: dict[str, Any] = {
        "North Farm é": {},
        "12": {"batches": 3, "shift": 2},
        "São José": {"batches": 2, "shift": 1},
    }
    folder = farm_sets.farm_set(tmp_path, put_rows, farms).rename(tmp_path / "Our set é")
    with by_duckdb.strata_of_farms(folder) as connection:
        one = connection.execute(EVERY).fetchall()
    with farm_spark.strata_of_farms(folder, memory="1g") as connection:
        two = connection.execute(EVERY).fetchall()
    assert one == two
    assert {row[0] for row in two} == set(farms)
    assert sum(row[7] for row in two) == (6 + 3 + 2) * 6
    assert sorted(folder.glob("_*")) == []


def test_the_text_is_the_one_translated() -> None:
    said = farm_spark.translated()
    assert said.count("SUM(") == by_duckdb.STRATA_SQL.count("sum(")
    assert "GROUP BY" in said
