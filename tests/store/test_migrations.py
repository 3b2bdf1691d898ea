"""Bringing an older store along, with an artificial older store and artificial steps."""

from __future__ import annotations

import os
from pathlib import Path

import duckdb
import pytest

from analytics.errors import StoreError, StoreTooNew
from analytics.store import migrations
from analytics.store.care import TableSum, table_sums
from analytics.store.connection import change_count, create, reading, writing
from analytics.store.migrations import STEPS, Step
from analytics.store.tally import read_tally

from .short_writes import add_pen, pens_in, start_program

_LAST = STEPS[-1].version
SPLIT = Step(
    _LAST + 1,
    "pens say where they stand",
    "ALTER TABLE pens ADD COLUMN place VARCHAR; COMMENT ON COLUMN pens.place IS 'Where it stands'",
)
RESHAPE = Step(
    _LAST + 2,
    "hens are counted in another column",
    "CREATE TABLE pens_new AS SELECT * RENAME (females AS hens) FROM pens;"
    " DROP TABLE pens; ALTER TABLE pens_new RENAME TO pens",
)
FAILS_MIDWAY = Step(
    _LAST + 2, "a step that fails", "UPDATE pens SET place = 'barn'; INSERT INTO no_such_table VALUES (1)"
)


@pytest.fixture
def older(store: Path) -> Path:
    """A store of the present schema, with a pen, which the artificial steps make an older one."""
    add_pen(store, "P1")
    return store


def _program_knows(monkeypatch: pytest.MonkeyPatch, *steps: Step) -> None:
    monkeypatch.setattr(migrations, "STEPS", (*STEPS, *steps))
    monkeypatch.setattr("analytics.store.connection.STEPS", (*STEPS, *steps))


def _kept(store: Path) -> list[Path]:
    return sorted(store.parent.glob("*-kept-*.duckdb"))


def _sums(path: Path) -> dict[str, TableSum]:
    with duckdb.connect(str(path), read_only=True) as connection:
        return table_sums(connection)


def _versions(store: Path) -> list[tuple[int, str, str]]:
    with reading(store) as connection:
        return connection.execute(
            "SELECT version, name, checksum FROM migrations ORDER BY version"
        ).fetchall()


@pytest.mark.parametrize("opened", [reading, writing])
def test_an_older_store_is_migrated_on_opening(
    older: Path, monkeypatch: pytest.MonkeyPatch, opened: object
) -> None:
    before = _sums(older)
    _program_knows(monkeypatch, SPLIT, RESHAPE)
    assert callable(opened)
    with opened(older) as connection:
        assert connection.execute("SELECT pen, hens, place FROM pens").fetchall() == [("P1", None, None)]
    assert _versions(older)[-2:] == [(s.version, s.name, s.checksum) for s in (SPLIT, RESHAPE)]
    after = _sums(older)
    assert {name: after[name] for name in after if name not in ("pens", "migrations", "store_meta")} == {
        name: before[name] for name in before if name not in ("pens", "migrations", "store_meta")
    }


def test_the_old_file_is_kept_as_it_was_under_a_dated_name(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = older.read_bytes()
    _program_knows(monkeypatch, SPLIT)
    assert pens_in(older) == {"P1"}
    assert [path.read_bytes() for path in _kept(older)] == [whole]
    assert sorted(os.listdir(older.parent)) == sorted(
        ["flock.duckdb", "flock.duckdb.tally", _kept(older)[0].name]
    )


def test_a_migration_counts_as_a_change_and_the_tally_follows(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _program_knows(monkeypatch, SPLIT)
    assert change_count(older) == 2
    tally = read_tally(older)
    assert tally is not None
    assert tally.change_count == 2
    add_pen(older, "P2")
    assert change_count(older) == 3


def test_a_migrated_store_is_not_migrated_again(older: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _program_knows(monkeypatch, SPLIT)
    pens_in(older)
    pens_in(older)
    assert len(_kept(older)) == 1


@pytest.mark.parametrize("opened", [reading, writing])
def test_a_step_that_fails_midway_leaves_the_old_store_unharmed(
    older: Path, monkeypatch: pytest.MonkeyPatch, opened: object
) -> None:
    whole = older.read_bytes()
    _program_knows(monkeypatch, SPLIT, FAILS_MIDWAY)
    assert callable(opened)
    with pytest.raises(StoreError, match="could not be brought up to date") as refused, opened(older):
        pass
    assert refused.value.exit_code == 4
    assert older.read_bytes() == whole
    assert sorted(os.listdir(older.parent)) == ["flock.duckdb", "flock.duckdb.tally"]
    monkeypatch.undo()
    assert pens_in(older) == {"P1"}


def test_a_step_and_its_row_stand_or_fall_together(tmp_path: Path) -> None:
    with duckdb.connect(str(tmp_path / "x.duckdb")) as connection:
        migrations.run_steps(connection, [*STEPS, SPLIT])
        with pytest.raises(duckdb.CatalogException):
            migrations.run_steps(connection, [FAILS_MIDWAY])
        assert connection.execute("SELECT max(version) FROM migrations").fetchall() == [(SPLIT.version,)]
        migrations.run_steps(connection, [RESHAPE])
        assert connection.execute("SELECT max(version) FROM migrations").fetchall() == [(RESHAPE.version,)]


def test_a_new_store_runs_every_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    _program_knows(monkeypatch, SPLIT, RESHAPE)
    create(tmp_path / "new.duckdb")
    assert [version for version, _, _ in _versions(tmp_path / "new.duckdb")] == list(range(1, _LAST + 3))
    assert not _kept(tmp_path / "new.duckdb")


def test_a_program_of_before_the_migration_finds_the_store_too_new(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _program_knows(monkeypatch, SPLIT)
    pens_in(older)
    monkeypatch.undo()
    with pytest.raises(StoreTooNew, match=f"has schema {_LAST + 1}"), reading(older):
        pass


def test_what_a_crash_left_in_the_log_is_in_the_file_before_it_gives_way(
    older: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    script = """
import os
connection = duckdb.connect(sys.argv[1])
put_pen(connection, "P2")
os._exit(0)
"""
    assert start_program(script, older).communicate(timeout=60) == ("", "")
    _program_knows(monkeypatch, SPLIT)
    assert pens_in(older) == {"P1", "P2"}
    assert not older.with_name("flock.duckdb.wal").exists()
    with duckdb.connect(str(_kept(older)[0]), read_only=True) as connection:
        assert len(connection.execute("SELECT pen FROM pens").fetchall()) == 2
    assert not _kept(older)[0].with_name(_kept(older)[0].name + ".wal").exists()


def test_programs_that_open_an_older_store_at_once_migrate_it_once_and_lose_nothing(older: Path) -> None:
    script = f"""
from analytics.store import connection, migrations
from analytics.store.migrations import Step
migrations.STEPS = (*migrations.STEPS, Step({SPLIT.version}, {SPLIT.name!r}, {SPLIT.script!r}))
for number in range(5):
    add_pen(Path(sys.argv[1]), f"{{sys.argv[2]}}{{number}}")
"""
    programs = [start_program(script, older, name) for name in "abc"]
    for program in programs:
        assert program.communicate(timeout=60) == ("", "")
    with duckdb.connect(str(older), read_only=True) as connection:
        pens = {row[0] for row in connection.execute("SELECT pen FROM pens").fetchall()}
        version = connection.execute("SELECT count(*), max(version) FROM migrations").fetchall()
    assert pens == {"P1"} | {f"{name}{number}" for name in "abc" for number in range(5)}
    assert version == [(_LAST + 1, _LAST + 1)]
    assert len(_kept(older)) == 1
