from __future__ import annotations

import os
from datetime import UTC, datetime
from pathlib import Path

import pytest

from analytics.errors import StoreBusy, StoreError, StoreMissing
from analytics.store import files

from .short_writes import add_pen, pens_in, start_program

NOW = datetime(2026, 3, 14, 18, 30, 5, tzinfo=UTC)


@pytest.fixture(params=["links", "no links"])
def disk(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """A disk with and one without hard links, such as a memory stick."""

    def refused(*_: object) -> None:
        raise OSError(1, "Operation not permitted")

    if request.param == "no links":
        monkeypatch.setattr(os, "link", refused)
    return str(request.param)


def test_a_finished_file_gets_its_name_and_replaces_none(tmp_path: Path, disk: str) -> None:
    for text in ("first", "second"):
        (tmp_path / "unfinished").write_text(text)
        assert files.put_new(tmp_path / "unfinished", tmp_path / "store") is (text == "first")
    assert (tmp_path / "store").read_text() == "first"


def test_what_gives_way_is_kept_with_its_log_under_a_dated_name(tmp_path: Path, disk: str) -> None:
    store = tmp_path / "flock.duckdb"
    for number in range(3):
        store.write_text(f"old {number}")
        files.log_of(store).write_text(f"log {number}")
        (tmp_path / "new").write_text("new")
        with files.held(store, 1) as hold:
            kept = hold.replace_by(tmp_path / "new", NOW)
        assert kept.name == f"flock-kept-2026-03-14-183005{'' if number == 0 else f'-{number + 1}'}.duckdb"
        assert (kept.read_text(), files.log_of(kept).read_text()) == (f"old {number}", f"log {number}")
        assert store.read_text() == "new"
        assert not files.log_of(store).exists()


def test_a_held_store_can_be_copied_here_and_opened_by_nobody_else(store: Path, tmp_path: Path) -> None:
    add_pen(store, "P1")
    script = """
from analytics.errors import StoreBusy
try:
    with reading(Path(sys.argv[1]), wait=0.1):
        print("in")
except StoreBusy:
    print("busy")
"""
    with files.held(store, 1) as hold:
        hold.copy_to(tmp_path / "copy.duckdb")
        assert start_program(script, store).communicate(timeout=60) == ("busy\n", "")
    with files.held(store, 1, shared=True):
        assert start_program(script, store).communicate(timeout=60) == ("in\n", "")
    assert pens_in(tmp_path / "copy.duckdb") == {"P1"}
    assert pens_in(store) == {"P1"}


def test_holding_waits_its_time_and_no_longer(store: Path) -> None:
    script = """
import time
with reading(Path(sys.argv[1])):
    print("in", flush=True)
    time.sleep(30)
"""
    program = start_program(script, store)
    assert program.stdout is not None
    assert program.stdout.readline() == "in\n"
    try:
        with pytest.raises(StoreBusy, match="in use by another program"), files.held(store, 0.1):
            pass
    finally:
        program.kill()
        program.communicate()


def test_a_file_that_is_gone_or_a_folder_cannot_be_held(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing), files.held(tmp_path / "no", 1):
        pass
    with pytest.raises(StoreError, match="may not be opened"), files.held(tmp_path, 1):
        pass


def test_a_copy_that_reads_back_differently_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "store").write_bytes(b"all the records")

    def spoilt(number: int) -> None:
        (tmp_path / "copy").write_bytes(b"something else")

    monkeypatch.setattr(os, "fsync", spoilt)
    with files.held(tmp_path / "store", 1) as hold, pytest.raises(OSError, match="differs from what was"):
        hold.copy_to(tmp_path / "copy")


def test_text_is_written_whole_and_leaves_nothing_beside(tmp_path: Path) -> None:
    files.write_whole(tmp_path / "tally", "one")
    files.write_whole(tmp_path / "tally", "two")
    assert (tmp_path / "tally").read_text() == "two"
    assert os.listdir(tmp_path) == ["tally"]
