"""The page of records looking back: what was changed, one row, setting it aside and bringing it back."""

from __future__ import annotations

import html
import re
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from analytics.sheets.load import load
from analytics.store.connection import change_count, reading
from dashboard import intake, words, words_records

SHEETS = {
    "pens": "pen,species\nRowan,chicken\n",
    "incubators": "incubator\nNorth\n",
    "batches": "batch,incubator,set_on,pulled_on\nB1,North,2026-01-01,2026-01-23\n",
    "trays": "batch,tray,pen,eggs_set,hatched\nB1,T1,Rowan,30,20\nB1,T2,Rowan,30,21\n",
}
T1 = ("B1", "T1")


@pytest.fixture
def store(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two trays, one of them corrected from 20 to 19 hatched."""
    st.cache_data.clear()
    for name, text in SHEETS.items():
        (tmp_path / f"{name}.csv").write_text(text)
    path = tmp_path / "own.duckdb"
    load(path, [tmp_path / f"{name}.csv" for name in SHEETS], who="Ida")
    (tmp_path / "trays.csv").write_text(SHEETS["trays"].replace("30,20", "30,19"))
    load(path, [tmp_path / "trays.csv"], accept_corrections=True, who="Ida")
    monkeypatch.setenv("PENWISE_STORE", str(path))
    monkeypatch.setenv("PENWISE_WHO", "Bo")
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)
    return path


def _records() -> None:
    from dashboard.pages import records

    records.show()


def _page() -> AppTest:
    page = AppTest.from_function(_records, default_timeout=30).run()
    assert not page.exception
    return page


def _text(page: AppTest) -> str:
    bodies = " ".join(piece.proto.body for piece in page.get("html"))
    plain = html.unescape(re.sub(r"<[^>]+>", " ", bodies)).replace("\N{NO-BREAK SPACE}", " ")
    return " ".join(plain.split())


def _button(page: AppTest, label: str) -> AppTest:
    next(button for button in page.button if button.label == label).click().run()
    assert not page.exception
    return page


def _labels(page: AppTest) -> list[str]:
    return [button.label for button in page.button]


def _at_row(sheet: str, parts: tuple[str, ...]) -> AppTest:
    page = _page()
    page.selectbox("row sheet").select(sheet).run()
    page.selectbox(f"row of {sheet}").select(parts).run()
    assert not page.exception
    return page


def _asked(page: AppTest, sheet: str, parts: tuple[str, ...], why: str, look: str) -> AppTest:
    page.text_input(f"why {sheet} {parts}").input(why)
    return _button(page, look)


def _live(store: Path) -> int:
    with reading(store) as connection:
        return int(
            connection.execute("SELECT count(*) FROM trays WHERE withdrawn_in IS NULL").fetchall()[0][0]
        )


def test_what_was_changed_stands_there_with_its_load(store: Path) -> None:
    text = _text(_page())
    assert "1 change so far; the old values stay here." in text
    assert re.search(r"trays B1, T1 hatched 20 19 – Ida load of trays.csv \(entry 2\)", text)


def test_a_store_without_changes_says_so(
    store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    other = tmp_path / "other.duckdb"
    load(other, [tmp_path / f"{name}.csv" for name in SHEETS])
    monkeypatch.setenv("PENWISE_STORE", str(other))
    assert words_records.CHANGES_NONE in _text(_page())


def test_one_row_with_its_values_and_changes(store: Path) -> None:
    text = _text(_at_row("trays", T1))
    assert "B1, T1 of trays counts. It came in by load of pens.csv, " in text
    assert "trays.csv (entry 1)." in text
    assert "eggs_set 30 hatched 19" in text
    assert text.count("hatched 20 19") == 2  # of the whole store, and of the row


def test_a_row_is_set_aside_only_after_a_reason_a_look_and_a_yes(store: Path) -> None:
    before = change_count(store)
    page = _button(_at_row("trays", T1), words_records.AWAY_LOOK)
    assert words_records.NO_REASON in _text(page)
    assert words_records.AWAY_YES not in _labels(page)
    page = _asked(page, "trays", T1, "counted twice", words_records.AWAY_LOOK)
    assert "B1, T1 of trays would count in nothing any more." in _text(page)
    assert change_count(store) == before
    page = _button(page, words_records.AWAY_YES)
    assert (_live(store), change_count(store)) == (1, before + 1)
    text = _text(page)
    assert "B1, T1 of trays: it counts in nothing any more." in text
    assert "B1, T1 of trays is set aside, in no rate." in text
    assert re.search(r"the row counted set aside counted twice Bo Records page \(entry 3\)", text)
    assert words_records.AWAY_YES not in _labels(page)


def test_a_row_is_brought_back_and_the_history_keeps_both(store: Path) -> None:
    page = _asked(_at_row("trays", T1), "trays", T1, "counted twice", words_records.AWAY_LOOK)
    page = _button(page, words_records.AWAY_YES)
    page = _asked(page, "trays", T1, "it was right", words_records.BACK_LOOK)
    page = _button(page, words_records.BACK_YES)
    assert _live(store) == 2
    text = _text(page)
    assert "the row set aside counts again it was right Bo" in text
    assert "the row counted set aside counted twice Bo" in text


def test_no_leaves_it(store: Path) -> None:
    before = change_count(store)
    page = _asked(_at_row("trays", T1), "trays", T1, "counted twice", words_records.AWAY_LOOK)
    page = _button(page, words_records.LEAVE)
    assert change_count(store) == before
    assert words_records.AWAY_YES not in _labels(page)


def test_a_row_that_others_name_is_refused_at_the_look(store: Path) -> None:
    page = _asked(_at_row("pens", ("Rowan",)), "pens", ("Rowan",), "sold", words_records.AWAY_LOOK)
    assert "Rowan in pens is named by trays B1, T1; trays B1, T2" in _text(page)
    assert words_records.AWAY_YES not in _labels(page)


def test_rows_of_a_long_sheet_are_found_by_a_part_of_their_labels(store: Path, tmp_path: Path) -> None:
    rows = "".join(f"B1,X{number},Rowan,30,20\n" for number in range(250))
    (tmp_path / "trays.csv").write_text("batch,tray,pen,eggs_set,hatched\n" + rows)
    load(store, [tmp_path / "trays.csv"])
    page = _page()
    page.selectbox("row sheet").select("trays").run()
    assert "The last 200 of 252 rows are offered" in _text(page)
    page.text_input("row part trays").input("t1").run()
    assert page.selectbox("row of trays").options == ["B1, T1"]
    page.text_input("row part trays").input("nothing").run()
    assert words_records.ROW_NONE in _text(page)


def test_sheets_are_checked_once_however_often_the_page_is_drawn(
    store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    checks = []

    def counted(*given: object, **how: object) -> object:
        checks.append(how["dry_run"])
        return load(*given, **how)  # type: ignore[arg-type]

    monkeypatch.setattr(intake, "load", counted)
    page = _page()
    right = ("trays.csv", b"batch,tray,pen,eggs_set\nB1,T3,Rowan,30\n", "text/csv")
    page.file_uploader[0].set_value([right]).run()
    assert "1 row would be added" in _text(page)
    page.run()
    page.selectbox("row sheet").select("pens").run()
    assert checks == [True]
    wrong = ("trays.csv", right[1].replace(b"Rowan", b"Rowam"), "text/csv")
    page.file_uploader[0].set_value([wrong]).run()
    page.run()
    assert words.REJECTED_HEADING in _text(page)
    assert checks == [True, True]


def test_equal_problems_are_told_once(store: Path) -> None:
    page = _page()
    rows = b"".join(b"B1,Y%d,Rowam,30\n" % number for number in range(20))
    page.file_uploader[0].set_value([("trays.csv", b"batch,tray,pen,eggs_set\n" + rows, "text/csv")]).run()
    text = _text(page)
    assert "20 problems in the sheets" in text
    assert "trays, 20 rows (2, 3, 4, …), pen" in text
    assert page.code[0].value.count("Rowam") == 1
