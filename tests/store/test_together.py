"""Several programs and threads on one store at the same time, and programs that are killed in between."""

from __future__ import annotations

import os
import random
import subprocess
import threading
import time
from pathlib import Path

import pytest

from analytics.store.care import table_sums
from analytics.store.connection import change_count, reading
from analytics.store.tally import read_tally

from .short_writes import add_pen, pens_in, start_program

_WRITE = """
for number in range(int(sys.argv[3])):
    add_pen(Path(sys.argv[1]), f"{sys.argv[2]}{number}")
    print(number, flush=True)
"""
_READ = """
while not Path(sys.argv[1] + ".stop").exists():
    print(len(pens_in(Path(sys.argv[1]))), flush=True)
"""


def _finish(program: subprocess.Popen[str]) -> list[int]:
    told, trace = program.communicate(timeout=120)
    assert trace == ""
    return [int(line) for line in told.split()]


def _ledger_is_whole(store: Path, entries: int) -> None:
    with reading(store) as connection:
        numbers = [row[0] for row in connection.execute("SELECT entry_no FROM ledger ORDER BY 1").fetchall()]
    assert numbers == list(range(1, entries + 1))
    assert change_count(store) == entries
    tally = read_tally(store)
    assert tally is not None
    assert tally.change_count == entries


@pytest.mark.slow
def test_two_programs_with_a_hundred_short_writes_each_lose_nothing(store: Path) -> None:
    programs = [start_program(_WRITE, store, name, 100) for name in "ab"]
    assert [len(_finish(program)) for program in programs] == [100, 100]
    assert pens_in(store) == {f"{name}{number}" for name in "ab" for number in range(100)}
    _ledger_is_whole(store, 200)


@pytest.mark.slow
def test_two_threads_with_a_hundred_short_writes_each_lose_nothing(store: Path) -> None:
    def write(name: str) -> None:
        for number in range(100):
            add_pen(store, f"{name}{number}")

    threads = [threading.Thread(target=write, args=(name,)) for name in "ab"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(120)
    assert pens_in(store) == {f"{name}{number}" for name in "ab" for number in range(100)}
    _ledger_is_whole(store, 200)


def test_readers_in_threads_and_another_program_see_whole_states_while_a_program_writes(store: Path) -> None:
    seen: list[tuple[int, int]] = []
    stop = threading.Event()

    def read() -> None:
        while not stop.is_set():
            with reading(store) as connection:
                counts = "SELECT (SELECT count(*) FROM pens), (SELECT change_count FROM store_meta)"
                seen.append(connection.execute(counts).fetchall()[0])
            time.sleep(0.005)

    threads = [threading.Thread(target=read) for _ in range(2)]
    for thread in threads:
        thread.start()
    reader, writer = start_program(_READ, store), start_program(_WRITE, store, "p", 8)
    assert len(_finish(writer)) == 8
    stop.set()
    store.with_name(store.name + ".stop").touch()
    for thread in threads:
        thread.join(30)
    elsewhere = _finish(reader)
    assert elsewhere == sorted(elsewhere)
    assert all(pens == changes for pens, changes in seen)
    assert len({pens for pens, _ in seen}) > 2, "the readers came in between the writes"
    _ledger_is_whole(store, 8)


@pytest.mark.parametrize("moment", range(4))
def test_a_program_killed_while_it_writes_loses_no_committed_row(store: Path, moment: int) -> None:
    program = start_program(_WRITE, store, "p", 1000)
    assert program.stdout is not None
    first = int(program.stdout.readline())
    time.sleep(random.Random(moment).uniform(0, 0.3))
    program.kill()
    told, _ = program.communicate()
    committed = {f"p{number}" for number in [first, *map(int, told.split("\n")[:-1])]}
    found = pens_in(store)
    assert committed <= found
    assert len(found) <= len(committed) + 1, "at most the write that could not say that it was done"
    add_pen(store, "after")
    assert pens_in(store) == found | {"after"}
    _ledger_is_whole(store, len(found) + 1)
    with reading(store) as connection:
        table_sums(connection)


def test_two_programs_that_make_the_store_at_once_make_one(tmp_path: Path) -> None:
    script = """
from analytics.store.connection import create
create(Path(sys.argv[1]))
add_pen(Path(sys.argv[1]), sys.argv[2])
"""
    place = tmp_path / "flock.duckdb"
    programs = [start_program(script, place, name) for name in "abc"]
    for program in programs:
        assert _finish(program) == []
    assert pens_in(place) == {"a", "b", "c"}
    _ledger_is_whole(place, 3)
    assert sorted(os.listdir(tmp_path)) == ["flock.duckdb", "flock.duckdb.tally"]
