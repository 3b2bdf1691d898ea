"""A set of many farms: what an export writes, whose months it touches, and the counts out of it."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.store import farm_spark
from analytics.store.connection import create, writing
from analytics.store.counts import Span, counting, strata
from analytics.store.farm_counts import FarmsAsked, farm_sums, month_sums, strata_of
from analytics.store.farm_set import ABOUT, farms_of, strata_of_farms, write_farm
from analytics.values import Month, Period

Rows = Callable[..., None]


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory, put_rows: Rows, farm_sets: ModuleType) -> Path:
    made: Path = tmp_path_factory.mktemp("farms")
    farm_sets.farm_set(made, put_rows, {"North Farm é": {}, "12": {"batches": 3, "shift": 2}})
    return made


@pytest.fixture
def two(tmp_path: Path, room: Path) -> Path:
    shutil.copytree(room, tmp_path, dirs_exist_ok=True)
    return tmp_path / "set"


def test_counts_of_a_farm_are_those_of_its_store(two: Path, tmp_path: Path) -> None:
    with counting(tmp_path / "0.duckdb", Selection()) as connection:
        (own, *_) = strata(connection, [Span(Period(None, None), each_pen=False)])
    with strata_of_farms(two) as connection:
        sums = {row["farm"]: row for row in farm_sums(connection, FarmsAsked(Selection()))}
    mine, told = sums["North Farm é"], own.families.staged
    assert mine["trays"] == 36
    assert mine["eggs_set"] == own.eggs_set == 36 * 30
    assert mine["staged_chicks"] == told.hatched + told.culled == sum(24 - pen for pen in range(3)) * 12
    assert [mine[name] for name in ("infertile", "early", "mid", "late", "shell", "unknown")] == [
        told.opened.infertile, told.opened.early, told.opened.mid, told.opened.late, told.opened.shell,
        told.unknown,
    ]  # fmt: skip
    # by hand: 12 trays of 2 days, 12 of 6.5 days, 12 without
    assert mine["storage_eggs"] == 24 * 30
    assert mine["storage_egg_tenths"] == 12 * 30 * (20 + 65)
    assert sums["12"]["trays"] == 18


def test_a_second_export_touches_only_its_own_farm(two: Path, tmp_path: Path) -> None:
    before = {file: file.read_bytes() for file in sorted(two.rglob("*.parquet")) if "farm=12" in str(file)}
    store = tmp_path / "0.duckdb"
    with writing(store) as connection:
        connection.execute("UPDATE trays SET withdrawn_in = 2 WHERE batch IN ('North 5', '007 5')")
        connection.execute(
            "UPDATE trays SET hatched = 20, not_opened = 6 WHERE batch = 'North 0' AND tray = 'T0'"
        )
    again = write_farm(store, two, "North Farm é")
    assert (again.trays, again.dropped) == (30, 1)
    assert {file: file.read_bytes() for file in before} == before
    assert sorted(two.rglob("*.part-*")) == []
    with strata_of_farms(two) as connection:
        sums = {row["farm"]: row for row in farm_sums(connection, FarmsAsked(Selection()))}
    assert sums["North Farm é"]["trays"] == 30
    assert sums["North Farm é"]["hatch_chicks"] == (24 + 23 + 22) * 10 - 4


@pytest.mark.parametrize("name", ["", " ", "../up", "a/b", ".x", "_x", "a=b", "50%", "what?"])
def test_a_name_that_cannot_be_a_folder_is_refused(
    name: str, tmp_path: Path, put_rows: Rows, farm_sets: ModuleType
) -> None:
    store = farm_sets.farm_store(tmp_path / "s.duckdb", put_rows, batches=1)
    with pytest.raises(WrongUsage, match="--farm NAME"):
        write_farm(store, tmp_path / "set", name)
    assert not (tmp_path / "set").exists()


def test_another_store_may_not_take_a_farms_name(two: Path, tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="another store's"):
        write_farm(tmp_path / "0.duckdb", two, "12")
    with pytest.raises(WrongUsage, match="Did you mean North"):
        write_farm(tmp_path / "0.duckdb", two, "north farm É")
    assert farms_of(two) == ("12", "North Farm é")
    assert json.loads((two / "farm=12" / ABOUT).read_text())["schema"] == "penwise.farms/1"


def test_what_is_no_set_is_refused(tmp_path: Path) -> None:
    create(tmp_path / "empty.duckdb")
    with pytest.raises(DataTooThin, match="No batch"):
        write_farm(tmp_path / "empty.duckdb", tmp_path / "set", "A")
    with pytest.raises(WrongUsage, match="No farm in"), strata_of_farms(tmp_path):
        pass


def test_the_connection_reaches_the_set_and_nothing_else(two: Path, tmp_path: Path) -> None:
    (tmp_path / "secret.csv").write_text("a\n1\n")
    with strata_of_farms(two) as connection, pytest.raises(Exception, match=r"Permission|disabled"):
        connection.execute(f"SELECT * FROM read_csv('{tmp_path / 'secret.csv'}')")


def test_filters_and_joined_classes(two: Path) -> None:
    asked = FarmsAsked(Selection(Month(2026, 2).period(), pens=("pên 1",)), ("NORTH FARM É",))
    with strata_of_farms(two) as connection:
        (row,) = farm_sums(connection, asked)
        # hatched on 24 Jan, 7 and 21 Feb ...: two batches of February in each of two machines
        assert (row["farm"], row["trays"]) == ("North Farm é", 4)
        months = [one for one in month_sums(connection, "coturnix_quail", "2026-02") if one["farm"] == "12"]
        assert [(one["month"], one["trays"], one["strata"]) for one in months] == [
            ("2026-01", 6, 6),
            ("2026-02", 12, 6),
        ]
        every = strata_of(
            connection, "coturnix_quail", ("2026-01", "2026-02"), ("North Farm é",), asked, joined=True
        )
    assert every["trays"].sum() == 18
    assert every["trays"][every["wanted"]].sum() == 4


def test_days_within_a_month_are_refused() -> None:
    period = Period(Month(2026, 2).period().start, Month(2026, 2).period().start)
    with pytest.raises(WrongUsage, match="within a month"):
        FarmsAsked(Selection(period)).values()


def test_without_the_extra_spark_says_how_to_get_it(two: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "sqlglot", None)
    with pytest.raises(WrongUsage, match=r"pip install 'penwise\[spark\]'"), farm_spark.strata_of_farms(two):
        pass
