"""Copies made and brought back: verified, and never at the cost of a good file."""

from __future__ import annotations

import os
import random
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import duckdb
import pytest

from analytics.errors import NotAStore, StoreBusy, StoreDamaged, StoreError, StoreMissing, WrongUsage
from analytics.store.care import accept_loss, backup, restore, table_sums
from analytics.store.connection import change_count, create, reading, writing
from analytics.store.files import Held
from analytics.store.tally import read_tally, tally_of
from analytics.store.turns import Turns

from .short_writes import add_pen, pens_in, start_program

_HELD = """
import time
with reading(Path(sys.argv[1])):
    print("in", flush=True)
    time.sleep(30)
"""


@pytest.fixture
def filled(store: Path) -> Path:
    add_pen(store, "P1")
    add_pen(store, "P2")
    return store


def _flip(path: Path, place: int) -> None:
    whole = bytearray(path.read_bytes())
    whole[place] ^= 0xFF
    path.write_bytes(whole)


def _entries(store: Path) -> list[tuple[int, str, str]]:
    with reading(store) as connection:
        return connection.execute("SELECT entry_no, kind, source FROM ledger ORDER BY entry_no").fetchall()


def test_a_copy_is_the_store_byte_for_byte_and_its_rows_are_counted(filled: Path, tmp_path: Path) -> None:
    copied = backup(filled, tmp_path / "copy.duckdb")
    assert copied.path.read_bytes() == filled.read_bytes()
    assert copied.tables["pens"].rows == 2
    assert copied.tally.change_count == 2
    with reading(tmp_path / "copy.duckdb") as connection:
        assert table_sums(connection) == copied.tables
    assert sorted(os.listdir(tmp_path)) == ["copy.duckdb", "flock.duckdb", "flock.duckdb.tally"]


def test_a_copy_replaces_nothing_unless_asked(filled: Path, tmp_path: Path) -> None:
    (tmp_path / "other.txt").write_text("mine")
    with pytest.raises(WrongUsage, match="is there already"):
        backup(filled, tmp_path / "other.txt")
    with pytest.raises(WrongUsage, match="one file"):
        backup(filled, filled, replace=True)
    assert (tmp_path / "other.txt").read_text() == "mine"
    backup(filled, tmp_path / "copy.duckdb")
    add_pen(filled, "P3")
    backup(filled, tmp_path / "copy.duckdb", replace=True)
    assert pens_in(tmp_path / "copy.duckdb") == {"P1", "P2", "P3"}


def test_a_copy_makes_no_folder_where_a_disk_should_be(filled: Path, tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="whether the disk is connected"):
        backup(filled, tmp_path / "stick" / "copy.duckdb")
    assert not (tmp_path / "stick").exists()


def test_a_damaged_store_gives_no_copy(filled: Path, tmp_path: Path) -> None:
    _flip(filled, 12300)
    with pytest.raises(StoreDamaged):
        backup(filled, tmp_path / "copy.duckdb")
    assert sorted(os.listdir(tmp_path)) == ["flock.duckdb", "flock.duckdb.tally"]


def test_a_copy_that_was_written_wrongly_is_noticed(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    right = Held.copy_to

    def wrong(self: Held, target: Path) -> None:
        right(self, target)
        _flip(target, 12300)

    monkeypatch.setattr(Held, "copy_to", wrong)
    with pytest.raises(StoreDamaged):
        backup(filled, tmp_path / "copy.duckdb")
    assert not (tmp_path / "copy.duckdb").exists()


def test_a_full_disk_is_said_and_leaves_no_half_copy(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(self: Held, target: Path) -> None:
        target.write_bytes(b"half")
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Held, "copy_to", full)
    with pytest.raises(StoreError, match="No space left"):
        backup(filled, tmp_path / "copy.duckdb")
    assert sorted(os.listdir(tmp_path)) == ["flock.duckdb", "flock.duckdb.tally"]


def test_a_store_behind_its_tally_gives_no_copy(filled: Path, tmp_path: Path) -> None:
    shutil.copy(filled, tmp_path / "old")
    add_pen(filled, "P3")
    shutil.copy(tmp_path / "old", filled)
    with pytest.raises(StoreDamaged, match="lacks its last 1 change"):
        backup(filled, tmp_path / "copy.duckdb")


def test_what_a_crash_left_in_the_log_is_in_the_copy(filled: Path, tmp_path: Path) -> None:
    script = "import os\nconnection = duckdb.connect(sys.argv[1])\nput_pen(connection, 'P3')\nos._exit(0)"
    assert start_program(script, filled).communicate(timeout=60) == ("", "")
    log = filled.with_name("flock.duckdb.wal").read_bytes()
    backup(filled, tmp_path / "copy.duckdb")
    assert pens_in(tmp_path / "copy.duckdb") == {"P1", "P2", "P3"}
    assert filled.with_name("flock.duckdb.wal").read_bytes() == log


def test_others_may_read_while_a_copy_is_made_but_not_write(filled: Path, tmp_path: Path) -> None:
    program = start_program(_HELD, filled)
    assert program.stdout is not None
    assert program.stdout.readline() == "in\n"
    try:
        backup(filled, tmp_path / "copy.duckdb", wait=5)
        with pytest.raises(StoreBusy):
            restore(tmp_path / "copy.duckdb", filled, wait=0.1)
    finally:
        program.kill()
        program.communicate()
    with writing(filled), pytest.raises(RuntimeError):
        backup(filled, tmp_path / "again.duckdb")


def test_copies_made_while_threads_write_are_whole_states(filled: Path, tmp_path: Path) -> None:
    stop = threading.Event()

    def write() -> None:
        number = 3
        while not stop.is_set():
            add_pen(filled, f"P{number}")
            number += 1

    thread = threading.Thread(target=write)
    thread.start()
    counts = []
    try:
        for number in range(5):
            copied = backup(filled, tmp_path / f"copy{number}.duckdb")
            assert copied.tables["pens"].rows == copied.tally.change_count
            counts.append(copied.tally.change_count)
    finally:
        stop.set()
        thread.join(30)
    assert counts == sorted(counts)


def test_a_change_made_right_after_the_copying_is_not_taken_for_a_lost_one(
    filled: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    free = Turns.alone

    @contextmanager
    def someone_follows(self: Turns, wait: float) -> Iterator[None]:
        with free(self, wait):
            yield
        monkeypatch.setattr(Turns, "alone", free)
        add_pen(filled, "P3")

    monkeypatch.setattr(Turns, "alone", someone_follows)
    assert backup(filled, tmp_path / "copy.duckdb").tally.change_count == 2
    assert pens_in(tmp_path / "copy.duckdb") == {"P1", "P2"}
    assert pens_in(filled) == {"P1", "P2", "P3"}


def test_a_copy_brought_back_is_the_store_of_then_and_the_present_one_is_kept(
    filled: Path, tmp_path: Path
) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    add_pen(filled, "P3")
    present = filled.read_bytes()
    restored = restore(tmp_path / "copy.duckdb", filled)
    assert pens_in(filled) == {"P1", "P2"}
    assert restored.kept is not None
    assert restored.kept.read_bytes() == present
    assert pens_in(restored.kept) == {"P1", "P2", "P3"}
    assert read_tally(restored.kept) is not None


def test_the_ledger_says_that_a_copy_was_brought_back_and_the_count_goes_on(
    filled: Path, tmp_path: Path
) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    add_pen(filled, "P3")
    add_pen(filled, "P4")
    restore(tmp_path / "copy.duckdb", filled)
    assert change_count(filled) == 5, "never a count that a page has seen with other rows"
    assert _entries(filled)[-1] == (5, "restore", "copy.duckdb")
    add_pen(filled, "P5")
    assert change_count(filled) == 6


def test_a_copy_brought_back_where_no_store_is(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    restored = restore(tmp_path / "copy.duckdb", tmp_path / "new" / "flock.duckdb")
    assert restored.kept is None
    assert pens_in(tmp_path / "new" / "flock.duckdb") == {"P1", "P2"}
    assert sorted(os.listdir(tmp_path / "new")) == ["flock.duckdb", "flock.duckdb.tally"]


@pytest.mark.parametrize("damage", ["flipped", "cut", "text"])
def test_a_bad_copy_never_replaces_a_store(filled: Path, tmp_path: Path, damage: str) -> None:
    copy = tmp_path / "copy.duckdb"
    backup(filled, copy)
    if damage == "flipped":
        _flip(copy, 12300)
    elif damage == "cut":
        copy.write_bytes(copy.read_bytes()[:-300_000])
    else:
        copy.write_text("not a store")
    present = filled.read_bytes()
    with pytest.raises(StoreError):
        restore(copy, filled)
    assert filled.read_bytes() == present
    assert sorted(os.listdir(tmp_path)) == ["copy.duckdb", "flock.duckdb", "flock.duckdb.tally"]


def test_a_damaged_store_gives_way_to_a_copy_and_is_kept(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    _flip(filled, 12300)
    damaged = filled.read_bytes()
    restored = restore(tmp_path / "copy.duckdb", filled)
    assert pens_in(filled) == {"P1", "P2"}
    assert restored.kept is not None
    assert restored.kept.read_bytes() == damaged


def test_the_log_of_the_store_that_gives_way_goes_with_it(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    script = "import os\nconnection = duckdb.connect(sys.argv[1])\nput_pen(connection, 'P3')\nos._exit(0)"
    assert start_program(script, filled).communicate(timeout=60) == ("", "")
    restored = restore(tmp_path / "copy.duckdb", filled)
    assert pens_in(filled) == {"P1", "P2"}
    assert restored.kept is not None
    assert pens_in(restored.kept) == {"P1", "P2", "P3"}


def test_a_file_that_is_no_store_is_not_moved_aside(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    (tmp_path / "photo.jpg").write_bytes(b"\xff\xd8 a hen")
    with pytest.raises(NotAStore):
        restore(tmp_path / "copy.duckdb", tmp_path / "photo.jpg")
    assert (tmp_path / "photo.jpg").read_bytes() == b"\xff\xd8 a hen"


def test_a_copy_is_another_file_that_is_there(filled: Path, tmp_path: Path) -> None:
    with pytest.raises(WrongUsage, match="one file"):
        restore(filled, filled)
    with pytest.raises(StoreMissing):
        restore(tmp_path / "no.duckdb", filled)


def test_two_restores_within_a_second_keep_both_files(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    kept = {restore(tmp_path / "copy.duckdb", filled).kept for _ in range(3)}
    assert len(kept) == 3


@pytest.mark.parametrize("moment", range(3))
def test_a_program_killed_while_it_brings_copies_back_leaves_a_whole_store(
    filled: Path, tmp_path: Path, moment: int
) -> None:
    backup(filled, tmp_path / "two.duckdb")
    add_pen(filled, "P3")
    backup(filled, tmp_path / "three.duckdb")
    script = """
from analytics.store.care import restore
while True:
    for copy in sys.argv[2:]:
        print(copy, flush=True)
        restore(Path(copy), Path(sys.argv[1]))
"""
    program = start_program(script, filled, tmp_path / "two.duckdb", tmp_path / "three.duckdb")
    assert program.stdout is not None
    program.stdout.readline()
    time.sleep(random.Random(moment).uniform(0, 0.5))
    program.kill()
    program.communicate()
    assert pens_in(filled) in ({"P1", "P2"}, {"P1", "P2", "P3"})
    with reading(filled) as connection:
        table_sums(connection)
    add_pen(filled, "P9")
    assert "P9" in pens_in(filled)


def test_a_loss_that_is_accepted_is_counted_and_the_store_goes_on(filled: Path, tmp_path: Path) -> None:
    shutil.copy(filled, tmp_path / "old")
    add_pen(filled, "P3")
    add_pen(filled, "P4")
    shutil.copy(tmp_path / "old", filled)
    assert accept_loss(filled) == 2
    add_pen(filled, "P5")
    assert pens_in(filled) == {"P1", "P2", "P5"}
    assert accept_loss(filled) == 0


def test_a_copy_has_no_tally_until_it_is_written_to(filled: Path, tmp_path: Path) -> None:
    backup(filled, tmp_path / "copy.duckdb")
    assert not tally_of(tmp_path / "copy.duckdb").exists()
    create(tmp_path / "copy.duckdb")
    add_pen(tmp_path / "copy.duckdb", "P9")
    assert tally_of(tmp_path / "copy.duckdb").exists()


def test_what_stands_in_the_log_is_in_the_file_before_it_gives_way(filled: Path, tmp_path: Path) -> None:
    """Between the names of log and file a program can be killed; then one of them would be alone."""
    backup(filled, tmp_path / "copy.duckdb")
    script = "import os\nconnection = duckdb.connect(sys.argv[1])\nput_pen(connection, 'P3')\nos._exit(0)"
    assert start_program(script, filled).communicate(timeout=60) == ("", "")
    restored = restore(tmp_path / "copy.duckdb", filled)
    assert restored.kept is not None
    assert not restored.kept.with_name(restored.kept.name + ".wal").exists()
    with duckdb.connect(str(restored.kept), read_only=True) as connection:
        assert len(connection.execute("SELECT pen FROM pens").fetchall()) == 3


def test_what_killed_programs_left_a_day_ago_is_cleared_away_and_nothing_else(
    filled: Path, tmp_path: Path
) -> None:
    old, new, mine = (
        tmp_path / name for name in ("copy.duckdb.part-1", "copy.duckdb.part-2", "copy.duckdb.p")
    )
    for path in (old, new, mine):
        path.write_text("x")
    for path in (old, mine):
        os.utime(path, (time.time() - 100_000,) * 2)
    backup(filled, tmp_path / "copy.duckdb")
    assert [path.exists() for path in (old, new, mine)] == [False, True, True]
