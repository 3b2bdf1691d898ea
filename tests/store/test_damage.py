"""What a damaged, foreign, newer or taken store says, on real files brought into that state."""

from __future__ import annotations

import random
import shutil
import struct
from pathlib import Path

import duckdb
import pytest

from analytics.errors import (
    NotAStore,
    StoreBusy,
    StoreDamaged,
    StoreError,
    StoreTooNew,
)
from analytics.sheets.load import load
from analytics.store.care import table_sums
from analytics.store.connection import create, reading, reading_as_it_is, writing
from analytics.store.tally import Tally, read_tally, tally_of, write_tally

from .short_writes import add_pen, pens_in, start_program


@pytest.fixture
def filled(store: Path) -> Path:
    """A store of some megabytes."""
    with writing(store) as connection:
        connection.execute(
            "INSERT INTO climate SELECT 'M', TIMESTAMP '2026-01-01' + to_minutes(i::INT), 37 + random(),"
            " random(), 'm|' || i, 1, NULL FROM range(60000) r(i)"
        )
    return store


def _read_all(store: Path) -> None:
    with reading(store) as connection:
        table_sums(connection)


def _is_refused(store: Path, kind: type[StoreError], words: str, wait: float = 15) -> None:
    with pytest.raises(kind, match=words) as reader, reading(store, wait=wait) as connection:
        table_sums(connection)
    assert reader.value.exit_code == 4


def _flip(store: Path, place: int) -> None:
    with store.open("r+b") as handle:
        handle.seek(place)
        old = handle.read(1)
        handle.seek(place)
        handle.write(bytes([old[0] ^ 0xFF]))


@pytest.mark.parametrize(
    "content", [b"", b"pen,species\n", b"x" * 100_000, b"SQLite format 3\0" + b"\0" * 9000], ids=len
)
def test_a_file_of_another_kind_is_no_store_and_stays_as_it_is(tmp_path: Path, content: bytes) -> None:
    other = tmp_path / "other.duckdb"
    other.write_bytes(content)
    _is_refused(other, NotAStore, "is not a store of penwise")
    with pytest.raises(NotAStore), writing(other):
        pass
    assert other.read_bytes() == content


def test_a_folder_is_no_store(tmp_path: Path) -> None:
    _is_refused(tmp_path, NotAStore, "is not a store")


@pytest.mark.parametrize(
    "table", ["hens (a INT)", "migrations (version INT)", "store_meta (application TEXT)"]
)
def test_a_duckdb_file_of_somebody_else_is_no_store(tmp_path: Path, table: str) -> None:
    other = tmp_path / "other.duckdb"
    with duckdb.connect(str(other)) as connection:
        connection.execute(f"CREATE TABLE {table}")
    _is_refused(other, NotAStore, "is not a store of penwise")


def test_a_store_of_a_later_program_is_too_new(store: Path) -> None:
    with duckdb.connect(str(store)) as connection:
        connection.execute("INSERT INTO migrations VALUES (99, 'from tomorrow', now(), 'x')")
    _is_refused(store, StoreTooNew, "has schema 99")
    with pytest.raises(StoreTooNew), writing(store):
        pass


def _checksum_of_block(block: bytes) -> int:
    """DuckDB's checksum of a header block, so that a header can be written that is only newer."""
    result = 5381
    for (word,) in struct.iter_unpack("<Q", block):
        result ^= (word * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
    return result


def test_a_file_of_a_later_duckdb_is_too_new(store: Path) -> None:
    whole = bytearray(store.read_bytes())
    assert _checksum_of_block(whole[8:4096]) == struct.unpack_from("<Q", whole)[0]
    struct.pack_into("<Q", whole, 12, 9999)
    struct.pack_into("<Q", whole, 0, _checksum_of_block(whole[8:4096]))
    store.write_bytes(whole)
    _is_refused(store, StoreTooNew, "later DuckDB")


@pytest.mark.parametrize("place", [0, 8, 12, 40, 4096, 4120, 8192, 8300, 12288, 20000])
def test_a_flipped_byte_in_the_head_is_damage(filled: Path, place: int) -> None:
    _flip(filled, place)
    _is_refused(filled, StoreDamaged, "is damaged.*penwise restore")
    with pytest.raises(StoreDamaged), writing(filled):
        pass


def test_flipped_bytes_in_the_middle_are_found_where_data_are(filled: Path) -> None:
    """A byte in a block that holds nothing changes nothing; any other is noticed, never read as data."""
    with reading(filled) as connection:
        sums = table_sums(connection)
    whole, dice, noticed = filled.read_bytes(), random.Random(5), 0
    for _ in range(12):
        place = dice.randrange(300_000, len(whole) - 300_000)
        _flip(filled, place)
        try:
            with reading(filled) as connection:
                assert table_sums(connection) == sums
        except StoreDamaged:
            noticed += 1
        _flip(filled, place)
    assert filled.read_bytes() == whole
    assert noticed >= 8


@pytest.mark.parametrize("kept", [100, 4096, 12288, 0.5, -1000, -262144])
def test_a_cut_file_is_damage(filled: Path, kept: float) -> None:
    whole = filled.read_bytes()
    end = int(kept * len(whole)) if isinstance(kept, float) else kept
    filled.write_bytes(whole[:end])
    _is_refused(filled, StoreDamaged, "is damaged")


_HOLD = """
import time
with writing(Path(sys.argv[1])):
    print("in", flush=True)
    time.sleep(30)
"""


def test_a_store_held_by_another_program_is_busy_and_says_by_whom(store: Path) -> None:
    program = start_program(_HOLD, store)
    assert program.stdout is not None
    assert program.stdout.readline() == "in\n"
    try:
        _is_refused(store, StoreBusy, rf"in use by another program \(process {program.pid}\)", wait=0.1)
        with pytest.raises(StoreBusy, match="waited 0 seconds"), writing(store, wait=0.1):
            pass
    finally:
        program.kill()
        program.communicate()
    add_pen(store, "P1")


def test_a_file_without_the_right_to_read_it(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Asked of DuckDB's own words, because the tests may run as a user who may read everything."""
    words = f'IO Error: Cannot open file "{store}": Permission denied'

    def refused(*_: object, **__: object) -> None:
        raise duckdb.IOException(words)

    monkeypatch.setattr(duckdb, "connect", refused)
    _is_refused(store, StoreError, "may not be opened")


def test_a_store_that_cannot_be_made_is_named_as_it_was_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No name of a file that is only made on the way; words of DuckDB as above."""

    def refused(path: str, **_: object) -> None:
        raise duckdb.IOException(f'IO Error: Cannot open file "{path}": Permission denied')

    monkeypatch.setattr(duckdb, "connect", refused)
    (tmp_path / "pens.csv").write_text("pen,species\nA,chicken\n")
    for make in (create, lambda store: load(store, [tmp_path / "pens.csv"])):
        with pytest.raises(StoreError) as told:
            make(tmp_path / "farm.duckdb")
        assert ".part-" not in str(told.value)
        assert f"{tmp_path / 'farm.duckdb'} may not be opened" in str(told.value)
    assert [path.name for path in tmp_path.iterdir()] == ["pens.csv"]


def test_a_folder_that_cannot_be_made_is_refused_in_words(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("mine")
    with pytest.raises(StoreError, match=r"The folder .*file.sub cannot be made\. Not a directory"):
        create(tmp_path / "file" / "sub" / "farm.duckdb")


def test_a_folder_that_may_not_be_written_keeps_the_store_as_it_was(store: Path) -> None:
    """What DuckDB says at the commit when it cannot make its log; nothing of the change is kept."""
    words = f'TransactionContext Error: Failed to commit: Cannot open file "{store}.wal": Permission denied'
    with pytest.raises(StoreError, match="the right to write the file and into its folder"), writing(store):
        raise duckdb.TransactionException(words)
    assert pens_in(store) == set()


_WRITE_MUCH = """
import resource, signal
from analytics.errors import StoreError
room = int(sys.argv[2])
resource.setrlimit(resource.RLIMIT_FSIZE, (room, room))
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
much = "SELECT 1, sha256(i::VARCHAR), sha256((i + 1)::VARCHAR), 'c', NULL, NULL FROM range(200000) r(i)"
try:
    with writing(Path(sys.argv[1])) as connection:
        put_pen(connection, "P2")
        connection.execute(f"INSERT INTO history {much}")
except StoreError as error:
    print(error.exit_code, error)
"""


def test_a_full_disk_is_said_and_nothing_of_the_write_is_kept(store: Path) -> None:
    add_pen(store, "P1")
    told, trace = start_program(_WRITE_MUCH, store, 3_000_000).communicate(timeout=60)
    assert trace == ""
    assert told.startswith("4 flock.duckdb could not be written. The disk is full")
    assert pens_in(store) == {"P1"}
    add_pen(store, "P3")
    assert pens_in(store) == {"P1", "P3"}


_CRASH = """
import os
connection = duckdb.connect(sys.argv[1])
for pen in sys.argv[2:]:
    connection.begin()
    put_pen(connection, pen)
    connection.execute("UPDATE store_meta SET change_count = change_count + 1")
    connection.commit()
os._exit(0)
"""


def _crash_after(store: Path, *pens: str) -> None:
    """Leaves the store as after a power cut: commits in the log, nothing checkpointed."""
    assert start_program(_CRASH, store, *pens).communicate(timeout=60) == ("", "")
    with reading(store) as connection:
        name, count = connection.execute("SELECT store_id, change_count FROM store_meta").fetchall()[0]
    write_tally(store, Tally(name, count))


def _log(store: Path) -> Path:
    return store.with_name(store.name + ".wal")


def test_what_stands_in_the_log_after_a_crash_is_there(store: Path) -> None:
    _crash_after(store, "P1", "P2")
    assert _log(store).exists()
    assert pens_in(store) == {"P1", "P2"}
    add_pen(store, "P3")
    assert pens_in(store) == {"P1", "P2", "P3"}
    assert not _log(store).exists()


def test_a_cut_log_is_noticed_before_it_is_used_up(store: Path) -> None:
    _crash_after(store, "P1", "P2", "P3")
    log = _log(store).read_bytes()
    _log(store).write_bytes(log[:-20])
    with duckdb.connect(str(store), read_only=True) as connection:
        assert len(connection.execute("SELECT pen FROM pens").fetchall()) == 2, (
            "DuckDB opens it without a word"
        )
    for opened in (reading, writing):
        with (
            pytest.raises(StoreDamaged, match=r"lacks its last 1 change\. It holds 2 of the 3"),
            opened(store),
        ):
            pass
    _log(store).write_bytes(log)
    add_pen(store, "P4")
    assert pens_in(store) == {"P1", "P2", "P3", "P4"}


def test_a_log_with_a_flipped_byte_is_damage_or_is_noticed_by_the_tally(store: Path) -> None:
    _crash_after(store, "P1", "P2")
    log = _log(store).read_bytes()
    for place in range(0, len(log), len(log) // 25):
        _log(store).write_bytes(log)
        _flip(_log(store), place)
        with pytest.raises(StoreDamaged), writing(store):
            pass


def test_an_older_copy_put_in_place_by_hand_is_noticed(store: Path, tmp_path: Path) -> None:
    add_pen(store, "P1")
    shutil.copy(store, tmp_path / "old")
    add_pen(store, "P2")
    shutil.copy(tmp_path / "old", store)
    for opened in (reading, writing):
        with pytest.raises(StoreDamaged, match="lacks its last 1 change"), opened(store):
            pass
    with reading_as_it_is(store) as connection:
        assert connection.execute("SELECT pen FROM pens").fetchall() == [("P1",)]


def test_another_store_put_in_place_by_hand_goes_on_with_a_tally_of_its_own(
    store: Path, tmp_path: Path
) -> None:
    add_pen(store, "P1")
    add_pen(store, "P2")
    create(tmp_path / "other.duckdb")
    shutil.copy(tmp_path / "other.duckdb", store)
    add_pen(store, "Q1")
    tally = read_tally(store)
    assert tally is not None
    assert tally.change_count == 1


@pytest.mark.parametrize("content", [b"", b"{", b"[]", b'{"store_id": "x"}', b"\xff"])
def test_a_tally_that_cannot_be_read_stops_nobody(store: Path, content: bytes) -> None:
    tally_of(store).write_bytes(content)
    assert read_tally(store) is None
    add_pen(store, "P1")
    assert read_tally(store) is not None


_NARROW = """
import resource, signal
from analytics.errors import StoreError
from analytics.store.connection import create
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]),) * 2)
try:
    create(Path(sys.argv[1]))
    add_pen(Path(sys.argv[1]), "P2")
except StoreError as error:
    print(error)
"""


def test_a_change_that_only_its_log_has_room_for_is_kept_counted_and_said(store: Path) -> None:
    add_pen(store, "P1")
    told, said = start_program(_NARROW, store, 100_000).communicate(timeout=60)
    assert (told, said) == (
        "",
        "The change is kept, in the log beside flock.duckdb, which could not grow. Make room.\n",
    )
    tally = read_tally(store)
    assert tally is not None
    assert tally.change_count == 2
    assert pens_in(store) == {"P1", "P2"}
    add_pen(store, "P3")
    assert not _log(store).exists()


def test_a_store_that_there_is_no_room_to_make_is_refused_in_words(tmp_path: Path) -> None:
    told, said = start_program(_NARROW, tmp_path / "farm.duckdb", 20_000).communicate(timeout=60)
    assert said == ""
    assert told.startswith("farm.duckdb could not be written. The disk is full or the file may not grow")
    assert list(tmp_path.iterdir()) == []


_FIRST = """
import resource, signal
from analytics.errors import StoreError
from analytics.sheets.load import load
folder = Path(sys.argv[1])
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[2]),) * 2)
try:
    load(folder / "farm.duckdb", [folder / "sheets"])
except StoreError as error:
    print(error)
"""


@pytest.mark.parametrize("room", [1_000_000, 2_000_000])
def test_a_first_load_that_only_its_log_has_room_for_is_refused(tmp_path: Path, room: int) -> None:
    """The log of a file that is built beside its place does not go with it."""
    (tmp_path / "sheets").mkdir()
    for name, heading in (("incubators", "incubator"), ("batches", "batch,incubator,set_on"),
                          ("trays", "batch,tray,pen,eggs_set")):  # fmt: skip
        (tmp_path / "sheets" / f"{name}.csv").write_text(f"{heading}\n")
    pens = "".join(f"Pen {number},chicken,{'x' * 90}\n" for number in range(2_000))
    (tmp_path / "sheets" / "pens.csv").write_text(f"pen,species,notes\n{pens}")
    told, said = start_program(_FIRST, tmp_path, room).communicate(timeout=60)
    assert said == ""
    assert told.startswith("farm.duckdb could not be written. The disk is full or the file may not grow")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["sheets"]
