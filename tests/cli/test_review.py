"""`penwise review` as it is called: text, JSON, page, filters and refusals."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from analytics.cli.main import run
from seed_demo.build import build_demo

Capture = pytest.CaptureFixture[str]
AT = datetime.fromisoformat
RATE_KEYS = {
    "measure", "base", "count", "eggs", "eggs_set", "clear", "rate", "low", "high", "possible_low",
    "possible_high", "independent_low", "independent_high", "method", "trays", "batches", "left_out", "why",
}  # fmt: skip


@pytest.fixture
def store(store_of: Callable[..., Path]) -> Path:
    return store_of(
        pens=[{"pen": "Rowan", "species": "coturnix_quail"}, {"pen": "Alder", "species": "coturnix_quail"}],
        batches=[
            {"batch": "B1", "incubator": "North", "set_on": AT("2026-03-01"), "pulled_on": AT("2026-03-19")},
            {"batch": "B2", "incubator": "South", "set_on": AT("2026-03-10")},
        ],
        trays=[
            {"batch": "B1", "tray": "1", "pen": "Rowan", "eggs_set": 20, "hatched": 15, "infertile": 2,
             "clear": 1, "early_dead": 2},
            {"batch": "B1", "tray": "2", "pen": "Alder", "eggs_set": 10, "hatched": 8},
            {"batch": "B2", "tray": "1", "pen": "Rowan", "eggs_set": 12},
        ],
        targets=[{"species": "coturnix_quail", "measure": "hatch_of_set", "target": 0.8}],
    )  # fmt: skip


def _json(capsys: Capture, store: Path, *more: str) -> dict[str, Any]:
    assert run(["review", "--store", str(store), "--json", *more]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    return found


def test_text_sets_pens_beside_their_own_year(
    store_of: Callable[..., Path], store: Path, capsys: Capture
) -> None:
    february = {
        "batch": "B0",
        "incubator": "North",
        "set_on": AT("2026-02-01"),
        "pulled_on": AT("2026-02-19"),
    }
    tray = {"batch": "B0", "tray": "1", "pen": "Rowan", "eggs_set": 40, "hatched": 20}
    store_of(batches=[february], trays=[tray])
    assert run(["review", "--store", str(store)]) == 0
    said = capsys.readouterr().out
    assert re.search(r"  Rowan +20 +- +15 +75 % +\S+ % +50 % +\S+ %\n", said)
    assert re.search(r"  Hatch of set +set +30 +77 % +\S+ % +50 % +\S+ % +80 %\n", said)


@pytest.fixture
def two_months(store_of: Callable[..., Path], store: Path) -> Path:
    """The March of `store`, and a February: Rowan hatched 20 of 40."""
    february = {
        "batch": "B0",
        "incubator": "North",
        "set_on": AT("2026-02-01"),
        "pulled_on": AT("2026-02-19"),
    }
    store_of(
        batches=[february],
        trays=[{"batch": "B0", "tray": "1", "pen": "Rowan", "eggs_set": 40, "hatched": 20}],
    )
    return store


def test_another_month_is_set_beside_it(two_months: Path, capsys: Capture) -> None:
    found = _json(capsys, two_months, "--against", "2026-02")
    quail = found["rates"]["coturnix_quail"]
    assert (found["month"], found["against"]) == ("2026-03", "2026-02")
    assert quail["against"]["hatch_of_set"]["rate"] == 0.5
    pens = {pen["pen"]: pen["against"] for pen in quail["pens"]}
    assert (pens["Rowan"]["hatch_of_set"]["count"], pens["Alder"]) == (20, {})
    assert any(line.startswith("February 2026 stands at 50 % of 40 set (") for line in found["headline"])
    assert quail["twelve_before_months"] == 1
    assert any(
        line.startswith("The twelve months before (1 of them with a hatch) stand at 50 %")
        for line in found["headline"]
    )
    back = _json(capsys, two_months, "--month", "2026-02", "--against", "2026-03")
    assert back["rates"]["coturnix_quail"]["against"]["hatch_of_set"]["rate"] == 23 / 30


def test_the_month_beside_it_stands_in_text_and_page(
    two_months: Path, tmp_path: Path, capsys: Capture
) -> None:
    page = tmp_path / "month.html"
    assert run(["review", "--store", str(two_months), "--against", "2026-02", "--html", str(page)]) == 0
    assert "beside February 2026</caption>" in page.read_text(encoding="utf-8")
    assert ">Feb 2026</th>" in page.read_text(encoding="utf-8")
    assert run(["review", "--store", str(two_months), "--against", "2026-02"]) == 0
    said = capsys.readouterr().out
    assert re.search(r"rate +of +eggs +this month +range +Feb 2026 +range +aim", said)
    assert re.search(r"  Rowan +20 +- +15 +75 % +\S+ % +50 % +\S+ %\n", said)


def test_a_month_without_a_hatch_has_nothing_to_set_beside(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--against", "2025-07")
    assert "July 2025 holds no hatch to set it beside." in found["headline"]
    assert found["rates"]["coturnix_quail"]["against"] == {}


def test_an_aim_given_stands_in_place_of_the_sheets(store: Path, capsys: Capture) -> None:
    assert _json(capsys, store)["rates"]["coturnix_quail"]["targets"] == {"hatch_of_set": 0.8}
    found = _json(capsys, store, "--target", "0.7")
    assert found["rates"]["coturnix_quail"]["targets"] == {"hatch_of_set": 0.7}
    assert run(["review", "--store", str(store), "--target", "0.65"]) == 0
    assert re.search(r"  Hatch of set +set +30 +77 % .* 65 %\n", capsys.readouterr().out)


def test_tables_are_written_as_a_workbook(two_months: Path, tmp_path: Path, capsys: Capture) -> None:
    book = tmp_path / "month.xlsx"
    assert run(["review", "--store", str(two_months), "--xlsx", str(book)]) == 0
    assert capsys.readouterr().err == f"Written: {book}\n"
    rates = openpyxl.load_workbook(book)["rates"]
    rows = [[cell.value for cell in row] for row in rates.iter_rows()]
    hatch = next(dict(zip(rows[0], row, strict=True)) for row in rows if row[1] == "Hatch of set")
    assert (hatch["this month"], hatch["eggs"], hatch["counted"], hatch["beside"]) == (23 / 30, 30, 23, 0.5)


def test_text_says_what_it_is_only_about(store: Path, capsys: Capture) -> None:
    assert run(["review", "--store", str(store), "--pen", "Rowan", "--from", "2026-03-02"]) == 0
    assert capsys.readouterr().out.startswith(
        "March 2026\n\nOnly pen Rowan. Hatches from 2 March 2026.\n\nOf 20 Coturnix quail eggs of this"
    )


def test_json_has_its_keys(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store, "--month", "2026-03")
    assert found["schema"] == "penwise.review/1"
    assert {"month", "headline", "rates", "data_gaps", "open_batches", "months", "as_of", "selection"} < set(
        found
    )
    assert (found["month"], found["months"]) == ("2026-03", ["2026-03"])
    quail = found["rates"]["coturnix_quail"]
    assert {"eggs_set", "chicks", "month", "before", "pens", "targets"} <= set(quail)
    assert len(quail["before"]) == 12
    assert quail["before"][0] == {"month": "2025-03", "rates": {}}
    for rate in quail["month"].values():
        assert set(rate) == RATE_KEYS
        assert rate["rate"] is not None or rate["why"]
    assert quail["month"]["hatch_of_set"]["rate"] == 23 / 30  # unrounded
    assert quail["month"]["hatch_of_set"]["base"] == "of set"
    assert quail["month"]["fertility"]["rate"] is None


def test_what_cannot_be_told_is_said_beside_it(store: Path, capsys: Capture) -> None:
    found = _json(capsys, store)
    assert (found["signals"], found["actions"]) == ([], [])
    assert [found[part] for part in ("causes", "changes", "breeders")] == [None] * 3
    assert found["signals_note"].startswith("No month can be a signal yet")
    assert found["changes_note"] == "No change with a date is written down for this selection."
    for part in ("causes", "breeders"):
        assert found[f"{part}_note"].startswith("Only one batch of Coturnix quail has hatched")
    assert found["look_first"][0] == f"What stands out cannot be told yet. {found['causes_note']}"
    # B2, set on 10 March, is the only batch in; day 18 is 28 March, long before the day of this test
    assert [one["source"] for one in found["attention"]] == ["machines"]
    assert found["outlook"]["due"] == []


def test_an_earlier_month_is_judged_by_nothing_that_came_after_it(two_months: Path, capsys: Capture) -> None:
    """On 28 February neither B1, set on 1 March, nor B2 was in; B1 is in on 10 March."""
    found = _json(capsys, two_months, "--month", "2026-02")
    assert (found["as_of"], found["open_batches"]) == ("2026-02-28", [])
    later = _json(capsys, two_months, "--month", "2026-02", "--as-of", "2026-03-10")
    assert [batch["batch"] for batch in later["open_batches"]] == ["B1", "B2"]
    (due,) = later["outlook"]["due"]
    assert (due["eggs"], due["batches"], due["first_day"]) == (42, ["B1", "B2"], "2026-03-17")
    # Rowan hatched 20 of 40, and nobody else: all 42 eggs are expected at .5
    assert due["chicks"] == pytest.approx(21)


def test_a_noted_change_comes_back_as_an_action(two_months: Path, capsys: Capture) -> None:
    noted = ["note", "New male", "--on", "2026-02-25", "--target", "Rowan", "--store", str(two_months)]
    assert run(noted) == 0
    capsys.readouterr()
    assert _json(capsys, two_months, "--month", "2026-03")["actions"][0]["what"] == "New male"
    (action,) = _json(capsys, two_months, "--month", "2026-02")["actions"]
    assert (action["changed_on"], action["targets"]) == ("2026-02-25", ["Rowan"])
    assert action["why"]
    assert set(action["verdicts"].values()) == {"cannot_tell"}
    assert run(["review", "--store", str(two_months), "--month", "2026-02"]) == 0
    assert "- Cannot be told: New male in Rowan (25 Feb 2026)." in capsys.readouterr().out


def test_filters_reach_the_answer_and_stand_in_it(store: Path, capsys: Capture) -> None:
    asked = ("--pen", "alder", "--from", "2026-03-01", "--to", "2026-03-31", "--species", "coturnix_quail")
    found = _json(capsys, store, *asked, "--incubator", "NORTH")
    assert found["selection"] == {
        "from": "2026-03-01",
        "to": "2026-03-31",
        "species": ["coturnix_quail"],
        "pens": ["alder"],
        "incubators": ["NORTH"],
    }
    assert found["rates"]["coturnix_quail"]["eggs_set"] == 10
    assert found["open_batches"] == []


def test_text_says_rates_with_bases_pens_open_batches_and_gaps(store: Path, capsys: Capture) -> None:
    assert run(["review", "--store", str(store)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("March 2026\n\nOf 30 Coturnix quail eggs set")
    rate = r"  Hatch of set +set +30 +77 % +\d+–\d+ % +- +- +80 %"
    assert re.search(rate, said)
    assert re.search(r"  Fertility +set less cracked +- +- +\d+–\d+ %", said)
    assert re.search(r"  Alder +10 +- +8 +80 % ", said)
    assert re.search(r"  B2 +South +Coturnix quail +12 +10 Mar 2026 ", said)
    assert "Clear and not told apart" in said
    assert max(map(len, said.splitlines())) <= 100


def test_open_batches_are_looked_at_on_the_day_asked_for(store: Path, capsys: Capture) -> None:
    # B2 was set on 10 March; Coturnix quail are due on day 18 at the latest: 28 March.
    early = _json(capsys, store, "--as-of", "2026-03-28")
    late = _json(capsys, store, "--as-of", "2026-04-02")
    assert [found["open_batches"][0]["overdue_days"] for found in (early, late)] == [0, 5]
    assert (early["as_of"], late["as_of"]) == ("2026-03-28", "2026-04-02")


def test_page_is_written_and_stdout_stays_for_json(store: Path, tmp_path: Path, capsys: Capture) -> None:
    page = tmp_path / "month.html"
    assert run(["review", "--store", str(store), "--html", str(page)]) == 0
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", f"Written: {page}\n")
    assert page.read_text(encoding="utf-8").startswith("<!doctype html>")
    assert run(["review", "--store", str(store), "--html", str(page), "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["month"] == "2026-03"


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        (["--month", "March"], 2, "A month is written YYYY-MM"),
        (["--from", "2026-03-02", "--to", "2026-03-01"], 2, "A period ends on or after its first day"),
        (["--from", "soon"], 2, "is not a day"),
        (["--as-of", "today"], 2, "is not a day"),
        (["--html", "/nowhere/at/all.html"], 2, "It cannot be written"),
        (["--xlsx", "/nowhere/at/all.xlsx"], 2, "It cannot be written"),
        (["--against", "March"], 2, "A month is written YYYY-MM"),
        (["--against", "2026-03"], 2, "A month is set beside another"),
        (["--target", "80"], 2, "not in the range"),
        (["--target", "0"], 2, "not in the range"),
        (["--store", "/nowhere/at/all.duckdb"], 4, "No store at"),
    ],
)
def test_refusals_are_sentences(
    store: Path, capsys: Capture, arguments: list[str], code: int, said: str
) -> None:
    assert run(["review", "--store", str(store), *arguments]) == code
    told = capsys.readouterr()
    assert said in told.err
    assert "Traceback" not in told.err
    assert told.out == ""


def test_empty_store_is_answered(store_of: Callable[..., Path], capsys: Capture) -> None:
    empty = store_of()
    found = _json(capsys, empty, "--month", "2026-03")
    assert found["headline"] == ["No batch has hatched yet in these records."]
    assert (found["rates"], found["months"], found["data_gaps"]) == ({}, [], [])
    assert run(["review", "--store", str(empty)]) == 0
    assert "No batch has hatched yet in these records." in capsys.readouterr().out


@pytest.mark.slow
def test_the_demo_is_looked_at_on_its_own_last_day_and_names_the_failing_male_first(
    tmp_path: Path, capsys: Capture
) -> None:
    """Hazel's male fails from June 2026 on; batch M33 was forgotten in its machine."""
    build_demo(tmp_path / "demo.duckdb")
    page, book = tmp_path / "month.html", tmp_path / "month.xlsx"
    asked = ["--json", "--html", str(page), "--xlsx", str(book)]
    assert run(["review", "--store", str(tmp_path / "demo.duckdb"), *asked]) == 0
    printed = capsys.readouterr()
    assert "These records are invented; they are looked at on 31 October 2026." in printed.err
    found = json.loads(printed.out)
    assert found["as_of"] == "2026-10-31"
    first = found["look_first"]
    assert first[0] == "Look at Hazel first."
    assert first[1].startswith("More of Hazel's eggs were infertile or clear than of a typical pen's from ")
    assert " this month. Strong evidence." in first[1]
    assert first[2].startswith("Next: look at the male")
    assert any(line.startswith("Batch M33 in Chalk is 25 days past its time.") for line in first)
    assert len(first) <= 7
    assert found["lead"] == "Look at Hazel first."
    hazel, *_, overdue = found["attention"]
    assert (hazel["who"], hazel["strength"], overdue["who"]) == ("Hazel", "clear", "batch M33")
    assert len(found["attention"]) <= 7
    calcium, *others = found["actions"]
    assert (calcium["what"], calcium["targets"]) == ("calcium supplement", ["Larch", "Rowan"])
    assert [one["step"] for one in calcium["effect"]] == ["shell"]
    assert calcium["effect"][0]["verdict"] == "worse"
    assert not any(one["effect"] for one in others)  # nothing else that was changed did anything
    told = found["breeders"]["rows"]
    assert [row["name"] for row in told if row["advice"] == "replace"] == ["Hazel"]
    # Q103 was set on 20 October and is due from day 16 on
    assert [one["batches"] for one in found["outlook"]["due"]] == [["Q103"]]
    assert sum(pen["females"] for pen in found["outlook"]["birds"]) == 4 * 6 + 5 + 6 * 2
    (quail,) = found["causes"]["species"]
    assert sum(group["eggs"] for group in quail["groups"]) == pytest.approx(quail["shortfall"]["eggs"])
    assert quail["hatched"] == 281
    hazel = quail["findings"][0]
    assert (hazel["level"], hazel["step"], hazel["strength"]) == ("Hazel", "fertile", "clear")
    assert len(quail["findings"]) <= 5
    _holds_the_demo(openpyxl.load_workbook(book))
    text = page.read_text(encoding="utf-8")
    headings = re.findall(r"<h2>(.*?)</h2>", text)
    assert headings[:6] == [
        "What needs attention", "Did the changes work", "Which breeders", "What to do next", "What is ahead",
        "What the records leave open",
    ]  # fmt: skip
    assert not re.search(r"https?://|url\(|@import|<script|<link|<img", text)


def _holds_the_demo(book: openpyxl.Workbook) -> None:
    """Every table has rows, no cell is a formula, and the numbers are those of the answer."""
    tables = {
        name: [[cell.value for cell in row] for row in book[name].iter_rows()] for name in book.sheetnames
    }
    assert {
        "attention", "rates", "pens", "signals", "changes", "breeders", "outlook", "gaps", "sources",
        "method",
    } < set(tables)  # fmt: skip
    assert all(len(rows) > 1 for rows in tables.values())
    assert not any(cell.data_type == "f" for name in tables for row in book[name].iter_rows() for cell in row)
    heading, *rows = tables["breeders"]
    advice = {row[heading.index("pen")]: row[heading.index("advice")] for row in rows}
    assert advice["Hazel"] == "replace"
    heading, *rows = tables["changes"]
    called = [
        (row[1], row[2], row[3]) for row in rows if row[heading.index("verdict")] in ("better", "worse")
    ]
    assert called == [("calcium supplement", "Larch and Rowan", "out of the shell")]
