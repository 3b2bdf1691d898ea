"""What of a month is looked at first: the surest and largest, each name once, at most seven lines."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

from analytics.attribution.ledger import ItemLine
from analytics.options import Selection
from analytics.studies.causes_records import CauseFinding
from analytics.studies.month_losses import NOTHING, month_losses, of_month
from analytics.studies.records import MonthReview, OpenBatch
from analytics.values import Month, Period

DAY = date(2026, 3, 1)


def _review(*overdue: int, selection: Selection | None = None) -> MonthReview:
    batches = tuple(OpenBatch(f"B{days}", "North", ("chicken",), 10, DAY, DAY, DAY, days) for days in overdue)
    return MonthReview(
        Month(2026, 3), selection or Selection(), ("20 of 30 hatched.",), (), batches, (), (), DAY
    )


def _found(level: str, strength: str, eggs: float, factor: str = "pen", check: str = "") -> CauseFinding:
    firm = {"clear": "M", "likely": "Likely: m", "hint": "Only a hint: m"}[strength]
    item = ItemLine("flock", factor, level, "fertile", eggs, eggs - 2, eggs + 2, 0.001)
    chicks = f"about {eggs:.0f} chicks ({eggs - 2:.0f} to {eggs + 2:.0f})"
    said = f"{firm}ore of {level}'s eggs were infertile: {chicks}."
    return CauseFinding(item, 0.01, strength, said, check)


def _lines(*findings: CauseFinding, overdue: tuple[int, ...] = (), species: int = 1) -> tuple[str, ...]:
    answers = [
        SimpleNamespace(species="chicken", findings=findings),
        SimpleNamespace(species="emu", findings=()),
    ]
    found: Any = SimpleNamespace(answers=answers[:species])
    return month_losses(_review(*overdue), found).first


def test_the_surest_comes_first_and_then_the_most_chicks() -> None:
    said = _lines(
        _found("Alder", "hint", 40), _found("Birch", "clear", 9, check="Look at the male."),
        _found("Cedar", "likely", 5), _found("Elder", "likely", 8), _found("Birch", "hint", 30),
    )  # fmt: skip
    assert said == (
        "Look at Birch first.",
        "More of Birch's eggs were infertile: about 9 chicks (7 to 11) this month. Strong evidence.",
        "Next: look at the male.",
        "More of Elder's eggs were infertile: about 8 chicks (6 to 10) this month. Likely.",
        "More of Cedar's eggs were infertile: about 5 chicks (3 to 7) this month. Likely.",
        "More of Alder's eggs were infertile: about 40 chicks (38 to 42) this month. A hint.",
    )


def test_seven_lines_at_most_and_the_longest_overdue_is_named() -> None:
    pens = [_found(f"Pen {place}", "likely", 10 + place, check="Look.") for place in range(8)]
    said = _lines(*pens, overdue=(3, 12))
    assert len(said) == 7
    assert said[0] == "Look at Pen 7 first."
    assert (
        said[-1]
        == "2 batches are past their time, batch B12 in North the longest (12 days): look into the machines."
    )


def test_what_is_only_a_hint_is_not_said_to_be_sure() -> None:
    assert _lines(_found("Alder", "hint", 4))[0] == "Nothing is sure this month. A hint: Alder."
    assert _lines(_found("Alder", "clear", 0.3)) == (NOTHING,)


def test_two_species_are_named() -> None:
    assert _lines(_found("Alder", "likely", 4), species=2)[1].startswith("Chicken: more of Alder's eggs")


def test_only_the_month_is_counted_within_what_was_asked() -> None:
    march = Month(2026, 3).period()
    assert of_month(_review()).period == march
    asked = Selection(Period(date(2026, 3, 9), date(2027, 1, 1)))
    assert of_month(_review(selection=asked)).period == Period(date(2026, 3, 9), march.end)
