"""`penwise history`: what was changed, in words and as JSON, and a row set aside that counts again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from analytics.cli.main import penwise

FILES = {
    "pens": "pen,species\nRowan,coturnix_quail\n",
    "incubators": "incubator\nNorth\n",
    "batches": "batch,incubator,set_on\nB1,North,2026-03-01T18:30\n",
    "trays": "batch,tray,pen,eggs_set,hatched\nB1,T1,Rowan,20,15\nB1,T2,Rowan,20,16\n",
}


def run(*words: object) -> Result:
    return CliRunner().invoke(penwise, [str(word) for word in words])


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """T1 corrected by Ida, then set aside."""
    monkeypatch.setenv("PENWISE_WHO", "Ida")
    for name, text in FILES.items():
        (tmp_path / f"{name}.csv").write_text(text)
    made = tmp_path / "farm.duckdb"
    run("load", *(tmp_path / f"{name}.csv" for name in FILES), "--store", made)
    (tmp_path / "trays.csv").write_text(FILES["trays"].replace("20,15", "20,14"))
    run("load", tmp_path / "trays.csv", "--accept-corrections", "--store", made)
    run("withdraw", "trays", "b1", "t1", "--why", "counted twice", "--store", made)
    return made


def test_of_the_whole_store_in_words(store: Path) -> None:
    told = run("history", "--store", store)
    assert (told.exit_code, told.stderr) == (0, "")
    first, second = told.stdout.splitlines()
    assert first.endswith("trays B1, T1: set aside, withdraw (entry 3) by Ida, because: counted twice")
    assert second.endswith("trays B1, T1: hatched 15 -> 14, load of trays.csv (entry 2) by Ida")


def test_of_one_row_in_words(store: Path) -> None:
    lines = run("history", "trays", "B1", "T1", "--store", store).stdout.splitlines()
    assert lines[0] == "trays B1, T1: set aside, in no rate."
    assert lines[1].endswith(
        "added, load of pens.csv, incubators.csv, batches.csv, trays.csv (entry 1) by Ida"
    )
    assert "hatched 15 -> 14" in lines[2]
    other = run("history", "trays", "B1", "T2", "--store", store).stdout.splitlines()
    assert (other[0], other[-1]) == ("trays B1, T2: counts.", "  Nothing of it was changed since.")
    assert run("history", "lay", "--store", store).stdout == "Nothing was changed so far.\n"
    assert "and 1 earlier: --last 2" in run("history", "--last", "1", "--store", store).stdout


def test_as_json(store: Path) -> None:
    told = run("history", "trays", "b1", "t1", "--store", store, "--json")
    found = json.loads(told.stdout)
    assert found["schema"] == "penwise.history/1"
    assert (found["sheet"], found["changes_total"]) == ("trays", 2)
    assert (found["row"]["row"], found["row"]["withdrawn"]) == ("B1, T1", True)
    assert found["row"]["cells"]["hatched"] == "14"
    last, first = found["changes"]
    assert first.pop("made_at").endswith("+00:00")
    assert first == {
        "sheet": "trays",
        "row_key": "b1|t1",
        "row": "B1, T1",
        "column": "hatched",
        "old": "15",
        "new": "14",
        "who": "Ida",
        "kind": "load",
        "source": "trays.csv",
        "why": "",
        "entry_no": 2,
    }
    assert (last["column"], last["kind"], last["why"]) == ("withdrawn_in", "withdraw", "counted twice")
    whole = json.loads(run("history", "--store", store, "--json").stdout)
    assert (whole["sheet"], whole["row"]) == (None, None)


def test_a_row_counts_again(store: Path) -> None:
    undone = run("withdraw", "trays", "B1", "T1", "--undo", "--why", "it was right", "--store", store)
    assert undone.stdout == "Counts again: B1, T1 in trays. The history keeps both.\n"
    lines = run("history", "trays", "B1", "T1", "--store", store).stdout.splitlines()
    assert lines[0] == "trays B1, T1: counts."
    assert lines[-1].endswith("counts again, withdraw --undo (entry 4) by Ida, because: it was right")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["trays", "B1", "T9"], "There is no row B1, T9 in trays"),
        (["tray"], "Did you mean trays?"),
        (["lay", "Rowan", "soon"], "It is a day in the row's key"),
    ],
)
def test_what_cannot_be_meant(store: Path, words: list[str], said: str) -> None:
    told = run("history", *words, "--store", store)
    assert (told.exit_code, told.stdout) == (2, "")
    assert said in told.stderr
    assert "|" not in told.stderr
