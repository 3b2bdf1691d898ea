"""The page of pens, on small stores: answer, pictures, a pair, tables, link, and what cannot be said."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from page_reading import alts_of, bodies_of, downloads_of, text_of
from streamlit.testing.v1 import AppTest

from analytics.studies.wording import MEASURE_NAMES
from dashboard import words, words_pens

COUNTED = {"clear": 0, "mid_dead": 0, "internal_pip": 0, "external_pip": 0, "rotten": 0, "cracked": 0,
           "not_opened": 0}  # fmt: skip
MONTHS = range(1, 9)
LINES = {"Alder": "golden", "Birch": "golden", "Cedar & Co": "white"}


def _tray(batch: str, pen: str, infertile: int, late: int) -> dict[str, object]:
    return {"batch": batch, "tray": pen, "pen": pen, "eggs_set": 30, "hatched": 30 - infertile - late,
            "infertile": infertile, "early_dead": 0, "late_dead": late, **COUNTED}  # fmt: skip


@pytest.fixture
def farm(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Three pens side by side in eight batches; Alder leaves 12 of every 30 infertile, the others 2 or 3."""
    store = store_of(
        pens=[{"pen": pen, "species": "chicken", "line": line} for pen, line in LINES.items()],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[
            {"batch": f"b{month}", "incubator": "North" if month % 2 else "South",
             "set_on": f"2026-{month:02}-01", "pulled_on": f"2026-{month:02}-23"}
            for month in MONTHS
        ],
        trays=[
            _tray(f"b{month}", pen, infertile + (month + place) % 2, (month + place) % 3)
            for month in MONTHS for place, (pen, infertile) in enumerate(zip(LINES, (12, 2, 2), strict=True))
        ],
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    return store


def _pens() -> None:
    from dashboard.pages import pens

    pens.show()


def _page(**link: str | list[str]) -> AppTest:
    page = AppTest.from_function(_pens, default_timeout=60)
    for field, value in link.items():
        page.query_params[field.strip("_")] = value
    return page.run()


def test_the_answer_comes_first_then_pictures_tables_and_how_it_was_tested(farm: Path) -> None:
    page = _page(measure="fertility")
    assert not page.exception
    assert [title.value for title in page.title] == ["Pen against pen: fertility"]
    first = bodies_of(page)[0]
    assert "pw-first" in first
    # By hand: 8 x 30 = 240 eggs each; Alder 12.5 of 30 infertile on average, 140 of 240 fertile, 58 %.
    assert "Alder's fertility is below the others: 58 % against 92 % of set less cracked" in text_of(page)
    assert [header.value for header in page.header] == [
        "The pens in order",
        words_pens.TWO_HEADING,
        words_pens.FUNNEL_HEADING,
        words_pens.NUMBERS_HEADING,
        words_pens.TESTED_HEADING,
    ]
    assert len(alts_of(page)) == 2


def test_every_picture_has_its_sentence(farm: Path) -> None:
    ranked, funnel = alts_of(_page(measure="fertility"))
    assert ranked.startswith("Chicken, fertility, highest first: ")
    assert ranked.index("Alder 58 % of set less cracked") > ranked.index("Birch 92 %")
    assert "240 eggs, stands out" in ranked
    # By hand: 140 + 220 + 220 = 580 of 720 eggs are fertile.
    assert "about 81 % of set less cracked for all together" in funnel
    assert "Alder is below the 99.8 % limit" in funnel


def test_the_independent_test_stands_beside_the_one_that_decides(farm: Path) -> None:
    text = text_of(_page(measure="fertility"))
    rows = re.findall(r"<tr.*?</tr>", " ".join(bodies_of(_page(measure="fertility"))))
    told = [re.sub(r"<[^>]+>", " ", row) for row in rows]
    decides = [row for row in told if words_pens.DECIDES in row]
    assert len(decides) == 1
    assert words_pens.CLUSTERED in decides[0]
    assert any(words_pens.INDEPENDENT in row and words_pens.SHOWN_ONLY in row for row in told)
    assert "720 eggs tell as much as" in text
    assert "intra-class correlation" in text
    assert "design effect" in text


def test_the_tables_can_be_taken_away(farm: Path) -> None:
    assert downloads_of(_page()) == [words_pens.DOWNLOAD_NUMBERS, words_pens.DOWNLOAD_PAIRS]


def test_two_are_chosen_answered_and_in_the_link(farm: Path) -> None:
    page = _page(measure="fertility")
    assert words_pens.TWO_LEDE in text_of(page)
    page.button_group("two pressed").select("Birch").run()
    assert words_pens.TWO_LEDE in text_of(page)
    page.button_group("two pressed").select("Alder").run()
    assert not page.exception
    text = text_of(page)
    assert "Birch's fertility is" in text
    assert "points above Alder's" in text
    assert "They shared 8 batches" in text
    assert words_pens.TWO_DECIDED in text
    assert page.query_params == {"measure": "fertility", "first": "Birch", "second": "Alder"}
    assert text_of(_page(measure="fertility", first="birch", second="ALDER")) == text
    page.button_group("two pressed").select("Cedar & Co").run()
    assert page.query_params == {"measure": "fertility", "first": "Alder", "second": "Cedar & Co"}


def test_alike_pens_say_what_could_have_been_seen_and_how_many_eggs_would_decide(farm: Path) -> None:
    page = _page(measure="late_loss", first="Birch", second="Cedar & Co")
    assert not page.exception
    assert "No sure difference between the pens in late loss" in text_of(page)
    assert words_pens.RANKED_SHADED not in text_of(page)
    assert words_pens.TWO_MORE in text_of(page)


def test_lines_are_set_side_by_side(farm: Path) -> None:
    page = _page()
    page.selectbox("by").select("line").run()
    assert not page.exception
    assert page.title[0].value == "Line against line: hatch of set"
    assert page.query_params == {"by": "line"}
    assert "golden" in alts_of(page)[0]
    assert page.button_group("two pressed").options == ["golden", "white"]


def test_a_period_and_a_machine_narrow_the_page_and_are_in_the_link(farm: Path) -> None:
    page = _page(measure="fertility")
    page.selectbox("start").select("2026-03").run()
    page.selectbox("end").select("2026-06").run()
    assert not page.exception
    assert "360 eggs tell as much as" in text_of(page)
    page.multiselect("incubators").select("South").run()
    assert "180 eggs tell as much as" in text_of(page)
    link = {"measure": "fertility", "from": "2026-03", "to": "2026-06", "incubator": "South"}
    assert page.query_params == link
    again = _page(measure="fertility", from_="2026-03", to="2026-06", incubator="south")
    assert text_of(again) == text_of(page)


def test_the_end_of_a_period_is_never_before_its_start(farm: Path) -> None:
    page = _page(from_="2026-05")
    assert page.selectbox("end").options == [
        words.TO_THE_LAST,
        "August 2026",
        "July 2026",
        "June 2026",
        "May 2026",
    ]


def test_one_pen_alone_is_no_comparison_but_has_its_rate(farm: Path) -> None:
    page = _page(pen="Alder", measure="fertility")
    assert not page.exception
    text = text_of(page)
    assert "cannot be compared" in text
    assert words_pens.NO_TEST in text
    assert len(alts_of(page)) == 1
    assert "Alder 58 % of set less cracked" in alts_of(page)[0]
    assert [header.value for header in page.header] == ["The pens in order", words_pens.NUMBERS_HEADING]
    assert downloads_of(page) == [words_pens.DOWNLOAD_NUMBERS]
    assert not re.search(r"\bnan\b|None", text)


def _thin(name: str) -> list[dict[str, object]]:
    two = ("Alder", "Birch")
    return {
        "a tray each": [_tray("b1", pen, 4 * place, 1) for place, pen in enumerate(two)],
        "all fertile": [_tray(f"b{month}", pen, 0, 0) for month in MONTHS for pen in two],
        "all infertile": [_tray(f"b{month}", pen, 30, 0) for month in MONTHS for pen in two],
        "never in one machine": [_tray(f"b{month}", two[month % 2], month, 0) for month in MONTHS],
        "all clear": [
            {"batch": f"b{month}", "tray": pen, "pen": pen, "eggs_set": 20, "hatched": 0, "clear": 20}
            for month in MONTHS for pen in two
        ],
    }[name]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "said", "remedy"),
    [
        ("a tray each", "Each pen has one tray here (Alder and Birch)", "Set more trays of each pen"),
        ("all fertile", "All 480 eggs were fertile, so no difference can show.", ""),
        ("all infertile", "Not one of the 480 eggs was fertile, so no difference can show.", ""),
        (
            "never in one machine",
            "Alder was in South; Birch was in North.",
            "in the same machine in the next",
        ),
        ("all clear", "Nothing but 320 clear eggs that nobody told apart", "Open clear eggs"),
    ],
)
def test_thin_records_say_the_true_reason(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, name: str, said: str, remedy: str
) -> None:
    store = store_of(
        pens=[{"pen": pen, "species": "chicken"} for pen in LINES],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[
            {"batch": f"b{month}", "incubator": "North" if month % 2 else "South",
             "set_on": f"2026-{month:02}-01", "pulled_on": f"2026-{month:02}-23"}
            for month in MONTHS
        ],
        trays=_thin(name),
    )  # fmt: skip
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page(measure="fertility")
    assert not page.exception
    text = text_of(page)
    assert said in text
    assert (words_pens.NO_TEST in text) == bool(remedy)
    assert remedy in text
    assert not re.search(r"\bnan\b|\binf\b|None", text)
    assert words_pens.TWO_HEADING not in [header.value for header in page.header]
    assert [folded.label for folded in page.expander if "pairs" in folded.label] == []


def test_one_of_two_outside_the_selection_is_a_sentence(farm: Path) -> None:
    page = _page(pen=["Alder", "Birch"], first="Alder", second="Cedar & Co")
    assert not page.exception
    assert "Cedar & Co has no closed tray in this selection" in text_of(page)


@pytest.mark.parametrize("measure", sorted(MEASURE_NAMES))
def test_every_measure_is_answered(farm: Path, measure: str) -> None:
    page = _page(measure=measure)
    assert not page.exception
    assert page.title[0].value == words_pens.title(measure, "pen")
    assert not re.search(r"\bnan\b|\binf\b|None", text_of(page))


def test_a_measure_that_nobody_counted_is_a_sentence(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "b", "incubator": "North", "set_on": "2026-01-01", "pulled_on": "2026-01-23"}],
        trays=[{"batch": "b", "tray": "1", "pen": "A", "eggs_set": 25}],
    )
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert not page.exception
    assert words_pens.TOO_THIN in text_of(page)
    assert page.selectbox("measure").value == words.FIRST_MEASURE


def test_an_empty_store_shows_ways_to_begin(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "none.duckdb"))
    page = _page()
    assert not page.exception
    assert [title.value for title in page.title] == [words.WELCOME_TITLE]


def test_without_a_finished_batch_it_says_so(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}],
        incubators=[{"incubator": "North"}],
        batches=[{"batch": "b", "incubator": "North", "set_on": "2026-01-20"}],
        trays=[{"batch": "b", "tray": "1", "pen": "A", "eggs_set": 25}],
    )
    monkeypatch.setenv("PENWISE_STORE", str(store))
    page = _page()
    assert [title.value for title in page.title] == [words.MONTH_NONE_TITLE]
    assert words.PERIOD_NONE_LEDE in text_of(page)


def test_a_strangers_link_is_answered_in_words(farm: Path) -> None:
    page = _page(first="<script>alert(1)</script>", second="Alder", by="colour", from_="2031-01")
    assert not page.exception
    assert "<script>alert" not in " ".join(bodies_of(page))
    text = text_of(page)
    assert "2031-01" in text
    assert "colour" in text
    assert page.button_group("two pressed").value == ["Alder"]


def test_a_label_of_the_breeder_is_never_mark_up(farm: Path) -> None:
    bodies = " ".join(bodies_of(_page()))
    assert "Cedar &amp; Co" in bodies
    assert "Cedar & Co" not in bodies
