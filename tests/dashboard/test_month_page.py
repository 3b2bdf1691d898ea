"""The page of the month, on small stores: answer, figures, filters, link, and an empty store."""

from __future__ import annotations

import html
import io
import re
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Button

from analytics.errors import DataTooThin, StoreBusy, StoreDamaged, StoreTooNew
from analytics.studies.causes_records import Causes
from dashboard import data, words, words_bench, words_month, words_signals, words_tables
from dashboard.components import marks, page_tables
from dashboard.state import YEAR_AGO, Filters

APP = Path(__file__).parents[2] / "dashboard" / "app.py"
TOLD_APART = {"clear": 0, "mid_dead": 0, "internal_pip": 0, "external_pip": 0, "rotten": 0, "cracked": 0,
              "not_opened": 0}  # fmt: skip


@pytest.fixture(autouse=True)
def _nothing_remembered(monkeypatch: pytest.MonkeyPatch) -> None:
    st.cache_data.clear()
    monkeypatch.delenv("PENWISE_STORE", raising=False)
    monkeypatch.delenv("PENWISE_EXAMPLE", raising=False)
    st.cache_resource.clear()

    def too_thin(*_: Any) -> None:
        raise DataTooThin("These are two batches", "Nothing stands out of so few")

    monkeypatch.setattr(data, "losses", too_thin)


@pytest.fixture
def farm(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two pens and two machines; in January pen A hatched 21 of 30, pen B 30 of 40; one batch is open."""
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}, {"pen": "B & Co", "species": "chicken"}],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[
            {"batch": "b0", "incubator": "North", "set_on": "2025-11-01", "pulled_on": "2025-11-23"},
            {"batch": "b1", "incubator": "North", "set_on": "2026-01-01", "pulled_on": "2026-01-23"},
            {"batch": "b2", "incubator": "South", "set_on": "2026-01-01", "pulled_on": "2026-01-23"},
            {"batch": "b3", "incubator": "South", "set_on": "2026-01-20"},
        ],
        trays=[
            {"batch": "b0", "tray": "1", "pen": "A", "eggs_set": 20, "hatched": 18, "infertile": 1,
             "early_dead": 1, "late_dead": 0, **TOLD_APART},
            {"batch": "b1", "tray": "1", "pen": "A", "eggs_set": 30, "hatched": 20, "culled": 1,
             "infertile": 4, "early_dead": 3, "late_dead": 2, **TOLD_APART},
            {"batch": "b2", "tray": "1", "pen": "B & Co", "eggs_set": 40, "hatched": 30, "infertile": 5,
             "early_dead": 2, "late_dead": 3, **TOLD_APART},
            {"batch": "b3", "tray": "1", "pen": "A", "eggs_set": 25},
        ],
        targets=[{"species": "chicken", "measure": "hatch_of_set", "target": 0.8}],
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    return store


def _page(**link: list[str]) -> AppTest:
    page = AppTest.from_file(str(APP), default_timeout=30)
    for field, values in link.items():
        page.query_params[field] = values
    return page.run()


def _buttons_of(page: AppTest) -> list[Button]:
    """The page's own buttons: not the one that stops its work."""
    return [button for button in page.button if button.label != words.STOP]


def _text(page: AppTest) -> str:
    """All that is written on the page, without mark-up."""
    pieces = [piece.proto.body for piece in page.get("html") if "<style>" not in piece.proto.body]
    return html.unescape(re.sub(r"<[^>]+>", " ", " ".join(pieces))).replace("\N{NO-BREAK SPACE}", " ")


def _alts(page: AppTest) -> list[str]:
    return [chart.proto.alt for chart in page.get("plotly_chart")]


def test_the_answer_comes_first(farm: Path) -> None:
    page = _page()
    assert not page.exception
    assert [title.value for title in page.title] == ["January 2026"]
    answer = next(piece.proto.body for piece in page.get("html") if "pw-answer'" in piece.proto.body)
    assert answer.count("pw-first") == 1
    # 20 + 1 + 30 chicks of 30 + 40 eggs: 51 / 70 = 72.857 %, by hand.
    assert "70 chicken eggs" in _text(page)
    assert "51 hatched: 73 % of set" in _text(page)


def test_where_it_cannot_be_told_what_stands_out_the_month_comes_first(farm: Path) -> None:
    said = _text(_page())
    assert said.index("51 hatched") < said.index("What stands out cannot be told yet. These are two batches")


def test_what_stands_out_most_comes_before_the_month(
    farm: Path, made: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = []

    def losses(_: data.Shown, filters: Filters, __: Callable[[float, str], None]) -> Causes:
        asked.append(filters)
        found: Causes = made.make_causes(made.make_answer("chicken"))
        return found

    monkeypatch.setattr(data, "losses", losses)
    page = _page()
    assert not page.exception
    assert _bodies(page).count("class='pw-first'") == 1
    said = _text(page)
    first = said.index(f"Look at {made.WEAK_PEN} first.")
    assert first < said.index("Next: look at the male of the pen.") < said.index("51 hatched: 73 % of set")
    assert [(one.start, one.end, one.target) for one in asked] == [("2026-01", "2026-01", None)]


def test_every_rate_stands_with_its_base(farm: Path) -> None:
    text = _text(_page())
    # By hand: fertile 30 - 4 + 40 - 5 = 61 of 70 = 87 %; 51 of 61 = 84 %; early 3 + 2 = 5 of 61 = 8.2 %.
    for figure in ("87 % of set less cracked", "61 of 70", "84 % of fertile", "51 of 61", "8.2 % of fertile"):
        assert figure in text


def test_headings_are_in_order(farm: Path) -> None:
    page = _page()
    levels = [1] * len(page.title) + [2] * len(page.header) + [3] * len(page.subheader)
    assert levels[:2] == [1, 2]
    named = [
        "Chicken",
        words_signals.HEADING,
        words_month.CHANGES_HEADING,
        words_month.BREEDERS_HEADING,
        words_month.NEXT_HEADING,
        words_month.AHEAD_HEADING,
        words.OPEN_HEADING,
        words.GAPS_HEADING,
        words_month.TAKE_HEADING,
    ]
    assert [header.value for header in page.header] == named
    assert [header.value for header in page.subheader] == [
        "Hatch of set month by month",
        "Hatch of set pen by pen",
        words.TABLE_HEADING,
    ]


def test_changes_breeders_and_what_is_ahead_stand_with_why_they_cannot_be_told(farm: Path) -> None:
    page = _page()
    said = _text(page)
    assert "No change with a date is written down for this selection." in said
    assert words_month.CHANGES_WAIT not in said
    assert words_month.BREEDERS_WAIT not in said
    # b3 was set on 20 January and is long past its days on the day of this test: nothing of it is expected
    assert "No eggs are in a machine whose hatch is still to come." in said
    assert "Present on " in said
    labels = [button.proto.label for button in page.get("download_button")]
    assert labels[-5:-3] == [words_month.TAKE_PAGE, words_month.TAKE_BOOK]


def test_every_table_of_the_page_can_be_taken_away(farm: Path) -> None:
    page = _page()
    labels = [button.proto.label for button in page.get("download_button")]
    assert labels[-3:] == list(words_tables.KINDS.values())
    shown = page.session_state[marks.SHOWN_TABLES]
    assert len(shown) == _bodies(page).count("<caption>")
    files = zipfile.ZipFile(io.BytesIO(page_tables.files_of(shown, "csv")))
    pens = next(files.read(name).decode("utf-8-sig") for name in files.namelist() if "by pen" in name.lower())
    assert "B & Co" in pens


def test_another_month_is_set_beside_it_in_one_choice(farm: Path) -> None:
    page = _page()
    assert words.COL_BEFORE_12 in _bodies(page)
    page.selectbox(key="against").select("2025-11").run()
    assert page.query_params["against"] == "2025-11"
    said = _text(page)
    # by hand: b0 hatched 18 of 20
    assert "November 2025 stands at 90 % of 20 set" in said
    assert words.PENS_KEY_MONTH.format(month="November 2025") in said
    assert words.COL_BEFORE_12 not in _bodies(page)
    page.selectbox(key="against").select(YEAR_AGO).run()
    assert "January 2025 holds no hatch to set it beside." in _text(page)


def test_an_earlier_month_looks_ahead_from_its_own_last_day(farm: Path) -> None:
    """On 30 November 2025 no batch was in: b0 was pulled on 23 November, the others were set in January."""
    said = _text(_page(month=["2025-11"]))
    assert words.OPEN_NONE in said
    assert "Present on 30 November 2025: " in said


def test_every_picture_has_its_sentence_and_its_table(farm: Path) -> None:
    page = _page()
    months, pens = _alts(page)
    assert "January 2026: 73 % of set" in months
    assert "Lowest 73 % in January 2026, highest 90 % in November 2025" in months
    assert "B & Co 75 % of set" in pens
    assert pens.index("B & Co") < pens.index("A 70 %")
    captions = [html.unescape(table) for table in re.findall(r"<caption>(.*?)</caption>", _bodies(page))]
    assert months in [caption.replace("\N{NO-BREAK SPACE}", " ") for caption in captions]
    assert pens in [caption.replace("\N{NO-BREAK SPACE}", " ") for caption in captions]


def _bodies(page: AppTest) -> str:
    return " ".join(piece.proto.body for piece in page.get("html"))


def test_the_breeders_aim_stands_beside_its_rate(farm: Path) -> None:
    assert "your aim 80 %" in _text(_page())


def test_open_batches_are_listed_and_in_no_rate(farm: Path) -> None:
    text = _text(_page())
    assert "b3" in text
    assert "25" in text
    assert "overdue" in text


def test_a_filter_narrows_the_page_and_is_in_the_link(farm: Path) -> None:
    page = _page()
    page.multiselect("pens").select("A").run()
    assert not page.exception
    assert "30 chicken eggs" in _text(page)
    assert page.query_params == {"month": "2026-01", "pen": "A"}
    again = _page(**{field: [value] for field, value in page.query_params.items()})
    assert _text(again) == _text(page)


def test_another_month_and_rate(farm: Path) -> None:
    page = _page()
    page.selectbox("month").select("2025-11").run()
    page.selectbox("measure").select("fertility").run()
    assert [title.value for title in page.title] == ["November 2025"]
    assert "November 2025: 95 % of set less cracked" in _alts(page)[0]
    assert page.query_params == {"month": "2025-11", "measure": "fertility"}


def test_a_link_with_machines_is_reproduced(farm: Path) -> None:
    page = _page(month=["2026-01"], incubator=["south"])
    assert page.multiselect("incubators").value == ["South"]
    assert "40 chicken eggs" in _text(page)


def test_a_strangers_link_is_answered_in_words(farm: Path) -> None:
    page = _page(month=["2031-01"], pen=["<script>alert(1)</script>", "a"], measure=["drop table"])
    assert not page.exception
    assert [title.value for title in page.title] == ["January 2026"]
    assert page.multiselect("pens").value == ["A"]
    text = _text(page)
    assert "month “2031-01”, in which no batch was finished" in text
    assert "<script>" not in _bodies(page)
    assert "drop table" in text


def test_a_label_of_the_breeder_is_never_mark_up(farm: Path) -> None:
    bodies = _bodies(_page())
    assert "B &amp; Co" in bodies
    assert "B & Co" not in bodies


def test_a_month_without_a_finished_batch(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "b3", "incubator": "North", "set_on": "2026-01-20"}],
        trays=[{"batch": "b3", "tray": "1", "pen": "A", "eggs_set": 25}],
    )
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert not page.exception
    assert [title.value for title in page.title] == [words.MONTH_NONE_TITLE]
    assert "b3" in _text(page)


@pytest.mark.parametrize("exists", [True, False])
def test_an_empty_store_shows_ways_to_begin(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, tmp_path: Path, exists: bool
) -> None:
    store = store_of() if exists else tmp_path / "none.duckdb"
    monkeypatch.setenv("PENWISE_STORE", str(store))
    monkeypatch.setenv("PENWISE_EXAMPLE", str(tmp_path / "demo.duckdb"))
    page = _page()
    assert not page.exception
    assert [title.value for title in page.title] == [words.WELCOME_TITLE]
    assert [way.value for way in page.subheader] == [name for name, _ in words.WELCOME_WAYS]
    assert {button.label for button in _buttons_of(page)} == {
        words.WELCOME_EXAMPLE,
        words.WELCOME_BRING,
        words_bench.FIRST_TYPE,
    }
    assert len(page.get("download_button")) == 2
    assert store.exists() == exists


@pytest.mark.parametrize(
    ("error", "title", "advice"),
    [
        (StoreBusy, words.TROUBLE_BUSY, "try again"),
        (StoreDamaged, words.TROUBLE_DAMAGED, "penwise restore"),
        (StoreTooNew, words.TROUBLE_TOO_NEW, "newer penwise"),
    ],
)
def test_a_store_in_trouble_is_a_sentence_and_a_way_out(
    farm: Path, monkeypatch: pytest.MonkeyPatch, error: type[StoreBusy], title: str, advice: str
) -> None:
    def refuse(_store: Path) -> int:
        raise error("small.duckdb", "It cannot be read", "Wait")

    monkeypatch.setattr(data, "records_mark", refuse)
    page = _page()
    assert not page.exception
    assert title in _text(page)
    assert advice in _text(page)
    assert [button.label for button in _buttons_of(page)] == [words.TRY_AGAIN]
    monkeypatch.undo()
    monkeypatch.setenv("PENWISE_STORE", str(farm))
    _buttons_of(page)[0].click().run()
    assert [header.value for header in page.title] == ["January 2026"]


def test_a_file_that_is_no_store_is_refused_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    other = tmp_path / "letters.txt"
    other.write_text("Dear neighbour, " * 500, encoding="utf-8")
    monkeypatch.setenv("PENWISE_STORE", str(other))
    page = _page()
    assert not page.exception
    assert words.TROUBLE_NOT_A_STORE in _text(page)


def test_without_a_store_named_it_says_how_to_start() -> None:
    page = _page()
    assert not page.exception
    assert "penwise serve" in _text(page)


def test_a_load_from_elsewhere_is_seen_at_once(farm: Path, put_rows: Callable[..., Any]) -> None:
    from analytics.store.connection import writing

    page = _page()
    assert "70 chicken eggs" in _text(page)
    with writing(farm) as connection:
        tray = {"batch": "b1", "tray": "2", "pen": "A", "eggs_set": 10, "hatched": 10}
        put_rows(connection, "trays", [tray])
    page.run()
    assert "80 chicken eggs" in _text(page)


def _sign(store: Path, who: str) -> None:
    """Enters a load of that name into the ledger."""
    from analytics.store.connection import writing

    with writing(store) as connection:
        connection.execute(
            "INSERT INTO ledger SELECT coalesce(max(entry_no), 0) + 1, 'load', now(), ?, 'sheets', 1, 0, 0,"
            " NULL FROM ledger",
            [who],
        )


def test_in_the_invented_records_today_is_their_last_day(farm: Path) -> None:
    _sign(farm, "penwise demo")
    text = _text(_page())
    assert "In it, today is 31 October 2026." in text
    # b3 was set on 20 January; chickens are due after 21 days, on 10 February: 263 days before 31 October.
    assert "263 days overdue" in text


def test_with_anybodys_own_records_today_is_the_real_day(farm: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[date] = []
    real = data.month_review

    def note(*given: Any, **more: Any) -> Any:
        asked.append(given[-1])
        return real(*given, **more)

    monkeypatch.setattr(data, "month_review", note)
    _sign(farm, "penwise demo")
    _sign(farm, "somebody")
    before = date.today()  # noqa: DTZ011
    text = _text(_page())
    assert "today is" not in text
    assert before <= min(asked) <= max(asked) <= date.today()  # noqa: DTZ011
