"""The SQL and the Python form of labels and keys agree, over every letter and over awkward labels."""

from __future__ import annotations

from datetime import date, datetime

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.errors import WrongUsage
from analytics.sheets.contract import BY_NAME, SHEETS, Kind
from analytics.sheets.keys import (
    key_sql,
    label_sql,
    normal_label,
    quoted,
    row_key,
    short_times,
    short_times_sql,
)

LABELS = st.text(st.characters(exclude_categories=("Cs", "Cn"), exclude_characters="\x00"), max_size=8)


@pytest.fixture(scope="module")
def engine() -> duckdb.DuckDBPyConnection:
    return duckdb.connect()


def _in_sql(engine: duckdb.DuckDBPyConnection, label: str) -> str:
    return engine.execute(f"SELECT {label_sql('x')} FROM (SELECT ?::VARCHAR AS x)", [label]).fetchone()[0]


def test_every_letter_is_lowered_alike(engine: duckdb.DuckDBPyConnection) -> None:
    """The first two planes: no script with capitals lies above them."""
    letters = [chr(code) for code in range(1, 0x20000) if not 0xD800 <= code <= 0xDFFF]
    rows = engine.execute(
        f"SELECT x, {label_sql('x')} FROM (SELECT unnest(?::VARCHAR[]) AS x)", [letters]
    ).fetchall()
    assert len(rows) == len(letters)
    assert [letter for letter, lowered in rows if normal_label(letter) != lowered] == []


@given(LABELS)
@settings(max_examples=200, deadline=None)
def test_labels_agree(engine: duckdb.DuckDBPyConnection, label: str) -> None:
    assert _in_sql(engine, label) == normal_label(label)


@pytest.mark.parametrize(
    ("one", "other"),
    [("Rowan", " rowan "), ("ÉRABLE", "e\u0301rable"), ("Pen\u00a07\u00a0", "pen\u00a07"), ("Ørn", "øRN")],
)
def test_labels_that_are_the_same(one: str, other: str) -> None:
    assert normal_label(one) == normal_label(other)


@given(st.tuples(LABELS, LABELS), st.tuples(LABELS, LABELS))
def test_different_keys_never_look_alike(one: tuple[str, str], other: tuple[str, str]) -> None:
    tray = BY_NAME["trays"]
    parts = [tuple(map(normal_label, pair)) for pair in (one, other)]
    if not all(all(pair) for pair in parts):
        return
    assert (row_key(tray, one) == row_key(tray, other)) == (parts[0] == parts[1])


@pytest.mark.parametrize(
    ("one", "other"), [(("a|", "b"), ("a", "|b")), (("a\\", "b"), ("a", "\\b")), (("a|b", "c"), ("a", "b|c"))]
)
def test_bars_inside_labels(one: tuple[str, str], other: tuple[str, str]) -> None:
    assert row_key(BY_NAME["trays"], one) != row_key(BY_NAME["trays"], other)


VALUES = {
    Kind.LABEL: " A|b\\É ",
    Kind.TEXT: "Some Thing",
    Kind.DAY: date(2026, 3, 4),
    Kind.MOMENT: datetime(2026, 3, 4, 18, 30, 5, 250_000),  # noqa: DTZ001 - sheets hold local time
    Kind.COUNT: 0,
    Kind.WHOLE: 12,
}


@pytest.mark.parametrize("sheet", SHEETS, ids=lambda sheet: sheet.name)
def test_keys_agree_on_every_sheet(engine: duckdb.DuckDBPyConnection, sheet) -> None:  # type: ignore[no-untyped-def]
    columns = [sheet.by_name[name] for name in sheet.key]
    values = [VALUES[column.kind] for column in columns]
    typed = ", ".join(f"?::{column.kind.sql} AS {quoted(column.name)}" for column in columns)
    row = engine.execute(f"SELECT {key_sql(sheet)} FROM (SELECT {typed})", values).fetchone()
    assert row[0] == row_key(sheet, values)


def test_a_date_and_its_midnight_are_one_key() -> None:
    climate = BY_NAME["climate"]
    keys = {row_key(climate, ["North", at]) for at in ("2026-03-14", "2026-03-14T00:00", date(2026, 3, 14))}
    assert keys == {"north|2026-03-14T00:00:00"}


def test_blank_part_that_may_be_blank() -> None:
    assert row_key(BY_NAME["hatch_counts"], ["B1", "", "2026-03-14T10:00"]) == "b1||2026-03-14T10:00:00"


@pytest.mark.parametrize("parts", [["B1"], ["B1", ""], ["B1", "T1", "x"]])
def test_wrong_parts_are_refused(parts: list[str]) -> None:
    with pytest.raises(WrongUsage):
        row_key(BY_NAME["trays"], parts)


def test_a_day_that_is_none_is_refused() -> None:
    with pytest.raises(WrongUsage, match="2026-03-14"):
        row_key(BY_NAME["lay"], ["Rowan", "14.3.2026"])


def test_times_are_shown_without_midnight_and_whole_minutes_without_seconds() -> None:
    text = "set 2026-03-01 00:00:00, out 2026-03-19 18:30:00, seen 2026-03-19 18:30:07, B1 00:00:00"
    shown = duckdb.execute(f"SELECT {short_times_sql('?')}", [text]).fetchall()
    assert shown == [("set 2026-03-01, out 2026-03-19 18:30, seen 2026-03-19 18:30:07, B1 00:00:00",)]
    assert short_times(text.replace(" 18", "T18").replace(" 00", "T00")) == shown[0][0].replace(
        "B1 00", "B1T00"
    )
