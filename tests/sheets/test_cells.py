"""Every way in which one cell can be wrong: one bad cell each, all in one load, all named at their place."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from analytics.errors import SheetProblem
from analytics.sheets.cells import days_meant

RIGHT = {
    "pens": {"pen": "X{n}", "species": "chicken"},
    "incubators": {"incubator": "X{n}"},
    "batches": {"batch": "X{n}", "incubator": "North", "set_on": "2026-03-01"},
    "trays": {"batch": "B1", "tray": "X{n}", "pen": "Rowan", "eggs_set": "40"},
    "lay": {"pen": "Rowan", "on": "2026-03-02", "eggs": "5"},
    "checks": {"incubator": "North", "at": "2026-03-02"},
    "climate": {"incubator": "North", "at": "2026-03-02"},
    "diets": {"pen": "Rowan", "from": "19{n}-01-01"},
    "targets": {"species": "chicken", "measure": "hatch_of_set", "target": "0.8"},
    "incubator_events": {"incubator": "North", "at": "2026-03-02", "event": "opened"},
    "opened_eggs": {"batch": "B1", "tray": "T1", "egg": "{n}", "class": "rotten"},
    "shells": {"pen": "Rowan", "sampled_on": "2026-03-02"},
    "birds": {"bird": "X{n}", "sex": "m"},
    "changes": {"changed_on": "2026-03-02", "scope": "all", "what": "feed"},
}
"""A right row of each sheet; {n} makes its key its own."""


@dataclass(frozen=True)
class Bad:
    """A row with one bad cell, and what must be said of it."""

    sheet: str
    column: str
    text: str
    rule: str
    repair: str

    def __str__(self) -> str:
        return f"{self.sheet}-{self.column}-{self.text}"[:50]


BAD = [
    Bad("pens", "pen", "", "needs its pen", "Fill it in"),
    Bad("pens", "species", "", "needs its species", "Fill it in"),
    Bad("pens", "species", "coturnix quali", "one of", "Did you mean coturnix_quail"),
    Bad("pens", "from", "14/03/2026", "YYYY-MM-DD", "Write 2026-03-14"),
    Bad("pens", "from", "14.3.26", "YYYY-MM-DD", "Write 2026-03-14"),
    Bad("pens", "from", "04/03/2026", "YYYY-MM-DD", "2026-03-04 or 2026-04-03, whichever is meant"),
    Bad("pens", "from", "46095", "YYYY-MM-DD", "2026-03-14"),
    Bad("pens", "from", "2026-02-30", "YYYY-MM-DD", "like 2026-03-14"),
    Bad("pens", "from", "0026-03-14", "between 1900 and 2199", ""),
    Bad("pens", "from", "20260314", "YYYY-MM-DD", "Write 2026-03-14"),
    Bad("pens", "from", "epoch", "YYYY-MM-DD", "like 2026-03-14"),
    Bad("pens", "males", "two", "whole number", "leave the cell blank"),
    Bad("pens", "pen", "x" * 201, "too long", "200"),
    Bad("pens", "pen", "two\nlines", "one line", "line break"),
    Bad("pens", "notes", "x" * 10001, "too long", "10000"),
    Bad("incubators", "role", "settter", "one of", "Did you mean setter"),
    Bad("incubators", "capacity_eggs", "0", "at least 1", ""),
    Bad("batches", "set_on", "2026-03-01T18:30Z", "local time", ""),
    Bad("batches", "set_on", "2026-03-01T18:30+01:00", "without a zone", "2026-03-14T18:30"),
    Bad("batches", "set_on", "2026-03-01 06:30 PM", "24-hour", ""),
    Bad("batches", "set_on", "1.3.2026 18:30", "2026-03-14T18:30", "2026-03-01"),
    Bad("batches", "set_on", "2026-03-01T25:00", "a day and a time", ""),
    Bad("batches", "set_on", "", "needs its set_on", ""),
    Bad("trays", "eggs_set", "", "needs its eggs_set", "Fill it in"),
    Bad("trays", "eggs_set", "0", "at least 1", "Write the number"),
    Bad("trays", "hatched", "1.5", "whole number", "such as 12"),
    Bad("trays", "hatched", "-1", "at least 0", "0 = counted, none"),
    Bad("trays", "hatched", "1,000", "whole number", "Write 1000"),
    Bad("trays", "hatched", "12 eggs", "whole number", "Write 12"),
    Bad("trays", "hatched", "n/a", "whole number", "leave the cell blank if it was not recorded"),
    Bad("trays", "hatched", "-", "whole number", "leave the cell blank"),
    Bad("trays", "hatched", "nan", "whole number", "leave the cell blank"),
    Bad("trays", "hatched", "99999999999", "at most 10,000,000", "slip"),
    Bad("trays", "storage_days", "3,5", "decimal point", "Write 3.5"),
    Bad("trays", "storage_days", "-2", "at least 0", ""),
    Bad("trays", "storage_days", "inf", "number", "blank"),
    Bad("trays", "storage_c", "59", "looks like °F", "15.0 °C"),
    Bad("trays", "storage_c", "-300", "at least -200", ""),
    Bad("trays", "storage_rh", "0.75", "share of one", "Write 75 for 75 %"),
    Bad("trays", "storage_rh", "101", "at most 100", ""),
    Bad("trays", "storage_rh", "75%", "number", "Write 75, without anything else"),
    Bad("trays", "tare_g", "-5", "at least 0", ""),
    Bad("trays", "weighed_on", "yesterday", "a day and a time", "like 2026-03-14"),
    Bad("lay", "eggs", "", "needs its eggs", ""),
    Bad("checks", "displayed_c", "99.5", "°F", "37.5 °C"),
    Bad("climate", "temperature_c", "-201", "at least -200", ""),
    Bad("diets", "protein_pct", "0.2", "share", "Write 20"),
    Bad("diets", "calcium_pct", "120", "at most 100", ""),
    Bad("targets", "target", "85", "at most 1", "as a share of one: 0.85"),
    Bad("targets", "measure", "hatch", "one of", "hatch_of_set"),
    Bad("incubator_events", "event", "powercut", "one of", "Did you mean power_cut"),
    Bad("opened_eggs", "class", "early", "one of", "early_dead"),
    Bad("opened_eggs", "malposition", "7", "at most 6", "1 to 6"),
    Bad("opened_eggs", "smell", "a bit", "yes or no", "not looked at"),
    Bad("shells", "specific_gravity", "108", "at most 1.3", ""),
    Bad("birds", "sex", "male", "one of", "m, f"),
    Bad("changes", "scope", "penn", "one of", "pen"),
]


@pytest.fixture(scope="module")
def found(shared_farm) -> dict[tuple[str, int, str], SheetProblem]:  # type: ignore[no-untyped-def]
    more: dict[str, list[dict[str, str]]] = {}
    for number, bad in enumerate(BAD, 10):
        right = {name: text.format(n=number) for name, text in RIGHT[bad.sheet].items()}
        more.setdefault(bad.sheet, []).append({**right, bad.column: bad.text})
    problems = shared_farm.small(**more).problems()
    return {(problem.sheet, problem.row, problem.column): problem for problem in problems}


def _row(bad: Bad, small_sheets: dict[str, list[object]]) -> int:
    before = [other for other in BAD[: BAD.index(bad)] if other.sheet == bad.sheet]
    return 2 + len(small_sheets.get(bad.sheet, [])) + len(before)


@pytest.mark.parametrize("bad", BAD, ids=str)
def test_bad_cell(bad: Bad, found, small_sheets) -> None:  # type: ignore[no-untyped-def]
    problem = found[bad.sheet, _row(bad, small_sheets), bad.column]
    assert bad.rule in problem.rule
    assert bad.repair in problem.repair
    assert bad.text[:50] in problem.given if bad.text else problem.given == "blank"


def test_nothing_else_is_reported(found, small_sheets) -> None:  # type: ignore[no-untyped-def]
    assert set(found) == {(bad.sheet, _row(bad, small_sheets), bad.column) for bad in BAD}


def test_a_rejected_first_load_leaves_no_file(found, shared_farm) -> None:  # type: ignore[no-untyped-def]
    assert found
    assert [path.name for path in shared_farm.store.parent.iterdir()] == ["sheets"]


GOOD = {
    "pens": [
        {"pen": " P1 ", "species": "Coturnix Quail", "from": "2026-3-4", "males": "2.0", "females": " 6 "},
        {"pen": "Ørn\u00a0", "species": "CHICKEN", "from": "2026/03/04", "to": "2026-03-05 00:00:00"},
        {"pen": "7", "species": "duck", "males": "+1", "notes": "two\nlines, and \"marks\""},
    ],
    "trays": [
        {"batch": "B1", "tray": "G1", "pen": "Rowan", "eggs_set": "40", "storage_c": "14.5",
         "storage_rh": "75", "weighed_on": "2026-03-15 07:05"},
    ],
    "opened_eggs": [
        {"batch": "B1", "tray": "G1", "egg": "1", "class": "Early dead", "smell": "Yes", "malformed": "0"},
    ],
    "climate": [
        {"incubator": "North", "at": f"2026-03-02T10:0{minute}", "temperature_c": text, "humidity_pct": wet}
        for minute, (text, wet) in enumerate(
            [("37.5", "45"), ("37.4", ""), ("37.6", "998"), ("-127", "-1"), ("85", ""), ("", "0"), ("61", "")]
        )
    ],
}  # fmt: skip


def test_odd_but_innocent_cells_are_taken(farm) -> None:  # type: ignore[no-untyped-def]
    farm.small(**GOOD)
    assert farm.load().kept
    pens = farm.ask('SELECT pen, species, "from", "to", males, notes FROM pens ORDER BY rowid OFFSET 3')
    assert [pen[:2] for pen in pens] == [("P1", "coturnix_quail"), ("Ørn", "chicken"), ("7", "duck")]
    assert [str(pen[2]) for pen in pens] == ["2026-03-04", "2026-03-04", "None"]
    assert [pen[4] for pen in pens] == [2, None, 1]
    assert pens[2][5] == 'two\nlines, and "marks"'
    assert farm.ask('SELECT "class", smell, malformed, dry_membrane FROM opened_eggs') == [
        ("early_dead", True, False, None)
    ]
    readings = farm.ask('SELECT temperature_c, humidity_pct FROM climate ORDER BY "at"')
    assert readings[3:6] == [(-127.0, -1.0), (85.0, None), (None, 0.0)]


@pytest.mark.parametrize(
    ("given", "meant"),
    [
        ("14/03/2026", ["2026-03-14"]),
        ("3/14/2026", ["2026-03-14"]),
        ("04-03-2026 10:00", ["2026-03-04", "2026-04-03"]),
        ("4.3.26", ["2026-03-04"]),
        ("31.31.2026", []),
        ("soon", []),
    ],
)
def test_days_meant(given: str, meant: list[str]) -> None:
    assert days_meant(given) == meant


@pytest.mark.parametrize("day", ["infinity", "-infinity"])
def test_no_day_is_infinite(kept, day: str) -> None:  # type: ignore[no-untyped-def]
    rows = [{"batch": "B9", "incubator": "North", "set_on": "2026-03-01T18:30", "transfer_on": day}]
    (problem,) = kept.problems(kept.write("batches", rows))
    assert problem.column == "transfer_on"
    assert "transfer_on is a day, or a day and a time" in problem.rule
    (problem,) = kept.problems(kept.write("lay", [{"pen": "Rowan", "on": day, "eggs": "3"}]))
    assert problem.column == "on"
