"""What a look through the store finds, each brought about by hand behind the program's back."""

from __future__ import annotations

import shutil
from pathlib import Path

import duckdb
import pytest

from analytics.errors import StoreDamaged
from analytics.sheets.health import MOST_NAMED, check
from analytics.store.audit import begin_entry, finish_entry
from analytics.store.connection import create, writing
from analytics.store.tally import tally_of

_ROWS = """
INSERT INTO pens (pen, species, row_key, added_in) VALUES
 ('Nord', 'chicken', 'nord', 1), ('a|b', 'duck', 'a\\|b', 1);
INSERT INTO incubators (incubator, row_key, added_in) VALUES ('M', 'm', 1);
INSERT INTO batches (batch, incubator, set_on, row_key, added_in) VALUES ('B1', ' m', '2026-03-01', 'b1', 1);
INSERT INTO trays (batch, tray, pen, eggs_set, hatched, rotten, row_key, added_in) VALUES
 ('B1', 'T1', 'NORD', 10, 9, 1, 'b1|t1', 1), ('B1', 'T2', 'A|B', 10, 5, NULL, 'b1|t2', 1);
INSERT INTO hatch_counts (batch, tray, counted_at, out_so_far, row_key, added_in) VALUES
 ('B1', NULL, '2026-03-20', 3, 'b1||2026-03-20T00:00:00', 1), ('B1', 't2', '2026-03-20', 3, 'b1|t2|x', 1);
INSERT INTO changes (changed_on, scope, target, what, row_key, added_in) VALUES
 ('2026-03-01', 'pen', 'nord', 'feed', 'k1', 1), ('2026-03-01', 'all', NULL, 'turn', 'k2', 1);
"""


@pytest.fixture
def sound(tmp_path: Path) -> Path:
    """A small store in which everything is as it should be."""
    store = tmp_path / "flock.duckdb"
    create(store)
    with writing(store) as connection:
        entry = begin_entry(connection, "load", "sheets")
        connection.execute(_ROWS)
        finish_entry(connection, entry, 9, 0, 0)
    return store


def _behind_its_back(store: Path, script: str) -> None:
    with duckdb.connect(str(store)) as connection:
        connection.execute(script)


def test_a_sound_store(sound: Path) -> None:
    health = check(sound)
    assert health.ailments == ()
    assert health.is_sound
    assert {count.sheet: (count.live, count.withdrawn) for count in health.sheets if count.live} == {
        "pens": (2, 0), "incubators": (1, 0), "batches": (1, 0), "trays": (2, 0), "hatch_counts": (2, 0),
        "changes": (2, 0),
    }  # fmt: skip
    assert (health.change_count, health.tally_count, health.ledger_entries, health.history_rows) == (
        1,
        1,
        1,
        0,
    )
    assert health.last_load is not None
    assert health.last_load >= health.made_at


def test_an_empty_store_is_sound_and_was_never_loaded(tmp_path: Path) -> None:
    create(tmp_path / "flock.duckdb")
    health = check(tmp_path / "flock.duckdb")
    assert health.is_sound
    assert health.last_load is None


@pytest.mark.parametrize(
    ("script", "what", "sheet", "keys"),
    [
        ("INSERT INTO pens SELECT * FROM pens WHERE row_key = 'nord'", "key_twice", "pens", ("nord",)),
        ("UPDATE trays SET pen = 'Süd' WHERE tray = 'T1'", "names_nothing", "trays", ("b1|t1",)),
        ("UPDATE pens SET withdrawn_in = 1 WHERE pen = 'a|b'", "names_nothing", "trays", ("b1|t2",)),
        ("UPDATE hatch_counts SET tray = 'T3' WHERE tray = 't2'", "names_nothing", "hatch_counts",
         ("b1|t2|x",)),
        ("UPDATE changes SET target = 'West' WHERE scope = 'pen'", "names_nothing", "changes", ("k1",)),
        ("UPDATE trays SET late_dead = 1 WHERE tray = 'T1'", "too_many_outcomes", "trays", ("b1|t1",)),
        ("UPDATE batches SET added_in = 7", "entry_unknown", "batches", ("b1",)),
        ("UPDATE batches SET withdrawn_in = 7; UPDATE trays SET withdrawn_in = 1;"
         " UPDATE hatch_counts SET withdrawn_in = 1", "entry_unknown", "batches", ("b1",)),
        ("INSERT INTO history VALUES (9, 'pens', 'nord', 'males', '1', '2')", "entry_unknown", "", ("nord",)),
        ("INSERT INTO ledger SELECT 5, kind, made_at, who, source, 0, 0, 0, why FROM ledger", "ledger_ahead",
         "", ("5",)),
    ],
)  # fmt: skip
def test_one_thing_wrong_is_the_one_thing_found(
    sound: Path, script: str, what: str, sheet: str, keys: tuple[str, ...]
) -> None:
    _behind_its_back(sound, script)
    health = check(sound)
    assert [(found.what, found.sheet, found.row_keys) for found in health.ailments] == [(what, sheet, keys)]
    assert not health.is_sound
    assert keys[0] in health.ailments[0].sentence


def test_withdrawn_rows_may_name_what_is_gone(sound: Path) -> None:
    _behind_its_back(
        sound, "UPDATE trays SET pen = 'Süd', late_dead = 99, withdrawn_in = 1 WHERE tray = 'T1'"
    )
    health = check(sound)
    assert health.is_sound
    assert [(count.live, count.withdrawn) for count in health.sheets if count.sheet == "trays"] == [(1, 1)]


def test_many_rows_are_counted_and_the_first_named(sound: Path) -> None:
    _behind_its_back(
        sound, "INSERT INTO lay (pen, \"on\", eggs, row_key, added_in)"
        " SELECT 'gone', DATE '2026-01-01' + i::INT, 1, format('k{:03d}', i), 1 FROM range(50) r(i)"
    )  # fmt: skip
    (found,) = check(sound).ailments
    assert found.rows == 50
    assert found.row_keys == tuple(f"k{number:03}" for number in range(MOST_NAMED))


def test_missing_changes_are_said_with_their_number(sound: Path, tmp_path: Path) -> None:
    shutil.copy(sound, tmp_path / "old")
    with writing(sound):
        pass
    shutil.copy(tmp_path / "old", sound)
    (found,) = check(sound).ailments
    assert (found.what, found.rows, found.is_note) == ("changes_missing", 1, False)
    assert "lacks its last 1 change" in found.sentence


def test_a_missing_tally_or_one_of_another_store_is_a_note(sound: Path, tmp_path: Path) -> None:
    create(tmp_path / "other.duckdb")
    shutil.copy(tally_of(tmp_path / "other.duckdb"), tally_of(sound))
    health = check(sound)
    assert [found.what for found in health.ailments] == ["tally_of_another"]
    assert health.is_sound
    tally_of(sound).unlink()
    health = check(sound)
    assert [found.what for found in health.ailments] == ["tally_missing"]
    assert health.is_sound
    assert health.tally_count is None


def test_tables_of_another_script_are_a_note(sound: Path) -> None:
    _behind_its_back(sound, "UPDATE migrations SET checksum = 'x'")
    health = check(sound)
    assert [found.what for found in health.ailments] == ["schema_differs"]
    assert health.is_sound


def test_a_damaged_table_is_damage(sound: Path) -> None:
    with writing(sound) as connection:
        connection.execute(
            "INSERT INTO climate SELECT 'M', TIMESTAMP '2026-01-01' + to_minutes(i::INT), random(), random(),"
            " 'm|' || i, 1, NULL FROM range(60000) r(i)"
        )
    whole = bytearray(sound.read_bytes())
    for place in range(300_000, len(whole), 50_000):
        whole[place] ^= 0xFF
    sound.write_bytes(whole)
    with pytest.raises(StoreDamaged):
        check(sound)
