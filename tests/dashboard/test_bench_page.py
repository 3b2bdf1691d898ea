"""The page at the bench: from nothing to a first batch by typing, rules said at the field, corrections."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_reading import text_of
from streamlit.testing.v1 import AppTest

from analytics.sheets.bench import Tap, bench_batches, close_tray, tap, tray_tally
from analytics.sheets.contract import OUTCOMES
from analytics.sheets.history import find_rows, history
from analytics.sheets.load import ByHand
from analytics.sheets.typed import keep_rows
from dashboard import words_bench
from dashboard.components.bench_key import key_html
from dashboard.egg_drawings import embryo, outcome_svg, position_svg

ROWS = {
    "pens": [{"pen": "Rowan", "species": "chicken"}],
    "incubators": [{"incubator": "North"}],
    "batches": [{"batch": "B1", "incubator": "North", "set_on": "2026-03-01"}],
    "trays": [{"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "24"}],
}


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the store is, or will be."""
    path = tmp_path / "own.duckdb"
    monkeypatch.setenv("PENWISE_STORE", str(path))
    monkeypatch.setenv("PENWISE_WHO", "Ida")
    return path


@pytest.fixture
def store(place: Path) -> Path:
    """One batch of one tray in the machine."""
    keep_rows(place, ROWS, ByHand("test"))
    return place


def _bench() -> None:
    from dashboard.pages import bench

    bench.show()


def _page(**link: str) -> AppTest:
    page = AppTest.from_function(_bench, default_timeout=30)
    for name, text in link.items():
        page.query_params[name] = text
    return _run(page)


def _run(page: AppTest) -> AppTest:
    page.run()
    assert not page.exception
    return page


def _field(page: AppTest, kind: str, label: str, place: int = 0):
    return [one for one in page.get(kind) if one.label.startswith(label)][place]


def _press(page: AppTest, label: str, place: int = 0) -> AppTest:
    [one for one in page.button if one.label == label][place].click()
    return _run(page)


def test_from_nothing_to_a_first_batch_by_typing(place: Path) -> None:
    page = _page()
    assert page.title[0].value == words_bench.FIRST_TITLE
    _field(page, "text_input", "Your name for the machine").input("North")
    page = _press(page, words_bench.KEEP, 0)
    assert "North in incubators" in text_of(page)
    _field(page, "text_input", "Your name for the pen").input("Rowan")
    page = _press(page, words_bench.KEEP, 1)
    assert "pens needs" in text_of(page) or "species" in text_of(page)  # the species is missing, said at it
    _field(page, "selectbox", words_bench.SPECIES).select("chicken")
    page = _press(page, words_bench.KEEP, 1)
    page.number_input(key="new batch many").set_value(2)
    _run(page)
    for number, eggs in ((0, 24), (1, 20)):
        _field(page, "number_input", "Eggs set", number).set_value(eggs)
    page = _press(page, words_bench.BATCH_KEEP)
    (batch,) = bench_batches(place)
    assert [(tray.tray, tray.pen, tray.eggs_set) for tray in batch.trays] == [
        ("T1", "Rowan", 24),
        ("T2", "Rowan", 20),
    ]
    assert any(button.label.startswith("**B1**") for button in page.button)


def test_what_breaks_a_rule_is_said_at_its_field_and_nothing_is_kept(store: Path) -> None:
    page = _page(batch="B1", tray="T1")
    page.session_state["task B1 T1"] = words_bench.CANDLE
    _run(page)
    _field(page, "number_input", "Clear").set_value(30)
    page = _press(page, words_bench.KEEP)
    assert "clear, dead and cracked add up to at most the eggs looked at" in text_of(page)
    assert history(store, "candlings").total == 0
    _field(page, "number_input", "Clear").set_value(3)
    page = _press(page, words_bench.KEEP)
    assert "B1, T1" in text_of(page)


def test_weights_fill_blanks_without_a_reason_and_change_with_one(store: Path) -> None:
    page = _page(batch="B1", tray="T1")
    page.session_state["task B1 T1"] = words_bench.WEIGH
    _run(page)
    _field(page, "number_input", "Empty tray").set_value(200.5)
    page = _press(page, words_bench.KEEP)
    _field(page, "number_input", "Empty tray").set_value(210.0)
    page = _press(page, words_bench.KEEP)
    assert words_bench.NO_WHY in text_of(page)
    _field(page, "text_input", words_bench.FILL_WHY).input("Read wrongly")
    page = _press(page, words_bench.KEEP)
    told = [(one.before, one.after, one.change.why) for one in history(store, "trays", ("B1", "T1")).changes]
    assert told == [("200.5", "210.0", "Read wrongly"), ("not recorded", "200.5", "")]


def test_a_closed_tray_is_corrected_with_its_history_shown(store: Path) -> None:
    tap(store, "B1", "T1", "phone", [Tap("a", "clear", 2)])
    close_tray(store, "B1", "T1", tray_tally(store, "B1", "T1").drafted, words_bench.SOURCE, rest="hatched")
    page = _page(batch="B1", tray="T1")
    assert "22 of 24 eggs hatched" in text_of(page)
    _field(page, "selectbox", words_bench.CORRECT_COLUMN).select("hatched")
    _run(page)
    _field(page, "number_input", "Live chicks kept").set_value(21)
    _field(page, "text_input", words_bench.CORRECT_WHY).input("Counted again")
    page = _press(page, words_bench.CORRECT_KEEP)
    assert tray_tally(store, "B1", "T1").recorded["hatched"] == 21


def test_the_key_draws_every_outcome_and_the_days_of_the_species() -> None:
    assert set(words_bench.OUTCOMES) == set(words_bench.LOOKS) == set(OUTCOMES)
    assert len({outcome_svg(name) for name in OUTCOMES}) == len(OUTCOMES)
    assert len({embryo(share) for share in words_bench.KEY_STAGES}) == len(words_bench.KEY_STAGES)
    quail, goose = key_html("coturnix_quail"), key_html("goose")
    assert "early to day 7, mid-way to day 13" in quail  # Hyankova 2012, as in the table of death classes
    assert "Day 17, late" in quail or "Day 16, late" in quail
    assert "Scaled from the chicken" in goose
    assert quail.count("aria-label='Egg on day") == len(words_bench.KEY_STAGES)


def test_opened_eggs_are_numbered_on_and_malpositions_are_drawn(store: Path) -> None:
    page = _page(batch="B1", tray="T1")
    page.session_state["task B1 T1"] = words_bench.OPEN
    _run(page)
    for number in (1, 2):
        assert _field(page, "number_input", "Number within the tray").value == number
        _field(page, "selectbox", "Its outcome").select("late_dead")
        _field(page, "number_input", "Malposition").set_value(2)
        page = _press(page, words_bench.KEEP)
    assert find_rows(store, "opened_eggs").total == 2
    assert len({position_svg(number, "x") for number in words_bench.POSITIONS}) == 6


@pytest.mark.parametrize(
    ("names", "next_one"),
    [((), "B1"), (("Q102", "Q103"), "Q104"), (("M09",), "M10"), (("b10", "B9"), "B11"), (("Easter",), "B1")],
)
def test_a_new_batch_is_named_on_from_the_last(names: tuple[str, ...], next_one: str) -> None:
    assert words_bench.next_name(names, "B") == next_one


def test_a_link_to_what_is_not_there_says_so(store: Path) -> None:
    assert words_bench.GONE in text_of(_page(batch="Z9"))
