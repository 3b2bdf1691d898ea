"""`penwise batch` as it is called: text, JSON, and a name that is not there."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.main import run

Capture = pytest.CaptureFixture[str]
AT = datetime.fromisoformat
NEVER = {"p_value", "q_value", "strength"}


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    return store_of(
        pens=[{"pen": "Rowan", "species": "coturnix_quail"}],
        incubators=[{"incubator": "Shelf"}],
        batches=[{"batch": "First", "incubator": "Shelf", "set_on": AT("2026-03-01T18:00"),
                  "pulled_on": AT("2026-03-20")}],
        trays=[{"batch": "First", "tray": "1", "pen": "Rowan", "eggs_set": 32, "hatched": 20, "infertile": 4,
                "clear": 5, "early_dead": 1, "rotten": 2}],
    )  # fmt: skip


def _keys(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        yield from value
    for item in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        yield from _keys(item)


def test_json_has_counts_with_ranges_candidates_and_no_test(store: Path, capsys: Capture) -> None:
    assert run(["batch", "first", "--store", str(store), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert (found["schema"], found["batch"], found["state"]) == ("penwise.batch/1", "First", "hatched")
    assert {"species", "hours", "signs", "look_now", "record_next", "cannot_tell", "others", "due"} <= set(
        found
    )
    (quail,) = found["species"]
    assert (quail["hatch_of_set"]["count"], quail["hatch_of_set"]["eggs"], quail["hatch_of_set"]["rate"]) == (
        20, 32, 0.625,
    )  # fmt: skip
    assert sum(row["count"] for row in quail["counts"]) == 32
    assert {row["base"] for row in quail["counts"]} == {"of set"}
    assert all(row["low"] <= row["rate"] <= row["high"] for row in quail["counts"])
    assert {row["base"] for row in quail["published"]} == {"of set", "of fertile"}
    assert all(row["source"] for row in quail["published"])
    assert found["signs"][0]["candidates"][0].keys() >= {
        "cause",
        "group",
        "for",
        "against",
        "next_check",
        "source",
    }
    assert not NEVER & set(_keys(found))


def test_text_says_what_to_do_and_nothing_it_cannot_know(store: Path, capsys: Capture) -> None:
    assert run(["batch", "First", "--store", str(store)]) == 0
    said = capsys.readouterr().out
    assert said.startswith(
        "Batch First\n\nOf 32 Coturnix quail eggs set in Shelf on 1 March 2026, 20 hatched"
    )
    headings = re.findall(r"^[A-Z][A-Z ,]{6,}", said, re.MULTILINE)
    assert [heading.strip() for heading in headings] == [
        "WHERE THE EGGS WENT", "PUBLISHED, EACH ON ITS OWN BASE", "WHEN IT HATCHED, IN HOURS",
        "WHAT WAS SEEN, AND WHAT IT MAY COME FROM", "WHAT TO LOOK AT NOW",
        "WHAT TO WRITE DOWN, OR DO, NEXT TIME", "WHAT THIS HATCH CANNOT TELL", "HOW THIS WAS WORKED OUT",
        "WITH CARE",
    ]  # fmt: skip
    assert not re.search(r"significant|finding", said, re.IGNORECASE)
    assert max(map(len, said.splitlines())) <= 100


def test_a_name_that_is_not_there_is_answered_with_near_ones(store: Path, capsys: Capture) -> None:
    assert run(["batch", "Frist", "--store", str(store), "--json"]) == 2
    told = capsys.readouterr()
    assert (told.out, "Did you mean First?" in told.err) == ("", True)
