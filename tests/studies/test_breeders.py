"""Which breeders to keep, from store to command: the poor pen alone, what is one, what is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from analytics.breeders.ranking import CostRule
from analytics.cli.main import run
from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.reports.breeders_json import breeders_values
from analytics.reports.breeders_text import breeders_text
from analytics.store.connection import create, writing
from analytics.studies.breeders import breeders
from analytics.studies.breeders_records import Breeders
from analytics.values import Period

from .test_causes import FIRST, PENS, Row, farm

ROW = {
    "name", "eggs", "chicks", "rate", "low", "high", "probability_below_target", "chicks_lost_per_100",
    "chicks_per_hen_month", "inbreeding", "advice", "why",
}  # fmt: skip


def _with_parents(sheets: dict[str, list[Row]]) -> dict[str, list[Row]]:
    """The males of the four pens move on by one pen after every eight batches, four weeks."""
    for row in sheets["trays"]:
        turn = int(row["batch"][1:]) // 8
        row["sire"] = f"S{(PENS.index(row['pen']) + turn) % len(PENS)}"
        row["storage_days"] = 2.0
    return sheets


@pytest.fixture(scope="module")
def poor_store(tmp_path_factory: pytest.TempPathFactory, put_rows: Callable[..., None]) -> Path:
    """Rowan's eggs are infertile in 40 of 100; six hens lay 30 eggs in ten days of each month."""
    store = tmp_path_factory.mktemp("breeders") / "poor.duckdb"
    create(store)
    with writing(store) as connection:
        for sheet, rows in farm(poor=("Rowan", "", 0, 0.6)).items():
            put_rows(connection, sheet, rows)
        laid = [
            {"pen": "Rowan", "on": FIRST.replace(day=day + 10), "eggs": 3, "hens": 6} for day in range(10)
        ]
        put_rows(connection, "lay", laid)
    return store


def test_the_poor_pen_is_replaced_and_nobody_else(poor_store: Path) -> None:
    (answer,) = breeders(poor_store, Selection()).answers
    first, *others = answer.rows
    assert (first.standing.name, first.standing.advice) == ("Rowan", "replace")
    assert "replace" not in {row.standing.advice for row in others}
    # planted: .92 of fertile eggs less .60, times .95 x .98 x .96 x .96 of the rest = 27 of 100 eggs
    assert 15 < first.standing.chicks_lost_per_100 < 35
    assert max(first.lost, key=lambda step: first.lost[step]) == "fertile"
    assert "mostly by infertile or clear eggs" in first.why
    assert "Look at the male first" in first.why
    # 3 eggs a day of 6 hens are 15.2 a hen and month (30.4 days), times the own rate
    assert first.chicks_per_hen_month == pytest.approx(15.2 * first.standing.rate, rel=0.01)
    assert others[0].chicks_per_hen_month is None
    assert "replacing Rowan most likely pays" in answer.sentence
    assert any("one here" in note for note in answer.notes)


def test_a_filter_of_pens_shows_rows_and_changes_no_number(poor_store: Path) -> None:
    (every,) = breeders(poor_store, Selection()).answers
    (one,) = breeders(poor_store, Selection(pens=("rowan",))).answers
    assert [row.standing for row in one.rows] == [every.rows[0].standing]


def test_costs_that_never_pay_advise_no_replacement(
    poor_store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["breeders", "--store", str(poor_store), "--replacement-cost", "100000", "--json"]
    assert run(asked) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "penwise.breeders/1"
    assert told["by"] == "pen"
    assert {row["advice"] for row in told["rows"]} == {"keep"}
    assert set(told["rows"][0]) >= ROW


def test_a_male_that_served_in_two_pens_is_told_from_them(
    tmp_path: Path, store_of: Callable[..., Path]
) -> None:
    sheets = _with_parents(farm())
    for row in sheets["trays"]:
        if row["sire"] == "S1":
            row["infertile"] += row["hatched"] // 2
            row["hatched"] -= row["hatched"] // 2
    store = store_of(**sheets)
    (answer,) = breeders(store, Selection(), by="sire").answers
    assert (answer.rows[0].standing.name, answer.rows[0].standing.advice) == ("S1", "replace")
    assert "S1" in breeders_text(breeders(store, Selection(), by="sire"))


def test_a_pen_that_met_no_other_is_neither_kept_nor_replaced(store_of: Callable[..., Path]) -> None:
    home = {"Rowan": "South", **dict.fromkeys(("Alder", "Birch", "Cedar"), "North")}
    (answer,) = breeders(store_of(**farm(poor=("Rowan", "", 0, 0.6), home=home)), Selection()).answers
    row = next(row for row in answer.rows if row.standing.name == "Rowan")
    assert row.standing.advice == "too_few_eggs"
    assert row.why.startswith("Cannot tell: its eggs were set in South without those of any other pen")
    assert any("Plan lays it out" in note for note in answer.notes)
    assert [one.standing.name for one in answer.rows if one.is_alone] == ["Rowan"]
    told = next(
        one
        for one in breeders_values(Breeders("pen", Selection(), None, CostRule(), (answer,), ()))["rows"]
        if one["name"] == "Rowan"
    )
    assert (told["probability_below_target"], told["probability_pays"]) == (None, None)


def test_what_cannot_be_ranked_is_a_sentence(poor_store: Path, store_of: Callable[..., Path]) -> None:
    with pytest.raises(DataTooThin, match="Fewer than two sires are written down"):
        breeders(poor_store, Selection(), by="sire")
    with pytest.raises(WrongUsage, match="ranked by"):
        breeders(poor_store, Selection(), by="machine")
    with pytest.raises(DataTooThin, match="No closed batch"):
        breeders(poor_store, Selection(Period(None, FIRST.date())))
    with pytest.raises(DataTooThin, match="Fewer than two pens"):
        breeders(store_of(**farm(pens=("Rowan",))), Selection())
