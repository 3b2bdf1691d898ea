"""The page of records: bad sheets are named place by place, right ones are kept only after a yes."""

from __future__ import annotations

import csv
import html
import io
import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from analytics.sheets.contents import store_contents
from dashboard import words

Rows = Sequence[Mapping[str, object]]
PENS: Rows = [{"pen": "A", "species": "chicken"}]
INCUBATORS: Rows = [{"incubator": "North"}]
BATCHES: Rows = [
    {"batch": "b1", "incubator": "North", "set_on": "2026-01-01", "pulled_on": "2026-01-23"},
]
TRAYS: Rows = [
    {"batch": "b1", "tray": "1", "pen": "A", "eggs_set": 30, "hatched": 20, "infertile": 5, "late_dead": 5},
]


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    st.cache_data.clear()
    path = tmp_path / "own.duckdb"
    monkeypatch.setenv("PENWISE_STORE", str(path))
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)
    return path


def _sheet(name: str, rows: Rows) -> tuple[str, bytes, str]:
    text = io.StringIO()
    table = csv.DictWriter(text, list(rows[0]))
    table.writeheader()
    table.writerows(rows)
    return f"{name}.csv", text.getvalue().encode(), "text/csv"


def _whole(trays: Rows = TRAYS) -> list[tuple[str, bytes, str]]:
    named = {"pens": PENS, "incubators": INCUBATORS, "batches": BATCHES, "trays": trays}
    return [_sheet(name, rows) for name, rows in named.items()]


def _records() -> None:
    from dashboard.pages import records

    records.show()


def _page() -> AppTest:
    page = AppTest.from_function(_records, default_timeout=30).run()
    assert not page.exception
    return page


def _bring(page: AppTest, files: list[tuple[str, bytes, str]]) -> AppTest:
    page.file_uploader[0].set_value(files).run()
    assert not page.exception
    return page


def _text(page: AppTest) -> str:
    bodies = " ".join(piece.proto.body for piece in page.get("html"))
    return html.unescape(re.sub(r"<[^>]+>", " ", bodies)).replace("\N{NO-BREAK SPACE}", " ")


def _labels(page: AppTest) -> list[str]:
    return [button.label for button in page.button]


def test_an_empty_store_says_so_and_offers_empty_sheets(store: Path) -> None:
    page = _page()
    assert [title.value for title in page.title] == [words.PAGE_RECORDS]
    assert words.STORE_EMPTY in _text(page)
    assert str(store) in _text(page)
    assert not store.exists()
    labels = [button.proto.label for button in page.get("download_button")]
    assert labels == [words.BLANK_WORKBOOK, words.BLANK_TABLES]


def test_right_sheets_are_kept_only_after_a_yes(store: Path) -> None:
    page = _bring(_page(), _whole())
    assert "4 rows would be added" in _text(page)
    assert not store.exists()
    page.button[0].click().run()
    assert not page.exception
    assert "4 rows added" in _text(page)
    assert store_contents(store).rows["trays"] == 1
    assert "eggs of one pen and one storage group" in _text(page)


def test_bad_sheets_are_named_place_by_place_and_nothing_is_kept(store: Path) -> None:
    bad = [{**TRAYS[0], "hatched": 28}, {**TRAYS[0], "tray": "2", "pen": "Z"}]
    page = _bring(_page(), _whole(bad))
    text = _text(page)
    assert words.REJECTED_HEADING in text
    assert "2 problems in the sheets" in text
    assert "trays, row 2, " in text
    assert "eggs_set" in text
    assert "trays, row 3, pen" in text
    assert "Z" in text
    assert words.KEEP not in _labels(page)
    assert "trays, row 3, pen" in page.code[0].value
    assert not store.exists()


def test_a_download_of_another_name_is_named_beside_the_problems(store: Path) -> None:
    *others, (_, content, kind) = _whole()
    page = _bring(_page(), [*others, ("trays (1).csv", content, kind)])
    text = _text(page)
    assert words.REJECTED_HEADING in text
    assert "trays (1): looks like the sheet trays; if it is, name it trays and nothing else" in text


def test_a_correction_is_shown_and_kept_only_after_a_yes(store: Path) -> None:
    page = _bring(_page(), _whole())
    page.button[0].click().run()
    page = _bring(_page(), [_sheet("trays", [{**TRAYS[0], "hatched": 21, "late_dead": 4}])])
    text = _text(page)
    assert words.CORRECTIONS_HEADING in [header.value for header in page.subheader]
    assert re.search(r"trays, row 2, hatched\s+20\s+21", text)
    assert _labels(page) == [words.KEEP_CORRECTED]
    page.button[0].click().run()
    assert "0 rows added, 1 corrected" in _text(page)
    assert store_contents(store).entries[0].corrected == 1


def test_the_same_sheets_again_change_nothing(store: Path) -> None:
    page = _bring(_page(), _whole())
    page.button[0].click().run()
    page = _bring(_page(), _whole())
    assert words.NOTHING_NEW in _text(page)
    assert _labels(page) == []
    assert len(store_contents(store).entries) == 1


@pytest.mark.parametrize("name", ["../../trays.csv", "..\\..\\trays.csv", "/etc/trays.csv"])
def test_a_file_name_leads_nowhere_else(store: Path, name: str) -> None:
    whole = _whole()
    page = _bring(_page(), [*whole[:3], (name, *whole[3][1:])])
    assert "4 rows would be added" in _text(page)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("trays.csv", b"\x00\x01\x02\xff\xfe" * 100),
        ("trays.xlsx", b"PK\x03\x04 no workbook"),
        ("letter.csv", b"dear,neighbour\n1,2\n"),
        ("trays.csv", b""),
        ("trays.csv", b"batch,tray,pen,eggs_set\n<script>alert(1)</script>,1,A,x\n"),
    ],
    ids=["bytes", "broken workbook", "letter", "empty", "script"],
)
def test_strange_files_are_refused_in_words(store: Path, name: str, content: bytes) -> None:
    page = _bring(_page(), [(name, content, "")])
    assert words.REJECTED_HEADING in _text(page)
    assert "<script>" not in " ".join(piece.proto.body for piece in page.get("html"))
    assert not store.exists()


def test_a_loggers_file_is_read_with_its_own_headings(store: Path) -> None:
    page = _bring(_page(), _whole())
    page.button[0].click().run()
    page = _page()
    page.selectbox[0].select("North")
    page.text_input("logger at").input("Time")
    page.text_input("logger temperature_c").input("Temp(F)")
    page.checkbox[0].check()
    readings = b"Time,Temp(F)\n2026-01-02T08:00,99.5\n2026-01-02T09:00,99.6\n"
    page = _bring(page, [("log 7.csv", readings, "text/csv")])
    assert "2 rows would be added" in _text(page)
    page.button[0].click().run()
    assert store_contents(store).rows["climate"] == 2


def test_one_heading_for_two_columns_is_refused_in_words(store: Path) -> None:
    page = _page()
    page.text_input("logger at").input("Time")
    page.text_input("logger temperature_c").input("Time").run()
    assert not page.exception
    assert "One heading mapped to two columns" in _text(page)
