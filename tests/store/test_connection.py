from __future__ import annotations

import os
from pathlib import Path

import duckdb
import pytest

from analytics.errors import StoreDamaged, StoreMissing
from analytics.store.connection import LeaveUnchanged, change_count, create, reading, writing
from analytics.store.tally import read_tally, tally_of

from .short_writes import add_pen, pens_in


def test_a_new_store_has_no_changes_and_no_rows(store: Path) -> None:
    assert change_count(store) == 0
    assert pens_in(store) == set()


def test_create_leaves_nothing_but_the_store_and_its_tally(store: Path) -> None:
    assert sorted(os.listdir(store.parent)) == ["flock.duckdb", "flock.duckdb.tally"]


def test_create_keeps_a_store_that_is_there(store: Path) -> None:
    add_pen(store, "P1")
    create(store)
    assert pens_in(store) == {"P1"}


def test_create_makes_the_folder(tmp_path: Path) -> None:
    create(tmp_path / "new" / "folder" / "flock.duckdb")
    assert change_count(tmp_path / "new" / "folder" / "flock.duckdb") == 0


def test_create_refuses_a_log_whose_store_is_gone(tmp_path: Path) -> None:
    (tmp_path / "flock.duckdb.wal").write_bytes(b"the last changes")
    with pytest.raises(StoreDamaged, match="log holds the last changes"):
        create(tmp_path / "flock.duckdb")
    assert (tmp_path / "flock.duckdb.wal").read_bytes() == b"the last changes"


def test_reading_a_store_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing), reading(tmp_path / "no.duckdb"):
        pass
    assert not list(tmp_path.iterdir())


def test_the_change_count_grows_by_one_with_every_write(store: Path) -> None:
    counts = []
    for number in range(3):
        add_pen(store, f"P{number}")
        counts.append(change_count(store))
    assert counts == [1, 2, 3]


def test_an_error_within_the_block_leaves_no_trace(store: Path) -> None:
    with pytest.raises(duckdb.ConversionException), writing(store) as connection:
        connection.execute(
            "INSERT INTO pens (pen, species, row_key, added_in) VALUES ('P', 'x', 'p', 1); SELECT 'a'::INT"
        )
    assert pens_in(store) == set()
    assert change_count(store) == 0


def test_leaving_unchanged_keeps_and_counts_nothing_and_raises_nothing(store: Path) -> None:
    with writing(store) as connection:
        connection.execute("INSERT INTO pens (pen, species, row_key, added_in) VALUES ('P', 'x', 'p', 1)")
        raise LeaveUnchanged
    assert pens_in(store) == set()
    assert change_count(store) == 0


def test_an_error_of_sql_within_the_block_is_not_called_damage(store: Path) -> None:
    with pytest.raises(duckdb.CatalogException), reading(store) as connection:
        connection.execute("SELECT * FROM no_such_table")
    with pytest.raises(duckdb.ConstraintException), writing(store) as connection:
        connection.execute("INSERT INTO pens (pen) VALUES ('P1')")


def test_a_reader_cannot_write(store: Path) -> None:
    with pytest.raises(duckdb.InvalidInputException, match="read-only"), reading(store) as connection:
        connection.execute("DELETE FROM pens")


@pytest.mark.parametrize("opened", [reading, writing])
def test_sql_reaches_no_other_file(store: Path, tmp_path: Path, opened: object) -> None:
    (tmp_path / "secret.csv").write_text("a\n1\n")
    assert callable(opened)
    for question in (
        f"SELECT * FROM read_csv('{tmp_path / 'secret.csv'}')",
        f"COPY pens TO '{tmp_path / 'out.csv'}'",
        f"ATTACH '{tmp_path / 'other.duckdb'}'",
        "SET enable_external_access = true",
        "SET threads = 1",
        "INSTALL httpfs",
    ):
        with pytest.raises(duckdb.Error, match=r"disabled|locked"), opened(store) as connection:
            connection.execute(question)
    assert not (tmp_path / "out.csv").exists()


def test_python_variables_are_not_tables(store: Path) -> None:
    frame = duckdb.sql("SELECT 1 AS a").df()
    with pytest.raises(duckdb.CatalogException), writing(store) as connection:
        connection.execute("SELECT * FROM frame")
    with writing(store) as connection:
        connection.register("frame", frame)
        assert connection.execute("SELECT a FROM frame").fetchall() == [(1,)]


def test_a_writer_may_read_the_folder_it_names_and_no_other(store: Path, tmp_path: Path) -> None:
    folder = tmp_path / "it's staged"
    folder.mkdir()
    (folder / "in.csv").write_text("a\n7\n")
    (tmp_path / "secret.csv").write_text("a\n1\n")
    (folder / "link.csv").symlink_to(tmp_path / "secret.csv")
    with writing(store, may_read=(folder,)) as connection:
        rows = connection.execute("SELECT a FROM read_csv(?)", [str(folder / "in.csv")]).fetchall()
        connection.execute("INSERT INTO pens (pen, species, row_key, added_in) VALUES ('P', 'x', 'p', 1)")
    assert rows == [(7,)]
    assert pens_in(store) == {"P"}
    for path in (tmp_path / "secret.csv", folder / ".." / "secret.csv", folder / "link.csv"):
        with pytest.raises(duckdb.PermissionException), writing(store, may_read=(folder,)) as connection:
            connection.execute("SELECT a FROM read_csv(?)", [str(path)])


def test_after_a_write_everything_is_in_one_file_and_counted_beside_it(store: Path) -> None:
    add_pen(store, "P1")
    assert sorted(os.listdir(store.parent)) == ["flock.duckdb", "flock.duckdb.tally"]
    tally = read_tally(store)
    assert tally is not None
    assert tally.change_count == 1


def test_a_write_stands_when_its_tally_cannot_be_written(
    store: Path, caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    tally_of(store).unlink()
    tally_of(store).mkdir()
    add_pen(store, "P1")
    assert pens_in(store) == {"P1"}
    assert "The change is kept, but flock.duckdb could not be counted" in caplog.text


def test_one_store_by_two_paths_is_one_store(store: Path) -> None:
    detour = store.parent / "." / ".." / store.parent.name / store.name
    with reading(store), reading(detour) as connection:
        assert connection.execute("SELECT 1").fetchall() == [(1,)]
    with reading(store), pytest.raises(RuntimeError, match="has the store open"), writing(detour):
        pass


def test_reading_within_writing_is_a_mistake_and_does_not_wait(store: Path) -> None:
    with writing(store), pytest.raises(RuntimeError, match="is writing the store"), reading(store):
        pass
