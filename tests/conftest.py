"""What tests of several folders share: stores filled by hand, row by row."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib.util import module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType
from typing import Any

import duckdb
import pytest

from analytics.sheets.contract import BY_NAME
from analytics.store.connection import create, writing

Rows = Sequence[Mapping[str, Any]]


def insert_rows(connection: duckdb.DuckDBPyConnection, sheet: str, rows: Rows) -> None:
    """Puts rows into a sheet's table as a load would, without its checks; columns not given stay blank."""
    for row in rows:
        key = "|".join(str(row.get(name) or "").strip().lower() for name in BY_NAME[sheet].key)
        whole = {**row, "row_key": key, "added_in": 1}
        names = ", ".join(f'"{name}"' for name in whole)
        marks = ", ".join("?" for _ in whole)
        connection.execute(f"INSERT INTO {sheet} ({names}) VALUES ({marks})", list(whole.values()))


@pytest.fixture(scope="session")
def put_rows() -> Callable[[duckdb.DuckDBPyConnection, str, Rows], None]:
    """The function that fills one table."""
    return insert_rows


@pytest.fixture
def store_of(tmp_path: Path) -> Callable[..., Path]:
    """Makes a store of sheets given by name: `store_of(pens=[{...}], trays=[{...}])`."""

    def make(**sheets: Rows) -> Path:
        store = tmp_path / "small.duckdb"
        create(store)
        with writing(store) as connection:
            for sheet, rows in sheets.items():
                insert_rows(connection, sheet, rows)
        return store

    return make


@pytest.fixture(scope="session")
def farm_sets() -> ModuleType:
    """`farm_store` and `farm_set`: stores of several farms, and sets of them."""
    found = spec_from_file_location("farm_sets", Path(__file__).parent / "store" / "farm_sets.py")
    assert found
    assert found.loader
    module = module_from_spec(found)
    found.loader.exec_module(module)
    return module
