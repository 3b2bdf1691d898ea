"""Copies in a folder: numbered, read through, so many of them, and nothing else is touched."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import pytest

from analytics.errors import StoreDamaged, WrongUsage
from analytics.store.copies import backup_into

from .short_writes import add_pen, pens_in

DAY = date(2026, 3, 14)


def _names(folder: Path) -> list[str]:
    return sorted(os.listdir(folder))


def test_the_last_copies_stay_whatever_the_clock_says(store: Path, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    folder.mkdir()
    (folder / "flock-copy-mine.duckdb").write_text("not ours")
    (folder / "other-copy-000001-2026-03-01.duckdb").write_text("of another store")
    days = (DAY, DAY.replace(day=15), DAY.replace(year=2020), DAY.replace(year=2020), DAY)
    for number, day in enumerate(days):
        add_pen(store, f"P{number}")
        copied, removed = backup_into(store, folder, 2, today=day)
        assert pens_in(copied.path) == {f"P{n}" for n in range(number + 1)}
        assert len(removed) == (number >= 2)
    assert _names(folder) == [
        "flock-copy-000004-2020-03-14.duckdb",
        "flock-copy-000005-2026-03-14.duckdb",
        "flock-copy-mine.duckdb",
        "other-copy-000001-2026-03-01.duckdb",
    ]


def test_a_copy_that_cannot_be_verified_costs_no_older_one(store: Path, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    folder.mkdir()
    backup_into(store, folder, 1, today=DAY)
    whole = bytearray(store.read_bytes())
    whole[12300] ^= 0xFF
    store.write_bytes(whole)
    with pytest.raises(StoreDamaged):
        backup_into(store, folder, 1, today=DAY)
    assert _names(folder) == ["flock-copy-000001-2026-03-14.duckdb"]


def test_at_least_one_copy_in_a_folder_that_is_there(store: Path, tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="Keep 1 or more"):
        backup_into(store, tmp_path, 0, today=DAY)
    with pytest.raises(WrongUsage, match="whether the disk is connected"):
        backup_into(store, tmp_path / "stick", 3, today=DAY)
    with pytest.raises(WrongUsage, match="Give a folder"):
        backup_into(store, store, 3, today=DAY)
