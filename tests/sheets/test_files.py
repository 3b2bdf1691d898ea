"""Files as spreadsheets and people write them: these hold the same rows, those are refused with a word."""

from __future__ import annotations

import pytest

from analytics.errors import WrongUsage
from analytics.sheets.report import LoadRejected

PENS = 'pen,species,males,notes\nElder,chicken,2,first\nØrn,duck,,"second, æøå"\n'
ROWS = [("Elder", "chicken", 2, "first"), ("Ørn", "duck", None, "second, æøå")]


def _semicolons(text: str) -> str:
    return text.replace('"second, æøå"', "second# æøå").replace(",", ";").replace("#", ",")


TURNED = 'notes,males,species,pen\nfirst,2,chicken,Elder\n"second, æøå",,duck,Ørn\n'
QUOTED = '"pen","species","males","notes"\n"Elder","chicken","2","first"\n"Ørn","duck","","second, æøå"\n'
INNOCENT = {
    "byte order mark": PENS.encode("utf-8-sig"),
    "windows lines": PENS.replace("\n", "\r\n").encode(),
    "old mac lines": PENS.replace("\n", "\r").encode(),
    "mixed lines": PENS.replace("\n", "\r\n", 1).encode(),
    "no last line end": PENS.rstrip("\n").encode(),
    "windows letters": PENS.encode("cp1252"),
    "utf-16": PENS.encode("utf-16"),
    "utf-16 without mark": PENS.encode("utf-16-le"),
    "semicolons": _semicolons(PENS).encode(),
    "tabs": PENS.replace(',"second, æøå"', "#").replace(",", "\t").replace("#", "\tsecond, æøå").encode(),
    "announced delimiter": ("sep=;\r\n" + _semicolons(PENS)).encode(),
    "blank lines": PENS.replace("\n", "\n\n").encode(),
    "blank lines before": ("\n\n" + PENS).encode(),
    "a title above": ("What I keep,,,\n" + PENS).encode(),
    "lines of commas": (PENS.replace("\n", "\n,,,\n") + ",,,\n , ,\u00a0,\t\n").encode(),
    "trailing columns": "\n".join(line + ",," for line in PENS.splitlines()).encode(),
    "one cell more, blank": PENS.replace(",first", ",first,").encode(),
    "headings in capitals": PENS.replace("pen,species", "Pen, SPECIES ", 1).encode(),
    "columns in another order": TURNED.encode(),
    "quoted": QUOTED.encode(),
}  # fmt: skip


@pytest.mark.parametrize("content", INNOCENT.values(), ids=INNOCENT)
def test_innocent_files_hold_the_same(content: bytes, kept) -> None:  # type: ignore[no-untyped-def]
    report = kept.load(kept.text("pens.csv", content))
    assert (report.added, report.ignored) == (2, ())
    assert kept.ask("SELECT pen, species, males, notes FROM pens ORDER BY rowid OFFSET 3") == ROWS


def test_a_letter_of_another_encoding_far_down(kept) -> None:  # type: ignore[no-untyped-def]
    lines = [f"P{number},chicken\n" for number in range(20_000)]
    kept.load(kept.text("pens.csv", ("pen,species\n" + "".join(lines) + "Ørn,duck\n").encode("cp1252")))
    assert kept.ask("SELECT pen FROM pens WHERE species = 'duck'") == [("Ørn",)]


def test_short_rows_end_in_blanks(kept) -> None:  # type: ignore[no-untyped-def]
    assert kept.load(kept.text("pens.csv", "pen,species,line,males\nElder,chicken\nAsh,duck,,3\n")).added == 2
    assert kept.ask("SELECT pen, males FROM pens ORDER BY rowid OFFSET 3") == [("Elder", None), ("Ash", 3)]


def test_decimal_commas_where_semicolons_part(kept) -> None:  # type: ignore[no-untyped-def]
    kept.load(kept.text("shells.csv", "pen;sampled_on;eggs;thickness_mm\nRowan;2026-03-02;5;0,21\n"))
    assert kept.ask("SELECT eggs, thickness_mm FROM shells") == [(5, 0.21)]


def test_a_thousand_with_a_comma_is_no_one(kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("pens.csv", "pen;species;males\nElder;chicken;1,500\n"))
    assert (problem.row, problem.column, problem.repair) == (2, "males", "Write 1500, without a separator")


ROW_NUMBERS = {
    "plain": ("pen,species\nA,chicken\nB,griffin\n", 3),
    "blank lines": ("pen,species\n\n\nA,chicken\n\nB,griffin\n", 6),
    "blank lines, windows": ("pen,species\r\n\r\nA,chicken\r\n\r\nB,griffin\r\n", 5),
    "line of commas": ("pen,species\n,\nB,griffin\n", 3),
    "break in a cell": ('pen,species,notes\nA,chicken,"one\n\ntwo"\nB,griffin,\n', 3),
    "heading further down": ("\n\npen,species\nA,chicken\nB,griffin\n", 5),
    "rewritten": ("pen,species,line\nA,chicken\n\nB,griffin\n", 4),
    "utf-16": ("pen,species\n\nA,chicken\nB,griffin\n".encode("utf-16"), 4),
    "blank with blanks": ("pen,species\n  \nA,chicken\n\nB,griffin\n", 5),
}


@pytest.mark.parametrize(("content", "row"), ROW_NUMBERS.values(), ids=ROW_NUMBERS)
def test_rows_are_numbered_as_a_spreadsheet_shows_them(content, row: int, kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("pens.csv", content))
    assert (problem.row, problem.column) == (row, "species")


def test_the_other_row_is_numbered_too(kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("pens.csv", "pen,species\n\nA,chicken\n\nB,duck\n\na,duck\n"))
    assert (problem.row, problem.given) == (7, "`a`, as in row 3")


def test_two_files_of_one_sheet(kept) -> None:  # type: ignore[no-untyped-def]
    more = kept.sheets / "more"
    more.mkdir()
    one = kept.text("pens.csv", "pen,species\nElder,chicken\n\nA,griffin\n")
    (more / "Pens.CSV").write_text("species,pen\nchicken,Ash\n\n\ngriffin,B\n")
    problems = kept.problems(one, more)
    assert [(problem.row, problem.column) for problem in problems] == [(4, "species"), (5, "species")]
    one.write_text("pen,species\nElder,chicken\n")
    (more / "Pens.CSV").write_text("species,pen\nchicken,Ash\n")
    assert kept.load(one, more).added == 2


REFUSED = {
    "a quotation mark not closed": ('pen,species,notes\nA,chicken,"open\nB,duck,\n', 2, "quotation marks"),
    "a letter after a quotation mark": (
        'pen,species,notes\nA,chicken,"open"x\nB,duck,\n',
        2,
        "quotation marks",
    ),
    "more cells than headings": ("pen,species\nA,chicken\nB,duck,why\n", 3, "under a heading"),
    "zero bytes": (b"pen,species\nA,\0\0chicken\n", 0, "CSV file in UTF-8"),
    "a cell that is too long": ("pen,species,notes\nA,duck,\nB,duck," + "x" * 200_000, 3, "too long"),
    "an endless line": ("pen,species\nA,chicken\nB," + "x" * 3_000_000 + "\n", 3, "at most 131072 letters"),
}


@pytest.mark.parametrize(("content", "row", "rule"), REFUSED.values(), ids=REFUSED)
def test_files_that_cannot_be_read(content, row: int, rule: str, kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("pens.csv", content))
    assert (problem.sheet, problem.row) == ("pens", row)
    assert rule in problem.rule
    assert problem.repair


def test_a_column_that_is_missing(kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("pens.csv", "pen,speceis\nElder,chicken\n"))
    assert (problem.sheet, problem.row, problem.column) == ("pens", 1, "species")
    assert "Did you mean the heading `speceis`?" in problem.repair


def test_a_column_twice(kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("pens.csv", "pen,species,males,Males\nElder,chicken,1,2\n"))
    assert (problem.column, problem.given) == ("males", "The column stands there 2 times")


def test_columns_that_are_not_read_are_named(kept) -> None:  # type: ignore[no-untyped-def]
    text = "pen,species,femals,weather,\nElder,chicken,5,sunny,x\nAsh,duck,,,\n"
    report = kept.load(kept.text("pens.csv", text))
    told = {warning.column: warning for warning in report.warnings}
    assert set(told) == {"femals", "weather", "column 5"}
    assert "Did you mean females?" in told["femals"].repair
    assert told["column 5"].given.startswith("1 cell in a column without a heading")
    assert report.added == 2


def test_files_that_are_not_read_are_named(kept) -> None:  # type: ignore[no-untyped-def]
    for path in kept.sheets.iterdir():
        path.unlink()
    kept.write("pens", [{"pen": "Elder", "species": "chicken"}])
    for name in ("tray.csv", "shopping.csv", "picture.png", ".hidden.csv", "~$pens.xlsx", "how_to_fill.txt"):
        kept.text(name, "x\n")
    ignored = kept.load().ignored
    assert ignored == (
        "picture.png: penwise reads .csv and .xlsx",
        "shopping: no record sheet has this name",
        "tray: no record sheet has this name; did you mean trays?",
    )


def test_no_record_sheet_at_all(kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("tray.csv", "x\n"))
    assert "No record sheet was found" in problem.given
    assert "did you mean trays?" in problem.given


@pytest.mark.parametrize(
    ("name", "sheet"),
    [
        ("Pens (1)", "pens"),
        ("pens - Kopie", "pens"),
        ("Copy of pens", "pens"),
        ("Pen Birds (2)", "pen_birds"),
        ("pen_birds-2026", "pen_birds"),
        ("trays final", "trays"),
    ],
)
def test_copies_and_downloads_are_named_with_what_they_look_like(name: str, sheet: str, kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": "Elder", "species": "chicken"}])
    kept.text(f"{name}.csv", "pen,species\nAspen,chicken\n")
    report = kept.load()
    assert report.added_by_sheet == {"pens": 1}
    assert report.ignored == (
        f"{name}: looks like the sheet {sheet}; if it is, name it {sheet} and nothing else",
    )


def test_a_word_that_only_begins_like_a_sheet_is_no_copy_of_it(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": "Elder", "species": "chicken"}])
    kept.text("layers.csv", "x\n")
    assert kept.load().ignored == ("layers: no record sheet has this name",)


@pytest.mark.parametrize("name", ["Pens.csv", "PENS.TXT", "pens.tsv"])
def test_names_of_files(name: str, kept) -> None:  # type: ignore[no-untyped-def]
    assert kept.load(kept.text(name, "pen,species\nElder,chicken\n")).added == 1


def test_names_of_files_with_blanks(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("Fresh Eggs.csv", "pen,opened_on,eggs,fertile\nRowan,2026-03-02,5,4\n")
    assert kept.load(path).added_by_sheet == {"fresh_eggs": 1}


def test_names_of_files_that_look_like_patterns(kept) -> None:  # type: ignore[no-untyped-def]
    folder = kept.sheets / "set[1]*"
    folder.mkdir()
    (folder / "pens.csv").write_text("pen,species\nElder,chicken\n")
    assert kept.load(folder).added == 1


@pytest.mark.parametrize("text", ["", "\n\n", "pen,species\n"])
def test_a_sheet_without_rows_is_nothing(text: str, kept) -> None:  # type: ignore[no-untyped-def]
    report = kept.load(kept.text("pens.csv", text))
    assert (report.added, report.unchanged, report.kept) == (0, 0, False)


def test_a_path_that_is_not_there(kept) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage):
        kept.load(kept.sheets / "gone")


def test_a_cell_that_looks_like_sql_is_text(kept) -> None:  # type: ignore[no-untyped-def]
    label = "x'); DROP TABLE pens; --"
    kept.write("pens", [{"pen": label, "species": "chicken", "notes": "{t.pen}"}])
    kept.load(kept.sheets / "pens.csv")
    assert kept.ask("SELECT notes FROM pens WHERE pen = ?", label) == [("{t.pen}",)]


@pytest.mark.parametrize("letter", ["x", ",", '"'])
def test_a_line_that_no_buffer_holds_is_refused_and_not_passed_over(kept, letter: str) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("pens.csv", "pen,species\nHolly,duck\nIvy," + letter * 34_000_000)
    (problem,) = kept.problems(path)
    assert "It holds a line of more than two million letters" in problem.given


def test_after_so_many_faults_no_more_is_read(kept) -> None:  # type: ignore[no-untyped-def]
    rows = "".join(f"Ivy {number},duck,7\n" for number in range(10_500))
    path = kept.text("pens.csv", f"pen,species\n{rows}")
    with pytest.raises(LoadRejected) as rejected:
        kept.load(path)
    told = [one for one in rejected.value.problems if "was not read" in one.given]
    assert [(one.row, one.given, one.rule) for one in told] == [
        (10_001, "From here on pens.csv was not read", "10,000 faults are enough")
    ]
    assert rejected.value.total == 10_001


def test_a_heading_with_quotation_marks_within_passes_over_no_row(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("fresh_eggs.csv", 'pen,""opened_on,eggs,fertile\r\n"Rowan,2026-03-03,10,9"\n')
    (problem,) = kept.problems(path)
    assert "From here on fresh_eggs.csv cannot be read" in problem.given
    path = kept.text("fresh_eggs.csv", '"pen","opened_on",eggs,"fertile"\r\n"Rowan",2026-03-03,10,9\n')
    assert kept.load(path).added == 1


def test_a_byte_that_is_no_letter_in_a_column_that_is_not_read(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("pens.csv", b"\xef\xbb\xbfpen,species,mine\xff\nIvy,dodo,x\n")
    (problem,) = kept.problems(path)
    assert problem.row == 2


def test_a_row_of_many_long_cells_is_refused(kept) -> None:  # type: ignore[no-untyped-def]
    cell = "\U0001f425" * 100_000
    path = kept.text("pens.csv", f"\npen,species,{','.join('abcdef')}\nIvy,duck,{','.join([cell] * 6)}\n")
    problems = kept.problems(path)
    assert any(
        "longer than two million letters" in p.given or "more than two million" in p.given for p in problems
    )
