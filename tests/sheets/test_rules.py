"""Every rule within and between rows: rows that break it, beside rows that just do not."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

import pytest

from analytics.sheets.cross_rules import CROSS_RULES
from analytics.sheets.rules import ROW_RULES

Cells = dict[str, str]


def of(names: str, *lines: str) -> list[Cells]:
    """Rows under headings, cells parted by blanks; a point is a blank cell."""
    columns = names.split()
    return [
        dict(
            zip(
                columns,
                (cell.replace(".", "") if cell == "." else cell for cell in line.split()),
                strict=True,
            )
        )
        for line in lines
    ]


@dataclass(frozen=True)
class Broken:
    """What must be reported: where, and words of what stands there and of the rule."""

    sheet: str
    row: int
    column: str
    given: str
    rule: str

    def __str__(self) -> str:
        return f"{self.sheet}-{self.row}-{self.column}"


ROWS: dict[str, list[Cells]] = {
    "pens": of(
        "pen species from to hens_hatched_on",
        "P1 chicken 2026-01-02 2026-01-01 .",  # row 2
        "P2 chicken 2026-01-02 2026-01-02 2026-02-01",  # 3, hens hatched later: a warning
        "Rowan coturnix_quail . . .",
    ),
    "incubators": of("incubator", "North", "South"),
    "batches": of(
        "batch incubator hatcher set_on transfer_on pulled_on",
        "B1 North . 2026-03-01T18:30 2026-03-15 2026-03-19",  # row 2
        "B2 North . 2026-03-01T18:30 2026-03-01 .",  # 3: the hour of transfer is not written
        "B3 North . 2026-03-01T18:30 2026-03-01T18:29 .",  # 4
        "B4 North South 2026-03-01 2026-03-15 2026-03-14T20:00",  # 5
        "B5 North . 2026-03-01 . 2026-02-28",  # 6
        "B6 Nort Sout 2026-03-01 . .",  # 7
        "B7 North . 2026-03-01 2026-03-15 2026-03-15",  # 8
    ),
    "birds": of(
        "bird sex sire dam hatched_on",
        "M1 m . . 2025-01-01",  # row 2
        "F1 f . . 2025-01-01",
        "C1 f M1 F1 2025-06-01",
        "C2 f F1 . 2025-06-01",  # 5: sire female
        "C3 f . M1 2025-06-01",  # 6: dam male
        "C4 m M1 F1 2025-01-01",  # 7: not younger than its parents
        "C5 m M9 . .",  # 8: unknown
        "L1 m L2 . .",  # 9: loop of two
        "L2 m L1 . .",
        "S1 m S1 . .",  # 11: its own parent
    ),
    "pen_birds": of(
        "pen bird from to",
        "P1 M1 2026-01-01 2026-01-31",  # row 2
        "P2 M1 2026-02-01 .",  # the day after: right
        "P1 F1 2026-01-01 2026-01-31",
        "P2 F1 2026-01-31 .",  # 5: the last day is included
        "P1 C1 2026-01-01 .",
        "P2 C1 2026-05-01 2026-06-01",  # 7: the first is still there
        "P1 C2 2026-05-01 2026-04-01",  # 8
    ),
    "trays": [
        *of(
            "batch tray pen eggs_set hatched culled infertile not_opened laid_from laid_to storage_days",
            "B1 T1 Rowan 20 18 1 1 0 2026-02-20 2026-03-01 5",  # row 2: adds up, laid on the day it was set
            "B1 T2 Rowan 20 18 1 1 1 . . .",  # 3
            "B1 T3 Rowan 20 . . . . 2026-02-20 2026-02-19 .",  # 4
            "B1 T4 Rowan 20 . . . . . 2026-03-02 .",  # 5
            "B1 T5 Rowan 20 . . . . 2026-03-02 . .",  # 6
            "B1 T6 Rowan 20 . . . . 2026-02-20 2026-02-24 6",  # 7: 7 days; one day apart is right
            "B1 T7 Rowan 20 . . . . 2026-02-20 2026-02-24 5.9",  # 8: a warning
            "B1 T8 Rowen 20 . . . . . . .",  # 9
            "B9 T1 Rowan 20 . . . . . . .",  # 10
        ),
        *of(
            "batch tray pen eggs_set removed_at_candling weighed_set weighed_transfer"
            " candled_on opened_on weighed_on",
            "B1 U1 Rowan 20 20 20 20 2026-03-01 2026-03-19 2026-03-15",  # 11
            "B1 U2 Rowan 20 21 21 21 2026-02-28 2026-02-27 2026-02-26",  # 12
        ),
        *of(
            "batch tray pen eggs_set tare_g weight_set_g weight_transfer_g sire dam",
            "B1 V1 Rowan 20 300 500 450 M1 F1",  # 13
            "B1 V2 Rowan 20 300 290 280 F1 M1",  # 14
            "B1 V3 Rowan 20 300 450 500 . M8",  # 15: gained weight, a warning
        ),
        *of(
            "batch tray pen eggs_set hatched culled infertile",
            "B1 W1 Rowan 10 6 1 2",  # 16
            "B1 W2 Rowan 10 6 1 .",
            "B7 W1 Rowan 10 6 . .",
        ),
        *of("batch tray pen eggs_set hatched cracked", "B1 X1 Rowan 10 6 2"),  # 19: two eggs left to open
    ],
    "diets": of("pen from to", "Rowan 2026-01-02 2026-01-01", "Hazel 2026-01-02 ."),
    "changes": of(
        "changed_on scope target what",
        "2026-03-01 pen rowan feed",
        "2026-03-01 pen Rowam feed",  # 3
        "2026-03-01 incubator Rowan fan",  # 4
        "2026-03-01 storage Cellar cooler",
        "2026-03-01 pen . water",  # 6: a warning
    ),
    "hatch_counts": of(
        "batch tray counted_at out_so_far",
        "B1 W1 2026-03-18T08:00 3",  # row 2
        "B1 W1 2026-03-18T12:00 2",  # 3
        "B1 W1 2026-03-18T20:00 8",  # 4: more than hatched and culled, a warning
        "B1 W2 2026-03-18T20:00 11",  # 5: more than were set (and than hatched: a warning)
        "B7 . 2026-03-18T20:00 7",  # 6: more than hatched in the batch, a warning
        "B7 . 2026-03-18T21:00 11",  # 7
        "B1 W1 2026-02-28T20:00 0",  # 8
        "B1 W9 2026-03-18T20:00 0",  # 9
    ),
    "candlings": of(
        "batch tray on eggs clear dead cracked removed",
        "B1 W1 2026-03-10 10 5 5 0 10",
        "B1 W1 2026-03-11 10 5 5 1 11",  # 3
        "B1 W1 2026-02-28 11 . . . .",  # 4
    ),
    "opened_eggs": of(
        "batch tray egg class",
        "B1 W1 1 infertile",
        "B1 W1 2 infertile",
        "B1 W1 3 infertile",  # 4: three opened, two counted
        "B1 W2 1 infertile",
        "B1 W2 2 early_dead",
        "B1 W2 3 early_dead",
        "B1 W2 4 late_dead",  # 8: four opened, three left
        "B1 W2 5 hatched",
        "B1 X1 1 early_dead",  # 10
        "B1 X1 2 early_dead",
        "B1 X1 3 early_dead",  # 12: three opened, two left
    ),
    "fresh_eggs": of("pen opened_on eggs fertile", "Rowan 2026-03-01 5 5", "Rowan 2026-03-02 5 6"),
    "lay": of("pen on eggs set_aside", "Rowan 2026-03-01 5 5", "Rowan 2026-03-02 5 6"),
    "chicks": of("batch tray day alive dead", "B1 W1 7 7 0", "B1 W2 7 7 1"),
}

ERRORS = [
    Broken("pens", 2, "from, to", "from 2026-01-02, to 2026-01-01", "ends on or after its first day"),
    Broken("batches", 4, "set_on, transfer_on", "18:29", "transfer is not before the setting"),
    Broken("batches", 5, "transfer_on, pulled_on", "2026-03-14 20:00", "not pulled before the transfer"),
    Broken("batches", 6, "set_on, pulled_on", "set_on 2026-03-01, pulled_on 2026-02-28", "before the set"),
    Broken("batches", 7, "incubator", "incubator `Nort` is unknown", "names a row of incubators"),
    Broken("batches", 7, "hatcher", "incubator `Sout` is unknown", "names a row of incubators"),
    Broken("birds", 5, "sire", "F1, who is female", "A sire is male"),
    Broken("birds", 6, "dam", "M1, who is male", "A dam is female"),
    Broken("birds", 7, "sire", "C4 hatched on 2025-01-01, its sire M1", "hatched before its young"),
    Broken("birds", 7, "dam", "its dam F1", "hatched before its young"),
    Broken("birds", 8, "sire", "bird `M9` is unknown", "names a row of birds"),
    Broken("birds", 9, "sire, dam", "L1, whose parent is L2, whose parent is L1", "descends from itself"),
    Broken("birds", 11, "sire, dam", "S1, whose parent is S1", "No bird descends from itself"),
    Broken("pen_birds", 5, "from, to", "F1 in P1 from 2026-01-01 to 2026-01-31, and in P2", "pen at a time"),
    Broken("pen_birds", 7, "from, to", "C1 in P1 from 2026-01-01 on", "one pen at a time"),
    Broken("pen_birds", 8, "from, to", "to 2026-04-01", "ends on or after its first day"),
    Broken("trays", 3, "hatched, culled, infertile, not_opened, eggs_set",
           "hatched 18, culled 1, infertile 1, not_opened 1, eggs_set 20: 21 together", "add up to at most"),
    Broken("trays", 4, "laid_from, laid_to", "laid_to 2026-02-19", "on or after laid_from"),
    Broken("trays", 5, "laid_to", "tray T4 of batch B1: laid_to 2026-03-02, set on 2026-03-01", "laid"),
    Broken("trays", 6, "laid_from", "laid_from 2026-03-02", "laid before they are set"),
    Broken("trays", 9, "pen", "pen `Rowen` is unknown", "names a row of pens"),
    Broken("trays", 10, "batch", "batch `B9` is unknown", "names a row of batches"),
    Broken("trays", 12, "removed_at_candling, eggs_set", "removed_at_candling 21", "at most eggs_set"),
    Broken("trays", 12, "weighed_set, eggs_set", "weighed_set 21", "at most eggs_set"),
    Broken("trays", 12, "weighed_transfer, eggs_set", "weighed_transfer 21", "at most eggs_set"),
    Broken("trays", 12, "candled_on", "candled_on 2026-02-28", "candled after they were set"),
    Broken("trays", 12, "opened_on", "opened_on 2026-02-27", "opened after they were set"),
    Broken("trays", 12, "weighed_on", "weighed_on 2026-02-26", "weighed the second time after"),
    Broken("trays", 14, "tare_g, weight_set_g", "weight_set_g 290", "weighs more than the empty tray"),
    Broken("trays", 14, "tare_g, weight_transfer_g", "weight_transfer_g 280", "than the empty tray"),
    Broken("trays", 14, "sire", "the sire F1, who is female", "A sire is male"),
    Broken("trays", 14, "dam", "the dam M1, who is male", "A dam is female"),
    Broken("trays", 15, "dam", "bird `M8` is unknown", "names a row of birds"),
    Broken("diets", 2, "from, to", "to 2026-01-01", "ends on or after its first day"),
    Broken("diets", 3, "pen", "pen `Hazel` is unknown", "names a row of pens"),
    Broken("changes", 3, "target", "pen `Rowam` is unknown", "names a row of pens"),
    Broken("changes", 4, "target", "incubator `Rowan` is unknown", "names a row of incubators"),
    Broken("hatch_counts", 3, "out_so_far", "2 out, after 3 at 2026-03-18 08:00", "never become fewer"),
    Broken("hatch_counts", 5, "out_so_far", "11 out, eggs_set 10", "No more chicks come out"),
    Broken("hatch_counts", 7, "out_so_far", "batch B7: 11 out, eggs_set 10", "No more chicks come out"),
    Broken("hatch_counts", 8, "counted_at", "counted at 2026-02-28 20:00", "counted after the eggs were set"),
    Broken("hatch_counts", 9, "tray", "tray `W9` in batch B1 is unknown", "names a row of trays"),
    Broken("candlings", 3, "clear, dead, cracked, eggs", "cracked 1, eggs 10: 11 together", "add up"),
    Broken("candlings", 3, "removed, eggs", "removed 11, eggs 10", "at most eggs"),
    Broken("candlings", 4, "on", "candled on 2026-02-28", "candled after they were set"),
    Broken("candlings", 4, "eggs", "11 eggs looked at, eggs_set 10", "No more eggs are looked at"),
    Broken("opened_eggs", 4, "class", "3 infertile in opened_eggs, infertile 2 in trays", "tray counts"),
    Broken("opened_eggs", 8, "egg", "4 unhatched eggs opened, hatched 6, culled 1, eggs_set 10", "not hatch"),
    Broken("opened_eggs", 12, "egg", "hatched 6, cracked 2, eggs_set 10", "not hatch"),
    Broken("fresh_eggs", 3, "fertile, eggs", "fertile 6, eggs 5", "at most eggs"),
    Broken("lay", 3, "set_aside, eggs", "set_aside 6", "at most eggs"),
]  # fmt: skip

WARNINGS = [
    Broken("pens", 3, "hens_hatched_on, from", "hens_hatched_on 2026-02-01", "Hens hatch before"),
    Broken(
        "trays", 8, "storage_days, laid_from, laid_to", "storage_days 5.9, laid 2026-02-20", "to within a day"
    ),
    Broken("trays", 15, "weight_set_g, weight_transfer_g", "weight_transfer_g 500", "Eggs lose weight"),
    Broken("changes", 6, "scope", "scope pen", "names which"),
    Broken("hatch_counts", 4, "out_so_far", "8 out, hatched and culled 7", "hatched or culled"),
    Broken("hatch_counts", 5, "out_so_far", "11 out, hatched and culled 7", "hatched or culled"),
    Broken("hatch_counts", 6, "out_so_far", "7 out, hatched and culled 6", "hatched or culled"),
    Broken("hatch_counts", 7, "out_so_far", "11 out, hatched and culled 6", "hatched or culled"),
    Broken(
        "chicks", 3, "alive, dead", "alive 7, dead 1, hatched and culled 7", "no more chicks than hatched"
    ),
]


@pytest.fixture(scope="module")
def rejected(shared_farm):  # type: ignore[no-untyped-def]
    from analytics.sheets.load import LoadRejected

    for name, rows in ROWS.items():
        shared_farm.write(name, rows)
    with pytest.raises(LoadRejected) as caught:
        shared_farm.load()
    return caught.value


def _matching(broken: Broken, found) -> list:  # type: ignore[no-untyped-def, type-arg]
    return [
        problem
        for problem in found
        if (problem.sheet, problem.row, problem.column) == (broken.sheet, broken.row, broken.column)
        and broken.given in problem.given
        and broken.rule in problem.rule
    ]


@pytest.mark.parametrize("broken", ERRORS, ids=str)
def test_error(broken: Broken, rejected) -> None:  # type: ignore[no-untyped-def]
    (problem,) = _matching(broken, rejected.problems)
    assert problem.repair


@pytest.mark.parametrize("broken", WARNINGS, ids=str)
def test_warning(broken: Broken, rejected) -> None:  # type: ignore[no-untyped-def]
    (problem,) = _matching(broken, rejected.report.warnings)
    assert problem.repair


def test_nothing_else_is_reported(rejected) -> None:  # type: ignore[no-untyped-def]
    assert _places(rejected.problems) == _places(ERRORS)
    assert _places(rejected.report.warnings) == _places(WARNINGS)
    assert rejected.total == len(ERRORS)
    assert rejected.report.warnings_total == len(WARNINGS)


def _places(found: Iterable) -> list[tuple[str, int, str]]:  # type: ignore[type-arg]
    return sorted((one.sheet, one.row, one.column) for one in found)


def test_every_rule_is_broken_here(rejected) -> None:  # type: ignore[no-untyped-def]
    """So that a rule that is added gets its bad row, and one that never bites is seen."""
    told = {problem.rule for problem in (*rejected.problems, *rejected.report.warnings)}
    assert {rule.rule for rule in (*ROW_RULES, *CROSS_RULES)} <= told


@pytest.mark.parametrize(
    ("sheet", "row", "column"),
    [
        ("batches", {"batch": "B3", "incubator": "North", "set_on": "2026-05-14T08:00"}, "set_on"),
        ("batches", {"batch": "B1", "incubator": "North", "set_on": "2026-03-01", "pulled_on": "2062-03-19"},
         "pulled_on"),
        ("climate", {"incubator": "North", "at": "2062-03-01T10:00", "temperature_c": "37.5"}, "at"),
        ("lay", {"pen": "Rowan", "on": "2026-05-14", "eggs": "3"}, "on"),
    ],
)  # fmt: skip
def test_what_lies_far_ahead_is_refused(sheet: str, row: Cells, column: str, kept) -> None:  # type: ignore[no-untyped-def]
    # by the clock it is 1 April 2026; six weeks later is 13 May
    path = kept.write(sheet, [row])
    (problem,) = kept.problems(path, today=date(2026, 4, 1), accept_corrections=True)
    assert (problem.sheet, problem.row, problem.column) == (sheet, 2, column)
    assert "planned within six weeks" in problem.rule
    assert "today is 2026-04-01" in problem.repair


def test_what_is_planned_and_ends_of_periods_may_lie_ahead(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("batches", [{"batch": "B3", "incubator": "North", "set_on": "2026-05-13T20:00"}])
    kept.write("diets", [{"pen": "Rowan", "from": "2026-03-01", "to": "2030-12-31"}])
    kept.write("changes", [{"changed_on": "2026-09-01", "scope": "all", "what": "new feed"}])
    assert kept.load(today=date(2026, 4, 1)).added == 3


def test_what_is_in_the_store_is_not_refused_by_a_clock_that_is_wrong(kept) -> None:  # type: ignore[no-untyped-def]
    assert kept.load(today=date(1970, 1, 1)).unchanged == 10


def test_values_of_the_store_are_told_from_those_of_the_sheet(kept) -> None:  # type: ignore[no-untyped-def]
    tray = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "laid_to": "2026-03-02"}
    columns = ("batch", "tray", "pen", "eggs_set", "laid_to")
    (problem,) = kept.problems(kept.write("trays", [tray], columns), accept_corrections=True)
    assert problem.given == (
        "tray T1 of batch B1: laid_to 2026-03-02, set on 2026-03-01 18:30 (in the store)"
    )
    fewer = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "30"}
    (problem,) = kept.problems(kept.write("trays", [fewer], columns[:4]), accept_corrections=True)
    assert problem.given == "hatched 38 (in the store), culled 2 (in the store), eggs_set 30: 40 together"
    batch = {"batch": "B1", "incubator": "North", "set_on": "2026-03-20", "pulled_on": "2026-04-06"}
    count = {"batch": "B1", "tray": "T1", "counted_at": "2026-03-18T20:00", "out_so_far": "3"}
    kept.load(kept.write("hatch_counts", [count]))
    (problem,) = kept.problems(kept.write("batches", [batch]), accept_corrections=True)
    assert problem.given == "batch B1: counted at 2026-03-18 20:00 (in the store), set on 2026-03-20"


@pytest.mark.parametrize(
    ("sheet", "row", "near"),
    [("batches", 7, "incubator `North`"), ("trays", 9, "pen `Rowan`"), ("changes", 3, "pen `Rowan`")],
)
def test_a_near_name_is_offered(sheet: str, row: int, near: str, rejected) -> None:  # type: ignore[no-untyped-def]
    repairs = [
        p.repair for p in rejected.problems if (p.sheet, p.row) == (sheet, row) and "unknown" in p.given
    ]
    assert any(f"Did you mean {near}?" in repair for repair in repairs)
