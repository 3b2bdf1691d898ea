"""A small smallholding in sheets: three pens, two machines, two batches, and what a test adds to them."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import pytest

from analytics.errors import SheetProblem
from analytics.sheets.contract import BY_NAME
from analytics.sheets.load import LoadRejected, LoadReport, load
from analytics.store.connection import reading

Row = Mapping[str, str]

SMALL: dict[str, list[Row]] = {
    "pens": [{"pen": name, "species": "coturnix_quail"} for name in ("Rowan", "Alder", "Hazel")],
    "incubators": [{"incubator": "North", "role": "both"}, {"incubator": "South", "role": "both"}],
    "batches": [
        {"batch": "B1", "incubator": "North", "set_on": "2026-03-01T18:30", "pulled_on": "2026-03-19"},
        {"batch": "B2", "incubator": "South", "set_on": "2026-03-08T18:30", "pulled_on": "2026-03-26"},
    ],
    "trays": [
        {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "hatched": "38", "culled": "2"},
        {"batch": "B1", "tray": "T2", "pen": "Alder", "eggs_set": "50", "hatched": "25", "infertile": "15"},
        {"batch": "B2", "tray": "T1", "pen": "Hazel", "eggs_set": "40", "hatched": "30"},
    ],
}


class Farm:
    """A folder of sheets and a store."""

    def __init__(self, folder: Path) -> None:
        self.sheets = folder / "sheets"
        self.sheets.mkdir()
        self.store = folder / "farm.duckdb"

    def write(self, name: str, rows: Iterable[Row], columns: Iterable[str] | None = None) -> Path:
        """Writes a sheet with these rows under all its columns, or those given."""
        path = self.sheets / f"{name}.csv"
        with path.open("w", encoding="utf-8", newline="") as handle:
            writer = csv.DictWriter(handle, list(columns or BY_NAME[name].by_name), restval="")
            writer.writeheader()
            writer.writerows(rows)
        return path

    def text(self, name: str, text: str | bytes) -> Path:
        """Writes a file as it is."""
        path = self.sheets / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    def small(self, **more: Iterable[Row]) -> Farm:
        """Writes the small smallholding, with more rows for some sheets."""
        for name in {**SMALL, **more}:
            self.write(name, [*SMALL.get(name, []), *more.get(name, [])])
        return self

    def load(self, *paths: Path, **options: Any) -> LoadReport:
        """Loads the folder, or the paths given."""
        return load(self.store, list(paths) or [self.sheets], **options)

    def problems(self, *paths: Path, **options: Any) -> tuple[SheetProblem, ...]:
        """The problems for which a load is rejected."""
        with pytest.raises(LoadRejected) as rejected:
            self.load(*paths, **options)
        return rejected.value.problems

    def ask(self, question: str, *values: object) -> list[tuple[Any, ...]]:
        """Asks the store."""
        with reading(self.store) as connection:
            return connection.execute(question, list(values)).fetchall()

    def everything(self) -> dict[str, list[tuple[Any, ...]]]:
        """Every live row of every sheet, without bookkeeping."""
        found = {}
        with reading(self.store) as connection:
            for name, sheet in BY_NAME.items():
                names = ", ".join(f'"{column}"' for column in sheet.by_name)
                rows = f"SELECT {names}, row_key FROM {name} WHERE withdrawn_in IS NULL ORDER BY row_key"
                found[name] = connection.execute(rows).fetchall()
        return found


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    """An empty folder and no store yet."""
    return Farm(tmp_path)


@pytest.fixture(scope="module")
def shared_farm(tmp_path_factory: pytest.TempPathFactory) -> Farm:
    """One for all tests of a file."""
    return Farm(tmp_path_factory.mktemp("farm"))


@pytest.fixture(scope="session")
def _loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    farm = Farm(tmp_path_factory.mktemp("loaded")).small()
    farm.load()
    return farm.store.parent


@pytest.fixture
def kept(tmp_path: Path, _loaded: Path) -> Farm:
    """The small smallholding, loaded; a copy of one that was loaded once."""
    shutil.copytree(_loaded, tmp_path, dirs_exist_ok=True, ignore=shutil.ignore_patterns("sheets"))
    return Farm(tmp_path).small()


@pytest.fixture(scope="session")
def small_sheets() -> dict[str, list[Row]]:
    """The rows of the small smallholding."""
    return SMALL
