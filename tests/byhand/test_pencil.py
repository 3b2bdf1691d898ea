"""A month of three pens worked out with a pencil, from the written sheets to the review's JSON.

The sheets stand in tests/byhand/sheets. March 2026, Coturnix quail; two batches hatched, B1 in North and B2
in South; B3 is still in the machine; tray B2/4 was written down by mistake and is withdrawn. A point is a
blank.

    tray  pen    set  hat cul  inf cle  ear mid lat int ext  rot cra not
    B1/1  Rowan   20   14   1    2   0    1   0   1   0   1    0   0   0   adds up to 20
    B1/2  Alder   20   12   0    3   .    1   .   2   .   .    .   2   .   adds up to 20: its blanks are none
    B1/3  Hazel   16   10   .    1   2    1   0   1   0   1    .   .   .   adds up to 16
    B2/1  Rowan   22   15   .    2   .    2   0   1   0   0    .   .   2   adds up to 22
    B2/2  Alder   18    9   .    .   .    .   .   .   .   .    .   .   .   9 left over: in no column
    B2/3  Hazel   12    .   .    .   .    .   .   .   .   .    .   .   .   no hatch: in no rate
    B2/5  Hazel   14    8   .    .   .    .   .   .   .   .    .   .   .   4 opened eggs: 2 early,
                                                                          1 infertile, 1 late; 2 left over

Rowan. Set 20 + 22 = 42, hatched 15 + 15 = 30. B2/1 opened 5 of its 7: its 2 closed eggs count as 2 x 2/5
    infertile, 2 x 2/5 early, 2 x 1/5 late = 0.8, 0.8, 0.4. Infertile 4.8, fertile 42 - 4.8 = 37.2;
    early 3 + 0.8 = 3.8, late 2.4, in the shell 1, hatched 30; 3.8 + 2.4 + 1 + 30 = 37.2.
Alder. Set 20 + 18 = 38, hatched 12 + 9 = 21. Only B1/2 tells fertility: 20 - 2 cracked = 18, 3 infertile,
    fertile 15 = 12 hatched + 1 early + 2 late.
Hazel. Set with a hatch 16 + 14 = 30, hatched 18. Not opened 2, clear 2, infertile 2: fertile is anything
    from 30 - 2 - 2 - 2 = 24 to 30 - 2 = 28, so hatch of fertile from 18/28 to 18/24. Early dead at least 3
    of 26 (clear ones infertile, closed ones late: fertile 26), at most 3 + 2 + 2 = 7 of 28.
All. Set with a hatch 42 + 38 + 30 = 110, hatched 30 + 21 + 18 = 69, kept 29 + 21 + 18 = 68. With fertility
    told: followed 42 + 18 + 30 = 90, infertile 4 + 3 + 2 = 9, closed 2 + 2 = 4, clear 2; fertile from
    90 - 9 - 4 - 2 = 75 to 90 - 9 = 81; hatched of them 30 + 12 + 18 = 60.
Culled are known where written or where the tray adds up: 1 of the 15 + 12 + 10 + 15 chicks of B1/1, B1/2,
    B1/3, B2/1.
Rotten are known of B1/1, B1/2, B1/3, B2/1, B2/5: none of 20 + 20 + 16 + 22 + 14 = 92.
"""

from __future__ import annotations

import json
import math
from datetime import UTC, date, datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.main import run

SHEETS = Path(__file__).with_name("sheets")
Reviewed = dict[str, Any]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = tmp_path_factory.mktemp("pencil") / "pencil.duckdb"
    assert run(["load", str(SHEETS), "--store", str(store)]) == 0
    assert run(["withdraw", "trays", "B2", "4", "--why", "another pen's eggs", "--store", str(store)]) == 0
    return store


def _review(store: Path, capsys: pytest.CaptureFixture[str], *more: str) -> Reviewed:
    capsys.readouterr()
    assert run(["review", "--store", str(store), "--json", *more]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    found: Reviewed = json.loads(said.out)
    return found


def _quail(review: Reviewed) -> dict[str, Any]:
    species: dict[str, Any] = review["rates"]["coturnix_quail"]
    return species


def _pen(review: Reviewed, label: str) -> dict[str, Any]:
    (pen,) = [pen for pen in _quail(review)["pens"] if pen["pen"] == label]
    return pen


ROWAN = {
    "fertility": (Fraction("37.2"), 42, 0),
    "hatch_of_set": (30, 42, 0),
    "saleable_of_set": (29, 42, 0),
    "cull_rate": (1, 30, 0),
    "hatch_of_fertile": (30, Fraction("37.2"), 0),
    "early_loss": (Fraction("3.8"), Fraction("37.2"), 0),
    "mid_loss": (0, Fraction("37.2"), 0),
    "late_loss": (Fraction("2.4"), Fraction("37.2"), 0),
    "shell_loss": (1, Fraction("37.2"), 0),
    "rotten": (0, 42, 0),
}
ALDER = {
    "fertility": (15, 18, 1),
    "hatch_of_set": (21, 38, 0),
    "saleable_of_set": (21, 38, 0),
    "cull_rate": (0, 12, 1),
    "hatch_of_fertile": (12, 15, 1),
    "early_loss": (1, 15, 1),
    "mid_loss": (0, 15, 1),
    "late_loss": (2, 15, 1),
    "shell_loss": (0, 15, 1),
    "rotten": (0, 20, 1),
}
HAZEL = {
    "hatch_of_set": (18, 30, 1),
    "saleable_of_set": (18, 30, 1),
    "cull_rate": (0, 10, 2),
    "rotten": (0, 30, 1),
}
ALL = {
    "hatch_of_set": (69, 110, 1),
    "saleable_of_set": (68, 110, 1),
    "cull_rate": (1, 52, 3),
    "rotten": (0, 92, 2),
}


@pytest.mark.parametrize(
    ("label", "pencil"), [("Rowan", ROWAN), ("Alder", ALDER), ("Hazel", HAZEL), ("", ALL)]
)
def test_rates(
    store: Path,
    capsys: pytest.CaptureFixture[str],
    label: str,
    pencil: dict[str, tuple[Fraction | int, Fraction | int, int]],
) -> None:
    review = _review(store, capsys, "--month", "2026-03")
    rates = _pen(review, label)["month"] if label else _quail(review)["month"]
    for measure, (k, n, left_out) in pencil.items():
        found = rates[measure]
        assert found["count"] == pytest.approx(float(k), abs=1e-12), measure
        assert found["eggs"] == pytest.approx(float(n)), measure
        assert found["rate"] == pytest.approx(float(Fraction(k) / Fraction(n)), abs=1e-12), measure
        assert found["left_out"] == left_out, measure
        assert found["low"] <= found["rate"] <= found["high"], measure


def test_what_clear_and_closed_eggs_leave_open(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    review = _review(store, capsys, "--month", "2026-03")
    hazel, everything = _pen(review, "Hazel")["month"], _quail(review)["month"]
    for rate, low, high in (
        (hazel["fertility"], Fraction(24, 30), Fraction(28, 30)),
        (hazel["hatch_of_fertile"], Fraction(18, 28), Fraction(18, 24)),
        (hazel["early_loss"], Fraction(3, 26), Fraction(7, 28)),
        (everything["fertility"], Fraction(75, 90), Fraction(81, 90)),
        (everything["hatch_of_fertile"], Fraction(60, 81), Fraction(60, 75)),
    ):
        assert rate["rate"] is None
        assert rate["why"]
        assert (rate["possible_low"], rate["possible_high"]) == pytest.approx((float(low), float(high)))
        assert rate["low"] < float(low)
        assert float(high) < rate["high"]
        assert rate["clear"] == 2


def test_totals_and_identity(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    review = _review(store, capsys, "--month", "2026-03")
    quail = _quail(review)
    assert (quail["eggs_set"], quail["chicks"], quail["batches"]) == (110 + 12, 69, 2)
    assert [(p["pen"], p["eggs_set"], p["chicks"]) for p in quail["pens"]] == [
        ("Alder", 38, 21),
        ("Hazel", 42, 18),
        ("Rowan", 42, 30),
    ]
    assert quail["targets"] == {"hatch_of_set": 0.7}
    rowan = _pen(review, "Rowan")["month"]
    product = rowan["fertility"]["rate"] * rowan["hatch_of_fertile"]["rate"]
    assert product == pytest.approx(rowan["hatch_of_set"]["rate"])  # nothing was cracked


def test_the_range_as_if_every_egg_were_alone(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Wilson 1927, J. Am. Stat. Assoc. 22:209-212 (from memory), put in with 69 of 110 and z = 1.959964."""
    found = _quail(_review(store, capsys, "--month", "2026-03"))["month"]["hatch_of_set"]
    p, n, z = 69 / 110, 110, 1.959964
    middle = (p + z**2 / (2 * n)) / (1 + z**2 / n)
    half = z / (1 + z**2 / n) * math.sqrt(p * (1 - p) / n + z**2 / (4 * n**2))
    assert found["independent_low"] == pytest.approx(middle - half, abs=1e-6)
    assert found["independent_high"] == pytest.approx(middle + half, abs=1e-6)
    assert found["low"] < found["independent_low"]
    assert found["independent_high"] < found["high"]


def test_the_open_batch_is_in_no_rate_but_listed(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Set on 21 March; Coturnix take 16 to 18.4 days in the sources: due 6 to 8 April."""
    earliest = _days_since_due()
    (batch,) = _review(store, capsys, "--month", "2026-03")["open_batches"]
    assert (batch["batch"], batch["incubator"], batch["eggs_set"]) == ("B3", "North", 34)
    assert (batch["set_on"], batch["due_from"], batch["due_to"]) == ("2026-03-21", "2026-04-06", "2026-04-08")
    assert batch["overdue_days"] in (earliest, _days_since_due())


def _days_since_due() -> int:
    return max((datetime.now(UTC).astimezone().date() - date(2026, 4, 8)).days, 0)


def test_gaps(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    gaps = _review(store, capsys, "--month", "2026-03")["data_gaps"]
    assert [(gap["what"].partition(":")[0], gap["where"]) for gap in gaps[:6]] == [
        ("No hatch count in a batch that was taken out", ["B2 / 3"]),
        ("In no column, neither hatched nor counted among the unhatched", ["B2 / 2", "B2 / 5"]),
        ("Not hatched and not opened, so that their stage is not known", ["B2 / 1"]),
        ("Clear and not told apart, infertile or dead before anything showed", ["B1 / 3"]),
        ("Neither `storage_days` nor laying days", ["B2 / 3"]),
        ("No reading beside a reference thermometer in 90 days", ["South"]),
    ]
    assert "11 eggs in 2 trays" in gaps[1]["what"]  # 9 and 2


def test_headline(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    said = _review(store, capsys, "--month", "2026-03")["headline"]
    assert said[0].startswith(
        "Of 110 Coturnix quail eggs set in batches that hatched in March 2026, 69 hatched: 63 % of set ("
    )
    assert said[0].endswith("1 tray without a hatch count is left out.")
    assert said[1] == "The twelve months before hold no hatch to set it beside."


def test_a_month_later_the_same_numbers_stand_before(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    march = _quail(_review(store, capsys, "--month", "2026-03"))
    april_review = _review(store, capsys, "--month", "2026-04")
    april = _quail(april_review)
    assert april["eggs_set"] == 0
    assert april["month"] == {}
    assert april["before"][-1]["month"] == "2026-03"
    counts = {measure: (rate["count"], rate["eggs"]) for measure, rate in march["month"].items()}
    then = april["before"][-1]["rates"]
    assert {measure: (rate["count"], rate["eggs"]) for measure, rate in then.items()} == counts
    assert april_review["headline"][0] == "No batch hatched in April 2026."
    assert april_review["months"] == ["2026-03"]


@pytest.mark.parametrize(
    ("filters", "k", "n"),
    [
        (["--incubator", "north"], 15 + 12 + 10, 20 + 20 + 16),
        (["--pen", "ALDER", "--pen", "Rowan"], 21 + 30, 38 + 42),
        (["--from", "2026-03-21"], 15 + 9 + 8, 22 + 18 + 14),
        (["--from", "2026-03-20", "--to", "2026-03-20"], 37, 56),
    ],
)
def test_filters(store: Path, capsys: pytest.CaptureFixture[str], filters: list[str], k: int, n: int) -> None:
    found = _quail(_review(store, capsys, "--month", "2026-03", *filters))["month"]["hatch_of_set"]
    assert (found["count"], found["eggs"]) == (k, n)
