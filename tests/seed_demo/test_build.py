"""The demo store is built whole or not at all, and never over anybody's records."""

import shutil
from pathlib import Path

import pytest

from analytics.errors import WrongUsage
from analytics.store.connection import create, reading, writing
from seed_demo import build
from seed_demo.build import build_demo, is_demo

TOLD = []


@pytest.fixture(scope="module")
def store(tmp_path_factory):
    place = tmp_path_factory.mktemp("demo") / "new folder" / "demo.duckdb"
    build_demo(place, progress=lambda share, words: TOLD.append((share, words)))
    return place


@pytest.fixture
def copied(store, tmp_path):
    """The demo once more, to be changed by a test."""
    return Path(shutil.copytree(store.parent, tmp_path / "copy")) / store.name


def _count(store, sheet):
    with reading(store) as connection:
        return connection.execute(f"SELECT count(*) FROM {sheet}").fetchone()[0]


def test_every_row_is_loaded(store, demo):
    for sheet, rows in demo.rows.items():
        assert _count(store, sheet) == len(rows), sheet


def test_nothing_is_left_beside_the_store(store):
    assert {file.name for file in store.parent.iterdir()} == {store.name, f"{store.name}.tally"}


def test_the_sheets_mean_in_the_store_what_they_meant(store, demo):
    with reading(store) as connection:
        eggs, chicks = connection.execute("SELECT sum(eggs_set), sum(hatched + culled) FROM trays").fetchone()
        late = connection.execute("SELECT count(*) FROM opened_eggs WHERE malformed").fetchone()[0]
        first = connection.execute("SELECT min(set_on) FROM batches").fetchone()[0]
    rows = demo.rows["trays"]
    assert eggs == sum(row["eggs_set"] for row in rows)
    assert chicks == sum(
        row["hatched"] + row["culled"] for row in rows if None not in (row["hatched"], row["culled"])
    )
    assert late == sum(row["malformed"] is True for row in demo.rows["opened_eggs"])
    assert first == min(row["set_on"] for row in demo.rows["batches"])


def test_a_demo_is_built_anew_over_a_demo(copied):
    assert is_demo(copied)
    before = _count(copied, "trays")
    build_demo(copied, seed=9)
    assert _count(copied, "trays") != before
    assert is_demo(copied)
    kept = [file for file in copied.parent.iterdir() if "kept" in file.name and file.suffix == copied.suffix]
    assert [_count(file, "trays") for file in kept] == [before]


def test_records_of_others_are_refused_and_stay(copied):
    with writing(copied) as connection:
        connection.execute("UPDATE ledger SET who = 'the keeper'")
    before = copied.read_bytes()
    assert not is_demo(copied)
    with pytest.raises(WrongUsage, match="holds records"):
        build_demo(copied)
    assert copied.read_bytes() == before


def test_a_load_that_fails_leaves_everything_as_it_was(copied, monkeypatch):
    def broken(*_arguments, **_options):
        raise RuntimeError("power cut")

    before = {file.name: file.read_bytes() for file in copied.parent.iterdir()}
    monkeypatch.setattr(build, "load", broken)
    for target in (copied, copied.with_name("other.duckdb")):
        with pytest.raises(RuntimeError):
            build_demo(target)
    assert {file.name: file.read_bytes() for file in copied.parent.iterdir()} == before


def test_an_empty_store_is_no_demo(tmp_path):
    place = tmp_path / "mine.duckdb"
    create(place)
    assert not is_demo(place)
    with pytest.raises(WrongUsage, match="holds records"):
        build_demo(place)


def test_progress_is_told_and_ends(store):
    shares = [share for share, _ in TOLD]
    assert shares == sorted(shares)
    assert 0 <= shares[0] < shares[-1] == 1
    assert all(words for _, words in TOLD)
    assert is_demo(store)
