"""Sires told from their pens where two were exchanged, one with them elsewhere, and eggs of an open sire."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from analytics.cli.common import plain
from analytics.options import Selection
from analytics.reports.breeders_json import breeders_values
from analytics.reports.breeders_text import breeders_text
from analytics.reports.causes_text import causes_text
from analytics.store.connection import create, writing
from analytics.studies.breeders import breeders
from analytics.studies.breeders_records import Breeders
from analytics.studies.causes import causes
from analytics.studies.causes_data import loss_data
from analytics.studies.ledger_drawn import Kept
from analytics.values import Period

from .test_causes import FIRST, PASSING, STAGES, Row, farm

ALL = Selection(Period(FIRST.date(), None))
BAD, GOOD = "Bramble", "Clover"
WEEKS, EXCHANGED = 24, 12


def _male(pen: str, week: int) -> str:
    """Two males change pens after half of the weeks; the others stay."""
    if pen not in ("Rowan", "Alder"):
        return f"{pen} male"
    return BAD if (pen == "Rowan") == (week < EXCHANGED) else GOOD


def _exchanged(fertile: float) -> dict[str, list[Row]]:
    """Four pens in two machines, 24 weeks; the bad male fertilises that share of the eggs."""
    sheets = farm(batches=2 * WEEKS, seed=3)
    random = np.random.default_rng(8)
    for row in sheets["trays"]:
        row["sire"] = _male(row["pen"], int(row["batch"][1:]) // 2)
        row["storage_days"] = 3.0
        if row["sire"] == BAD:
            left = row["eggs_set"]
            for stage, rate in zip(STAGES, (fertile, *PASSING[1:]), strict=True):
                passed = int(random.binomial(left, rate))
                row[stage], left = left - passed, passed
            row["hatched"] = left
    return sheets


def _filled(store: Path, put_rows: Callable[..., None], sheets: dict[str, list[Row]]) -> Path:
    create(store)
    with writing(store) as connection:
        for sheet, rows in sheets.items():
            put_rows(connection, sheet, rows)
    return store


@pytest.fixture(scope="module")
def exchanged(tmp_path_factory: pytest.TempPathFactory, put_rows: Callable[..., None]) -> Path:
    return _filled(tmp_path_factory.mktemp("sires") / "two.duckdb", put_rows, _exchanged(0.6))


@pytest.fixture(scope="module")
def kept() -> Kept:
    return Kept()


@pytest.fixture(scope="module")
def by_sire(exchanged: Path, kept: Kept) -> Breeders:
    return breeders(exchanged, ALL, by="sire", kept=kept)


def test_a_bad_male_in_two_pens_is_found_as_the_male(by_sire: Breeders, exchanged: Path, kept: Kept) -> None:
    rows = {row.standing.name: row for row in by_sire.answers[0].rows}
    assert {name for name, row in rows.items() if row.standing.advice == "replace"} == {BAD}
    # planted: .92 of eggs fertile less .60, times what becomes of fertile ones = 27 of 100 eggs
    assert 15 < rows[BAD].standing.chicks_lost_per_100 < 35
    assert rows[GOOD].standing.advice == "keep"
    assert rows[BAD].one_with == rows[GOOD].one_with == ()
    assert rows[BAD].pens == ("Alder", "Rowan")
    assert rows["Birch male"].one_with == ("Birch",)
    assert "Pen, sire and dams are one here: what is said is said of Birch" in rows["Birch male"].why
    (of_pens,) = breeders(exchanged, ALL, kept=kept).answers
    assert "replace" not in {row.standing.advice for row in of_pens.rows}
    one, apart = of_pens.notes[:2]
    assert one.startswith(
        "Pen, sire and dams are one in Birch (sire Birch male) and Cedar (sire Cedar male): no tray"
    )
    assert apart.startswith(f"Told from their pens: the sires {BAD} and {GOOD}.")


def test_losses_find_the_male_and_not_his_pens(exchanged: Path, kept: Kept) -> None:
    found = causes(exchanged, ALL, target=0.8, kept=kept)
    first = found.answers[0].findings[0].item
    assert (first.factor, first.level, first.step) == ("sire", BAD, "fertile")
    assert first.p_value < 0.001
    assert not [one for one in found.answers[0].findings if one.item.level in ("Rowan", "Alder")]
    assert "In Birch and Cedar the male's part is the pen's" in " ".join(causes_text(found).split())


def test_eggs_laid_too_soon_after_the_exchange_count_for_no_sire(by_sire: Breeders) -> None:
    """Eggs of week w are set on Monday w and laid three days before; the first of the new male is week 12's.

    He came on that Friday at the latest, and quails' eggs are open for ten days after: of weeks 12 and 13
    (7 days later), not of week 14 (14 days later). Two machines, two pens, 24 eggs a tray.
    """
    answer = by_sire.answers[0]
    (left,) = answer.parents.left_out
    assert (left.why, left.trays, left.eggs) == ("after_change", 2 * 2 * 2, 2 * 2 * 2 * 24)
    assert answer.parents.open_days == 10
    eggs = {row.standing.name: row.standing.eggs for row in answer.rows}
    assert eggs[BAD] == eggs[GOOD] == (WEEKS - 2) * 2 * 24
    assert eggs["Birch male"] == WEEKS * 2 * 24
    note = next(one for one in answer.notes if one.startswith("Left out of the sires"))
    assert "of 4,608 eggs: 192 eggs (8 trays) were laid in the days of a change of males" in note
    assert "Reddish" in note


def test_json_names_who_is_one_and_who_is_left_out(by_sire: Breeders) -> None:
    told = json.loads(json.dumps(plain(breeders_values(by_sire))))
    assert told["parents"]["one"] == [
        {"pen": "Birch", "sires": ["Birch male"], "dams": []},
        {"pen": "Cedar", "sires": ["Cedar male"], "dams": []},
    ]
    assert told["parents"]["told_apart"] == {"sires": [BAD, GOOD], "dams": []}
    assert told["parents"]["sire_left_out"] == [{"why": "after_change", "trays": 8, "eggs": 192.0}]
    assert told["parents"]["fertile_period"] == {"days": 10, "source": "reddish_1996"}
    assert {row["advice"] for row in told["rows"]} <= {"keep", "watch", "replace", "too_few_eggs"}
    assert "cannot tell yet" not in breeders_text(by_sire)


def _by_hand() -> dict[str, list[Row]]:
    """Three batches, each with a tray of three pens; Ash and Elm exchange males on 1 February.

    Only the stays say who was where; no tray names a sire, and one has no days.
    """
    days = {"one": date(2026, 1, 10), "two": date(2026, 2, 5), "three": date(2026, 2, 25)}
    trays = [
        {"batch": batch, "tray": pen, "pen": pen, "eggs_set": 20, "hatched": 12, "infertile": 8,
         "laid_from": None if (batch, pen) == ("three", "Elm") else day.replace(day=day.day - 4),
         "laid_to": None if (batch, pen) == ("three", "Elm") else day.replace(day=day.day - 1)}
        for batch, day in days.items() for pen in ("Ash", "Elm", "Oak")
    ]  # fmt: skip
    stays = [("Ash", "Red", "2026-01-01", "2026-01-31"), ("Elm", "Red", "2026-02-01", None),
             ("Elm", "Blue", "2026-01-01", "2026-01-31"), ("Ash", "Blue", "2026-02-01", None),
             ("Oak", "Grey", "2026-01-01", None)]  # fmt: skip
    return {
        "pens": [{"pen": pen, "species": "coturnix_quail"} for pen in ("Ash", "Elm", "Oak")],
        "incubators": [{"incubator": "North"}],
        "batches": [
            {"batch": name, "incubator": "North", "set_on": day,
             "pulled_on": day.replace(month=day.month + 1)}
            for name, day in days.items()
        ],
        "birds": [{"bird": bird, "sex": "m"} for bird in ("Red", "Blue", "Grey")],
        "pen_birds": [dict(zip(("pen", "bird", "from", "to"), stay, strict=True)) for stay in stays],
        "trays": trays,
    }  # fmt: skip


def test_sires_come_from_the_birds_that_stood_in_the_pen(store_of: Callable[..., Path]) -> None:
    (data,) = loss_data(store_of(**_by_hand()), Selection(), None)
    label = data.ladder.labels
    found = dict(
        zip(
            zip(label["batch"].tolist(), label["pen"].tolist(), strict=True),
            label["sire"].tolist(),
            strict=True,
        )
    )
    # laid 6 to 9 January; 1 to 4 February, within ten days after 31 January; 21 to 24 February
    assert found == {
        ("one", "Ash"): "Red", ("one", "Elm"): "Blue", ("one", "Oak"): "Grey",
        ("two", "Ash"): "", ("two", "Elm"): "", ("two", "Oak"): "Grey",
        ("three", "Ash"): "Blue", ("three", "Elm"): "", ("three", "Oak"): "Grey",
    }  # fmt: skip
    assert data.parents.left_out(data.ladder) == {"open": (2, 40.0), "undated": (1, 20.0)}
    camps = {(camp.pens, camp.birds) for camp in data.parents.camps["sire"]}
    # Elm's eggs of Red are open or undated: Blue joins the two pens, Red is Ash's alone beside him
    assert camps == {(("Ash", "Elm"), ("Blue", "Red")), (("Oak",), ("Grey",))}
    terms = dict(
        zip(zip(label["batch"].tolist(), label["pen"].tolist(), strict=True),
            data.parents.apart["sire"].tolist(), strict=True)
    )  # fmt: skip
    # who is one with his pen has no term; eggs of an open sire are no middling male's
    assert terms["one", "Ash"] == "Red"
    assert terms["one", "Oak"] == ""
    assert terms["two", "Elm"] == terms["three", "Elm"] != terms["two", "Ash"]
    assert data.parents.told_apart("sire") == ("Blue", "Red")
