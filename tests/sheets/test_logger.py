"""Logger files: their own headings, °F, their times, one machine for a file, units of whole loggers."""

from __future__ import annotations

from datetime import datetime

import openpyxl
import pytest

from analytics.errors import WrongUsage
from analytics.sheets.load import LoadRejected

ALIEN = "No.,Time,Temp(C),RH(%)\n1,2026-03-02 10:00:00,37.5,45.1\n2,2026-03-02 10:05:00,37.6,45.2\n"
MAPPING = {"at": "Time", "temperature_c": "Temp(C)", "humidity_pct": "RH(%)"}


def _readings(farm) -> list[tuple[str, str, float, float]]:  # type: ignore[no-untyped-def]
    return farm.ask(
        "SELECT incubator, strftime(\"at\", '%Y-%m-%dT%H:%M:%S'), temperature_c, humidity_pct"
        ' FROM climate ORDER BY "at"'
    )


def test_other_headings_after_a_mapping(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("log 7.csv", ALIEN)
    report = kept.load(path, mapping=MAPPING, incubator="north")
    assert report.added_by_sheet == {"climate": 2}
    assert _readings(kept) == [
        ("North", "2026-03-02T10:00:00", 37.5, 45.1),
        ("North", "2026-03-02T10:05:00", 37.6, 45.2),
    ]
    assert kept.ask("SELECT row_key FROM climate ORDER BY row_key LIMIT 1") == [
        ("north|2026-03-02T10:00:00",)
    ]
    assert [warning.column for warning in report.warnings] == ["No."]


def test_a_machine_in_a_column(kept) -> None:  # type: ignore[no-untyped-def]
    text = "Device;Zeit;Temp\nSouth;2026-03-02 10:00;37,5\nNorth;2026-03-02 10:00;37,4\n"
    path = kept.text("log.txt", text)
    kept.load(path, mapping={"incubator": "device", "at": "ZEIT", "temperature_c": "Temp"})
    assert sorted(_readings(kept)) == [
        ("North", "2026-03-02T10:00:00", 37.4, None),
        ("South", "2026-03-02T10:00:00", 37.5, None),
    ]


def test_lines_above_the_headings(kept) -> None:  # type: ignore[no-untyped-def]
    above = "Serial,12345\nInterval,300 s, from,to\n\n"
    path = kept.text("log.csv", above + ALIEN + "3,2026-03-02 25:00:00,37.6,45.2\n")
    (problem,) = kept.problems(path, mapping=MAPPING, incubator="north")
    assert (problem.row, problem.column) == (7, "at")
    path.write_text(above + ALIEN)
    assert kept.load(path, mapping=MAPPING, incubator="north").added == 2


def test_a_workbook_of_a_logger(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    book = openpyxl.Workbook()
    for row in (["Log of a machine"], ["Time", "Temp(C)"], [datetime(2026, 3, 2, 10), 37.5]):  # noqa: DTZ001
        book.active.append(row)
    book.save(tmp_path / "log.xlsx")
    mapping = {"at": "Time", "temperature_c": "Temp(C)"}
    kept.load(tmp_path / "log.xlsx", mapping=mapping, incubator="South")
    assert _readings(kept) == [("South", "2026-03-02T10:00:00", 37.5, None)]


def test_fahrenheit(kept) -> None:  # type: ignore[no-untyped-def]
    text = "at,temperature_c\n2026-03-02,99.5\n2026-03-03,100.2\n2026-03-04,-196.6\n"
    kept.load(kept.text("climate.csv", text), fahrenheit=True, incubator="North")
    assert [reading[2] for reading in _readings(kept)] == [37.5, 37.8889, -127.0]


def test_fahrenheit_taken_for_celsius_is_refused(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("climate.csv", "at,temperature_c\n2026-03-02,99.5\n2026-03-03,100.2\n2026-03-04,85\n")
    (problem,) = kept.problems(path, incubator="North")
    assert (problem.sheet, problem.column) == ("climate", "temperature_c")
    assert "looks like °F" in problem.rule
    assert "--fahrenheit" in problem.repair


def test_celsius_taken_for_fahrenheit_is_refused(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("climate.csv", "at,temperature_c\n2026-03-02,37.5\n2026-03-03,37.6\n")
    (problem,) = kept.problems(path, incubator="North", fahrenheit=True)
    assert problem.repair == "Load it without --fahrenheit"


def test_a_cold_machine_is_a_cold_machine(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("climate.csv", "at,temperature_c\n2026-03-02,4\n2026-03-03,3\n")
    assert kept.load(path, incubator="North").added == 2


def test_humidity_as_a_share_is_refused(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("climate.csv", "at,humidity_pct\n2026-03-02,0.45\n2026-03-03,0.5\n")
    (problem,) = kept.problems(path, incubator="North")
    assert "share of one" in problem.rule


TIMES = {
    "day first, dots": (["14.03.2026 18:30", "02.03.2026 7:05"], "day first"),
    "day first, seconds": (["14/03/2026 18:30:15", "02/03/2026 07:05:00"], "day first"),
    "dots alone": (["04.03.2026 18:30"], "day first"),
    "month first, afternoon": (["3/14/2026 6:30:00 PM", "3/2/2026 7:05:00 AM"], "month first"),
}


@pytest.mark.parametrize(("times", "order"), TIMES.values(), ids=TIMES)
def test_times_that_are_certain_are_read_and_told(times: list[str], order: str, kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("log.csv", "at,temperature_c\n" + "".join(f"{time},37.5\n" for time in times))
    report = kept.load(path, incubator="North")
    assert order in report.warnings[0].given
    days = [reading[1][:10] for reading in _readings(kept)]
    assert days[-1] in ("2026-03-14", "2026-03-04")
    if len(times) > 1:
        assert days == ["2026-03-02", "2026-03-14"]
        assert [reading[1][11:16] for reading in _readings(kept)] == ["07:05", "18:30"]


@pytest.mark.parametrize(
    ("times", "word"),
    [
        (["04/03/2026 18:30", "05/03/2026 18:30"], "whichever is meant"),
        (["14/03/2026 18:30", "3/14/2026 18:30"], "Write 2026-03-14"),
        (["2026-03-14T18:30Z"], "Write local time"),
        (["2026-03-14 18:30:00+01:00"], "Write local time"),
        (["2026-03-14 06:30 PM"], "Write local time"),
    ],
)
def test_times_that_are_not_certain_are_refused(times: list[str], word: str, kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.text("log.csv", "at,temperature_c\n" + "".join(f"{time},37.5\n" for time in times))
    problems = kept.problems(path, incubator="North")
    assert len(problems) == len(times)
    assert word in problems[0].repair


def test_files_that_overlap_count_once(kept) -> None:  # type: ignore[no-untyped-def]
    text = "at,temperature_c\n2026-03-02T10:00,37.5\n2026-03-02T10:00,37.5\n2026-03-02T10:05,37.5\n"
    report = kept.load(kept.text("log.csv", text), incubator="North")
    assert (report.added, report.warnings[0].given) == (
        2,
        "1 reading stood there before, with the same values",
    )


def test_two_readings_of_one_time_are_refused(kept) -> None:  # type: ignore[no-untyped-def]
    text = "at,temperature_c\n2026-10-25T02:30,37.5\n2026-10-25T02:30,37.9\n"
    (problem,) = kept.problems(kept.text("log.csv", text), incubator="North")
    assert (problem.row, problem.given) == (3, "`North, 2026-10-25T02:30:00`, as in row 2")
    assert "summer time" in problem.repair


def test_an_unknown_machine_is_refused(kept) -> None:  # type: ignore[no-untyped-def]
    (problem,) = kept.problems(kept.text("log.csv", ALIEN), mapping=MAPPING, incubator="Nort")
    assert (problem.row, problem.given) == (0, "incubator `Nort` is unknown")
    assert problem.repair.startswith("Did you mean incubator `North`? Give its label with --incubator")


def test_an_unknown_machine_within_the_file_is_named_row_by_row(kept) -> None:  # type: ignore[no-untyped-def]
    text = "incubator,at,temperature_c\nNort,2026-03-02T10:00,37.5\nNort,2026-03-02T11:00,37.5\n"
    problems = kept.problems(kept.text("climate.csv", text))
    assert [problem.row for problem in problems] == [2, 3]


def test_a_mapping_to_a_heading_that_is_not_there(kept) -> None:  # type: ignore[no-untyped-def]
    mapping = {**MAPPING, "at": "Date"}
    problems = kept.problems(kept.text("log.csv", ALIEN), mapping=mapping, incubator="North")
    assert "There is no heading `date` in the file" in {problem.given for problem in problems}
    assert "Its headings are: No., Time, Temp(C), RH(%)" in {problem.repair for problem in problems}


def test_an_incubator_beside_a_column_of_machines(kept) -> None:  # type: ignore[no-untyped-def]
    text = "incubator,at,temperature_c\nSouth,2026-03-02T10:00,37.5\n"
    (problem,) = kept.problems(kept.text("log.csv", text), incubator="North")
    assert problem.given == "The column stands there 2 times"


@pytest.mark.parametrize(
    ("mapping", "incubator"),
    [
        ({"temp": "Temp(C)"}, None),
        ({"incubator": "Device"}, "North"),
        ({"at": "T", "temperature_c": "t"}, None),
    ],
)
def test_mappings_that_cannot_be_meant(mapping: dict[str, str], incubator: str | None, kept) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage):
        kept.load(kept.text("log.csv", ALIEN), mapping=mapping, incubator=incubator)


def test_a_mapping_leaves_other_sheets_alone(kept) -> None:  # type: ignore[no-untyped-def]
    kept.text("climate.csv", ALIEN)
    report = kept.load(mapping=MAPPING, incubator="South")
    assert report.added_by_sheet == {"climate": 2}
    assert report.unchanged == 10


def test_many_readings_at_once(kept) -> None:  # type: ignore[no-untyped-def]
    lines = "".join(
        f"2026-03-{day:02d} {hour:02d}:{minute:02d}:{second:02d},37.5\n"
        for day in range(1, 20)
        for hour in range(24)
        for minute in range(60)
        for second in (0, 30)
    )
    path = kept.text("log.csv", "Time,Temp(C)\n" + lines)
    mapping = {"at": "Time", "temperature_c": "Temp(C)"}
    assert kept.load(path, mapping=mapping, incubator="North").added == 19 * 24 * 60 * 2
    path.write_text("Time,Temp(C)\n" + lines + "2026-03-20 25:00:00,37.5\n")
    with pytest.raises(LoadRejected) as rejected:
        kept.load(path, mapping=mapping, incubator="North")
    assert [problem.row for problem in rejected.value.problems] == [19 * 24 * 60 * 2 + 2]
