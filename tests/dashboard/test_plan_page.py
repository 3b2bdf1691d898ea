"""The page of plans, on small stores: each question's answer, what is refused, and what can be taken away."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest
from page_reading import bodies_of, downloads_of, text_of
from streamlit.testing.v1 import AppTest

from analytics.options import Selection
from analytics.reports.tables import as_csv
from analytics.sheets.load import load
from analytics.studies.plan_dates import plan_dates
from analytics.studies.plan_records import SplitAsked
from analytics.studies.plan_split import plan_split
from dashboard import charts_plan, words_plan
from dashboard.components import plan_paper
from dashboard.look import DAY

SET_ON = date(2026, 4, 6)


def _farm(store_of: Callable[..., Path], homes: dict[str, str]) -> Path:
    """Pen -> its machine; ten weekly sets of 24 eggs a pen, stored 3 and 6 days by turns."""
    batches, trays = [], []
    for week in range(10):
        day = datetime(2026, 1, 5) + timedelta(days=7 * week)  # noqa: DTZ001
        for machine in sorted(set(homes.values())):
            batches.append(
                {"batch": f"{machine}{week}", "incubator": machine, "set_on": day,
                 "pulled_on": day + timedelta(days=18)}
            )  # fmt: skip
        trays += [
            {"batch": f"{machine}{week}", "tray": pen, "pen": pen, "eggs_set": 24,
             "hatched": 15 + (week + len(pen)) % 5, "storage_days": 3 + 3 * (week % 2)}
            for pen, machine in homes.items()
        ]  # fmt: skip
    return store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in homes],
        incubators=[{"incubator": name, "capacity_eggs": 100} for name in sorted(set(homes.values()))],
        batches=batches,
        trays=trays,
    )


TWO = {"Ash": "North", "Elm": "North", "<b>Oak": "South"}


def _plan() -> None:
    from dashboard.pages import plan

    plan.show()


def _page(store: Path, monkeypatch: pytest.MonkeyPatch, **link: str) -> AppTest:
    monkeypatch.setenv("PENWISE_STORE", str(store))
    app = AppTest.from_function(_plan, default_timeout=60)
    for name, value in link.items():
        app.query_params[name] = value
    app.run()
    assert not app.exception
    return app


def test_which_eggs_are_moved_with_seed_and_papers(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = _page(_farm(store_of, TWO), monkeypatch, seed="7")
    assert [title.value for title in app.title] == [words_plan.TITLES[words_plan.WHERE]]
    said = text_of(app)
    assert re.search(r"Put 12 eggs of \S+ into (North|South): then they are told apart", said)
    assert "Eggs moved 12 of 72 to be set" in said
    assert "Seed 7" in said
    assert "--" not in said  # no command's options on a page
    assert downloads_of(app) == [words_plan.CARD, words_plan.BATCHES, words_plan.TRAYS]
    app.number_input(key="room South").set_value(10).run()
    app.number_input(key="room North").set_value(20).run()
    assert not app.exception
    assert "The machines have room for 30" in text_of(app)


def test_a_seed_is_drawn_into_the_link_and_strange_links_are_said(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = _page(_farm(store_of, TWO), monkeypatch, birds="<i>Emu")
    assert "<i>Emu" in text_of(app).replace("&lt;", "<")
    assert not any("<i>" in body for body in bodies_of(app))
    seed = app.session_state["seed"]
    assert app.query_params["seed"] == str(seed)
    assert f"Seed {seed} " in text_of(app)


def test_one_machine_says_what_to_do_instead(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    said = text_of(_page(_farm(store_of, {"Ash": "North", "Elm": "North"}), monkeypatch))
    assert "North is the only machine" in said
    assert words_plan.INSTEAD_ONE in said


def test_the_sheets_load_back_as_the_next_batches(store_of: Callable[..., Path], tmp_path: Path) -> None:
    store = _farm(store_of, TWO)
    answer = plan_split(store, SplitAsked(7), Selection())
    trays = plan_paper.trays_of(answer, SET_ON, ["2026-04-06 north"])
    assert {tray.batch for tray in trays} == {"2026-04-06 North (2)", "2026-04-06 South"}
    sheets = {"batches": plan_paper.batches_sheet(trays, SET_ON), "trays": plan_paper.trays_sheet(trays, 7)}
    for name, rows in sheets.items():
        (tmp_path / f"{name}.csv").write_bytes(as_csv(rows))
    done = load(store, [tmp_path / "batches.csv", tmp_path / "trays.csv"])
    assert done.added_by_sheet == {"batches": 2, "trays": 4}
    assert not done.corrected
    (moved,) = (row for row in csv.DictReader(io.StringIO(as_csv(sheets["trays"]).decode("utf-8-sig")))
                if "moved from" in row["notes"])  # fmt: skip
    assert moved["eggs_set"] == "12"
    assert len(re.findall(r"\d+", moved["notes"].split("in the order")[0])) == 12
    page = plan_paper.card(trays, "coturnix_quail", SET_ON, 7, None)
    assert "&lt;b&gt;Oak" in page
    assert "<b>" not in page
    assert "src=" not in page  # nothing is fetched
    assert page.count("<section>") == 2


def test_how_many_eggs_and_what_two_pens_could_have_shown(
    store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    app = _page(_farm(store_of, TWO), monkeypatch, next=words_plan.MANY)
    first = text_of(app)
    assert "in 8 of 10 cases, set" in first
    app.number_input(key="points").set_value(20.0)
    app.selectbox(key="one pen").set_value("Ash")
    app.selectbox(key="another pen").set_value("Elm").run()
    assert not app.exception
    said = text_of(app)
    assert re.search(r"The 240 eggs of Ash in 10 trays and 240 eggs of Elm .* can pass unseen", said)
    needed = [
        int(re.search(r"set ([\d,]+) eggs of each", text)[1].replace(",", "")) for text in (first, said)
    ]
    assert needed[1] < needed[0] / 2  # twice the difference takes about a quarter


def test_an_empty_store_has_days_and_nothing_else(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = _page(tmp_path / "none.duckdb", monkeypatch)
    assert words_plan.EMPTY in text_of(app)
    app.button_group(key="next").set_value(words_plan.DAYS).run()
    assert not app.exception
    app.multiselect(key="kinds").set_value(["coturnix_quail", "chicken"]).run()
    said = text_of(app)
    assert "do not go together" in said
    assert "16–18.38 days" in said
    assert downloads_of(app) == [words_plan.ICS]
    app.multiselect(key="kinds").set_value([]).run()
    assert words_plan.NO_KIND in text_of(app)


def test_the_picture_of_days_holds_whole_days(tmp_path: Path) -> None:
    answer = plan_dates(tmp_path / "none", date(2026, 3, 1), ["coturnix_quail"])
    _, candle, move, hatch = charts_plan.days_figure(answer, DAY).data
    assert candle.x == (date(2026, 3, 6), date(2026, 3, 9))  # days 5 to 7, to the night of the last
    assert move.x == (date(2026, 3, 16), date(2026, 3, 17))  # day 15
    assert hatch.x == (date(2026, 3, 17), date(2026, 3, 20))  # day 16 to 18.38


def test_no_birds_are_a_sentence(store_of: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> None:
    said = text_of(_page(_farm(store_of, TWO), monkeypatch, next=words_plan.MATES))
    assert words_plan.CANNOT[words_plan.MATES] in said
