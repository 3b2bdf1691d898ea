"""`penwise blank`, `load` and `withdraw`: exit codes, what is told where, and the JSON."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from analytics.cli.main import penwise
from analytics.store.connection import change_count

FILES = {
    "pens": "pen,species\nRowan,coturnix_quail\nAlder,coturnix_quail\n",
    "incubators": "incubator\nNorth\n",
    "batches": "batch,incubator,set_on\nB1,North,2026-03-01T18:30\n",
    "trays": "batch,tray,pen,eggs_set,hatched\nB1,T1,Rowan,20,15\nB1,T2,Alder,20,16\n",
}


@pytest.fixture
def sheets(tmp_path: Path) -> Path:
    folder = tmp_path / "sheets"
    folder.mkdir()
    for name, text in FILES.items():
        (folder / f"{name}.csv").write_text(text)
    return folder


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "data" / "farm.duckdb"


def run(*words: object) -> Result:
    return CliRunner().invoke(penwise, [str(word) for word in words])


def told(result: Result) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def test_load_tells_what_it_did(sheets: Path, store: Path) -> None:
    result = run("load", sheets, "--store", store)
    assert result.exit_code == 0
    assert result.stderr == ""
    assert result.stdout.splitlines()[0] == "6 rows added, 0 corrected, 0 there already."
    again = run("load", sheets, "--store", store)
    assert again.stdout == "Nothing new: 6 rows there already, the same.\n"
    assert change_count(store) == 1


def test_load_as_json(sheets: Path, store: Path) -> None:
    result = told(run("load", sheets, "--store", store, "--json"))
    assert result == {
        "schema": "penwise.load/1",
        "kept": True,
        "dry_run": False,
        "entry_no": 1,
        "added": 6,
        "added_by_sheet": {"pens": 2, "incubators": 1, "batches": 1, "trays": 2},
        "corrected": [],
        "corrected_rows": 0,
        "corrected_cells": 0,
        "unchanged": 0,
        "errors": [],
        "errors_total": 0,
        "warnings": [],
        "warnings_total": 0,
        "ignored": [],
    }


def test_a_rejected_load(sheets: Path, store: Path) -> None:
    (sheets / "trays.csv").write_text(FILES["trays"].replace("20,15", "20,25"))
    result = run("load", sheets, "--store", store)
    assert (result.exit_code, result.stdout) == (3, "")
    first, second = result.stderr.splitlines()
    assert first == (
        "penwise: 1 problem in the record sheets. Nothing of this load was kept."
        " Mend the rows listed and load again."
    )
    assert second.startswith("  trays, row 2, hatched, eggs_set: hatched 25, eggs_set 20: 25 together. The")
    assert not store.exists()


def test_a_rejected_load_as_json(sheets: Path, store: Path) -> None:
    (sheets / "trays.csv").write_text(FILES["trays"].replace("20,15", "20,25"))
    (sheets / "other.csv").write_text("x\n")
    result = run("load", sheets, "--store", store, "--json")
    assert result.exit_code == 3
    found = told(result)
    assert (found["kept"], found["errors_total"], found["ignored"]) == (
        False,
        1,
        ["other: no record sheet has this name"],
    )
    assert found["errors"] == [
        {
            "sheet": "trays",
            "row": 2,
            "column": "hatched, eggs_set",
            "given": "hatched 25, eggs_set 20: 25 together",
            "rule": "The outcomes of a tray add up to at most its eggs_set",
            "repair": "Look for an egg counted twice, or mend eggs_set",
        }
    ]


def test_a_rejected_load_has_added_nothing(sheets: Path, store: Path) -> None:
    run("load", sheets, "--store", store)
    (sheets / "pens.csv").write_text(FILES["pens"] + "Hazel,coturnix_quail\n")
    (sheets / "trays.csv").write_text(FILES["trays"].replace("20,15", "20,14"))
    refused = told(run("load", sheets, "--store", store, "--json"))
    assert (refused["added"], refused["added_by_sheet"], refused["corrected_cells"]) == (0, {}, 1)
    (sheets / "trays.csv").write_text(FILES["trays"].replace("20,15", "20,25"))
    refused = told(run("load", sheets, "--store", store, "--json"))
    assert (refused["added"], refused["added_by_sheet"], refused["errors_total"]) == (0, {}, 1)
    checked = told(run("load", sheets / "pens.csv", "--store", store, "--json", "--dry-run"))
    assert (checked["added"], checked["kept"], checked["dry_run"]) == (1, False, True)


def test_a_cell_stands_in_json_as_it_was_written(sheets: Path, store: Path) -> None:
    rows = "B1,T1,Rowan,many,15\nB1,T2,Alder,,16\nB1,T2,Alder,7,6\n"
    (sheets / "trays.csv").write_text("batch,tray,pen,eggs_set,hatched\n" + rows)
    result = run("load", sheets, "--store", store, "--json")
    assert [one["given"] for one in told(result)["errors"]] == ["many", "blank", "`B1, T2`, as in row 3"]
    assert 'trays, row 2, eggs_set: "many".' in run("load", sheets, "--store", store).stderr


def test_equal_problems_are_told_once_with_their_rows(sheets: Path, store: Path) -> None:
    rows = "".join(f"B1,T{number},Rowam,20,15\n" for number in range(1, 49))
    (sheets / "trays.csv").write_text(FILES["trays"].splitlines()[0] + "\n" + rows)
    result = run("load", sheets, "--store", store)
    first, second = result.stderr.splitlines()
    assert first.startswith("penwise: 48 problems in the record sheets.")
    assert second.startswith("  trays, 48 rows (2, 3, 4, …), pen: pen `Rowam` is unknown.")
    assert len(told(run("load", sheets, "--store", store, "--json"))["errors"]) == 48


def test_a_wrong_machine_for_a_loggers_file_is_told_once(sheets: Path, store: Path, tmp_path: Path) -> None:
    run("load", sheets, "--store", store)
    log = tmp_path / "log.csv"
    log.write_text("at,temperature_c\n" + "".join(f"2026-03-02T{hour:02}:00,37.5\n" for hour in range(24)))
    result = run("load", log, "--incubator", "Nort", "--store", store)
    assert result.exit_code == 3
    assert result.stderr.splitlines()[0].startswith("penwise: 1 problem in")
    assert "climate, incubator: incubator `Nort` is unknown." in result.stderr


def test_corrections_are_shown_before_they_are_taken(sheets: Path, store: Path) -> None:
    run("load", sheets, "--store", store)
    (sheets / "trays.csv").write_text(FILES["trays"].replace("20,15", "20,14"))
    refused = run("load", sheets, "--store", store)
    assert refused.exit_code == 3
    assert "--accept-corrections" in refused.stderr
    assert "  trays, row 2, hatched: 15 -> 14" in refused.stderr.splitlines()
    as_json = run("load", sheets, "--store", store, "--json")
    assert as_json.exit_code == 3
    correction = {
        "sheet": "trays",
        "row_key": "b1|t1",
        "row": 2,
        "column": "hatched",
        "old": "15",
        "new": "14",
    }
    assert (told(as_json)["corrected"], told(as_json)["kept"], told(as_json)["errors"]) == (
        [correction],
        False,
        [],
    )
    checked = run("load", sheets, "--store", store, "--dry-run")
    assert checked.exit_code == 0
    assert checked.stdout.splitlines()[-1] == "This was a check: nothing was kept."
    assert change_count(store) == 1
    taken = run("load", sheets, "--store", store, "--accept-corrections")
    assert taken.stdout.splitlines()[0] == "0 rows added, 1 corrected, 5 there already."
    assert change_count(store) == 2


def test_a_logger_file(sheets: Path, store: Path, tmp_path: Path) -> None:
    run("load", sheets, "--store", store)
    log = tmp_path / "log.csv"
    log.write_text("Time,Temp(F)\n14/03/2026 10:00,99.5\n")
    columns = ["--map", 'at="Time"', "--map", "temperature_c=Temp(F)"]
    result = run("load", log, *columns, "--fahrenheit", "--incubator", "north", "--store", store)
    assert result.exit_code == 0
    assert "were read as day first" in result.stdout
    assert "1 row added" in result.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["load"],
        ["load", "SHEETS", "--map", "Time"],
        ["load", "SHEETS", "--map", "at=A", "--map", "at=B"],
        ["load", "SHEETS", "--map", "tray=A"],
        ["load", "SHEETS/gone.csv"],
        ["blank"],
        ["blank", "SHEETS"],
        ["withdraw", "trays", "B1", "T1"],
        ["withdraw", "trays", "B1", "T9", "--why", "wrong"],
    ],
)
def test_wrong_usage(words: list[str], sheets: Path, store: Path) -> None:
    run("load", sheets, "--store", store)
    options = [] if words[0] == "blank" else ["--store", store]
    result = run(*(word.replace("SHEETS", str(sheets)) for word in words), *options)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr


def test_blank_folder_and_workbook(store: Path, tmp_path: Path) -> None:
    assert run("blank", tmp_path / "new").exit_code == 0
    assert len(list((tmp_path / "new").glob("*.csv"))) == 19
    assert run("blank", "--xlsx", tmp_path / "new.xlsx").exit_code == 0
    result = run("load", tmp_path / "new.xlsx", "--store", store)
    assert (result.exit_code, result.stdout) == (0, "Nothing new: no rows to load.\n")


def test_withdraw(sheets: Path, store: Path) -> None:
    run("load", sheets, "--store", store)
    named = run("withdraw", "pens", "rowan", "--why", "sold", "--store", store)
    assert named.exit_code == 1
    assert "named by trays B1, T1" in named.stderr
    done = run("withdraw", "trays", "b1", "t1", "--why", "counted twice", "--store", store, "--json")
    assert told(done) == {
        "schema": "penwise.withdraw/1",
        "sheet": "trays",
        "row_key": "b1|t1",
        "why": "counted twice",
        "entry_no": 2,
        "undo": False,
    }
    assert "stays in the history" in run("withdraw", "pens", "Rowan", "--why", "x", "--store", store).stdout


def test_without_a_store(store: Path) -> None:
    assert run("withdraw", "trays", "B1", "T1", "--why", "x", "--store", store).exit_code == 4
