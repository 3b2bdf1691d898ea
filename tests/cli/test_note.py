"""`penwise note`: what was changed becomes a row of the sheet changes, or nothing."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from analytics.cli.main import run
from analytics.store.connection import change_count, reading

Capture = pytest.CaptureFixture[str]


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    return store_of(
        pens=[{"pen": "Alder", "species": "chicken"}, {"pen": "Twin", "species": "chicken"}],
        incubators=[{"incubator": "North"}, {"incubator": "Twin"}],
    )


def _rows(store: Path) -> list[tuple[str, ...]]:
    with reading(store) as connection:
        return connection.execute(
            "SELECT changed_on::VARCHAR, scope, coalesce(target, ''), what, coalesce(why, '')"
            " FROM changes WHERE withdrawn_in IS NULL ORDER BY 1, 2, 3"
        ).fetchall()


def _note(store: Path, *given: str) -> int:
    return run(["note", *given, "--store", str(store)])


def test_a_pen_a_machine_storage_and_all_are_told_apart(store: Path, capsys: Capture) -> None:
    assert _note(store, "New male", "--on", "2026-03-01", "--target", " aLDER ", "--why", "old one lame") == 0
    assert "Noted for Alder on 2026-03-01: New male." in capsys.readouterr().out
    assert _note(store, "New thermostat", "--on", "2026-03-02", "--target", "North") == 0
    assert _note(store, "Cooler room", "--on", "2026-03-03", "--target", "storage") == 0
    assert _note(store, '=1+1, "quoted"', "--on", "2026-03-04") == 0
    assert _rows(store) == [
        ("2026-03-01", "pen", "Alder", "New male", "old one lame"),
        ("2026-03-02", "incubator", "North", "New thermostat", ""),
        ("2026-03-03", "storage", "", "Cooler room", ""),
        ("2026-03-04", "all", "", '=1+1, "quoted"', ""),
    ]


def test_the_same_note_twice_is_one_row(store: Path, capsys: Capture) -> None:
    assert _note(store, "New male", "--on", "2026-03-01", "--target", "Alder", "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["schema"], told["scope"], told["target"]) == ("penwise.note/1", "pen", "Alder")
    before = change_count(store)
    assert _note(store, "New male", "--on", "2026-03-01", "--target", "Alder") == 0
    assert "noted before" in capsys.readouterr().out
    assert (len(_rows(store)), change_count(store)) == (1, before)


@pytest.mark.parametrize(
    ("given", "code", "said"),
    [
        (("X", "--on", "2026-03-01", "--target", "Aldr"), 2, "Did you mean Alder?"),
        (("X", "--on", "2026-03-01", "--target", "Twin"), 2, "a pen and a machine"),
        ((" ", "--on", "2026-03-01"), 2, "blank"),
        (("X", "--on", "1.3.2026"), 2, "is not a day"),
        (("X", "--on", "2626-03-01"), 3, "changed_on"),
    ],
)
def test_what_is_refused_leaves_no_trace(
    store: Path, capsys: Capture, given: tuple[str, ...], code: int, said: str
) -> None:
    before = change_count(store)
    assert _note(store, *given) == code
    assert said in capsys.readouterr().err
    assert (_rows(store), change_count(store)) == ([], before)
