from __future__ import annotations

import json
import shutil
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner, Result

from analytics.cli.main import penwise
from analytics.store.audit import begin_entry, finish_entry
from analytics.store.connection import change_count, create, reading, writing


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """A store with one pen."""
    made = tmp_path / "flock.duckdb"
    create(made)
    _add(made, "Nord")
    return made


def _add(store: Path, pen: str) -> None:
    with writing(store) as connection:
        entry = begin_entry(connection, "load", "pens.csv")
        connection.execute(
            "INSERT INTO pens (pen, species, row_key, added_in) VALUES (?, 'chicken', lower(?), ?)",
            [pen, pen, entry],
        )
        finish_entry(connection, entry, 1, 0, 0)


def _pens(store: Path) -> list[str]:
    with reading(store) as connection:
        return [row[0] for row in connection.execute("SELECT pen FROM pens ORDER BY 1").fetchall()]


def _penwise(*arguments: object) -> Result:
    return CliRunner().invoke(penwise, [str(argument) for argument in arguments])


def test_check_of_a_sound_store(store: Path) -> None:
    told = _penwise("check", "--store", store)
    assert (told.exit_code, told.stderr) == (0, "")
    assert "pens: 1\n" in told.stdout
    assert "Every row could be read." in told.stdout


def test_check_in_json(store: Path) -> None:
    told = _penwise("check", "--json", "--store", store)
    assert told.exit_code == 0
    health = json.loads(told.stdout)
    assert health["schema"] == "penwise.check/1"
    assert health["is_sound"] is True
    assert health["change_count"] == health["tally_count"] == 1
    assert health["ailments"] == []
    assert {"sheet": "pens", "live": 1, "withdrawn": 0} in health["sheets"]
    assert health["last_load"].endswith("+00:00")


def test_check_of_a_store_behind_its_tally_until_the_loss_is_accepted(store: Path, tmp_path: Path) -> None:
    shutil.copy(store, tmp_path / "old")
    _add(store, "West")
    shutil.copy(tmp_path / "old", store)
    told = _penwise("check", "--store", store)
    assert told.exit_code == 4
    assert "WRONG: flock.duckdb lacks its last 1 change." in told.stdout
    as_json = _penwise("check", "--json", "--store", store)
    assert as_json.exit_code == 4
    assert [found["what"] for found in json.loads(as_json.stdout)["ailments"]] == ["changes_missing"]
    accepted = _penwise("check", "--accept-loss", "--json", "--store", store)
    assert accepted.exit_code == 0
    assert accepted.stderr == "1 lost change given up.\n"
    assert json.loads(accepted.stdout)["is_sound"] is True
    _add(store, "Ost")
    assert _pens(store) == ["Nord", "Ost"]


@pytest.mark.parametrize("command", ["check", "backup", "export"])
def test_without_a_store_and_with_a_damaged_one(store: Path, tmp_path: Path, command: str) -> None:
    target = [tmp_path / "out"] if command != "check" else []
    told = _penwise(command, *target, "--store", tmp_path / "no.duckdb")
    assert told.exit_code == 4
    assert "No store at" in told.stderr
    whole = bytearray(store.read_bytes())
    whole[12300] ^= 0xFF
    store.write_bytes(whole)
    told = _penwise(command, *target, "--store", store)
    assert told.exit_code == 4
    assert "flock.duckdb is damaged" in told.stderr
    assert told.stdout == ""
    assert not (tmp_path / "out").exists()


def test_backup_then_restore(store: Path, tmp_path: Path) -> None:
    told = _penwise("backup", tmp_path / "copy.duckdb", "--store", store)
    assert told.exit_code == 0
    assert "the same as the store" in told.stdout
    _add(store, "West")
    told = _penwise("restore", tmp_path / "copy.duckdb", "--store", store)
    assert told.exit_code == 0
    (kept,) = tmp_path.glob("flock-kept-*.duckdb")
    assert f"is kept as {kept}" in told.stdout
    assert _pens(store) == ["Nord"]
    assert _pens(kept) == ["Nord", "West"]
    assert change_count(store) == 3


def test_backup_asks_before_it_replaces(store: Path, tmp_path: Path) -> None:
    (tmp_path / "copy").write_text("mine")
    told = _penwise("backup", tmp_path / "copy", "--store", store)
    assert told.exit_code == 2
    assert "--replace" in told.stderr
    assert _penwise("backup", tmp_path / "copy", "--replace", "--store", store).exit_code == 0
    assert _pens(tmp_path / "copy") == ["Nord"]


def test_export_and_the_way_back(store: Path, tmp_path: Path) -> None:
    told = _penwise("export", tmp_path / "out", "--store", store)
    assert told.exit_code == 0
    assert "1 row in 19 sheets" in told.stdout
    assert _penwise("export", tmp_path / "out", "--store", store).exit_code == 2
    told = _penwise("load", tmp_path / "out", "--store", tmp_path / "second.duckdb")
    assert told.exit_code == 0, told.output
    assert _pens(tmp_path / "second.duckdb") == ["Nord"]
    assert change_count(tmp_path / "second.duckdb") == 1


def test_the_sheets_as_a_workbook_and_as_parquet(store: Path, tmp_path: Path) -> None:
    told = _penwise("export", tmp_path / "book", "--as", "xlsx", "--store", store)
    assert "1 row of 1 sheet." in told.stdout
    book = openpyxl.load_workbook(tmp_path / "book" / "sheets.xlsx")
    assert book.sheetnames == ["pens"]
    head, row = book.worksheets[0].iter_rows(values_only=True)
    assert dict(zip(head, row, strict=True))["pen"] == "Nord"
    assert _penwise("export", tmp_path / "out", "--as", "parquet", "--store", store).exit_code == 0
    assert pd.read_parquet(tmp_path / "out" / "pens.parquet")["pen"].tolist() == ["Nord"]
    assert _penwise("export", tmp_path / "out", "--as", "parquet", "--store", store).exit_code == 2


def test_a_damaged_record_is_json_when_asked(store: Path, tmp_path: Path) -> None:
    _penwise("export", tmp_path / "out", "--store", store)
    (tmp_path / "out" / "record" / "ledger.csv").unlink()
    told = _penwise("load", tmp_path / "out", "--json", "--store", tmp_path / "second.duckdb")
    assert told.exit_code == 3
    assert json.loads(told.stdout)["errors"][0]["given"] == "record: ledger.csv is missing"
    assert not (tmp_path / "second.duckdb").exists()


def test_copies_that_are_counted(store: Path, tmp_path: Path) -> None:
    folder = tmp_path / "copies"
    folder.mkdir()
    for _ in range(3):
        done = _penwise("backup", folder, "--keep", "2", "--store", store)
        assert done.exit_code == 0
    assert "000003" in done.output
    assert "1 older copy removed." in done.output
    assert len(list(folder.iterdir())) == 2
    refused = _penwise("backup", folder, "--keep", "2", "--replace", "--store", store)
    assert refused.exit_code == 2
