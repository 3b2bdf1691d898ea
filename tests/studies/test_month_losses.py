"""What of a month stands out: the surest and largest, each name once."""

from __future__ import annotations

from datetime import date
from types import SimpleNamespace
from typing import Any

from analytics.attribution.ledger import ItemLine
from analytics.options import Selection
from analytics.studies.causes_records import CauseFinding
from analytics.studies.month_losses import of_month, standing_out
from analytics.studies.records import MonthReview
from analytics.values import Month, Period

DAY = date(2026, 3, 1)


def _review(selection: Selection) -> MonthReview:
    return MonthReview(Month(2026, 3), selection, ("20 of 30 hatched.",), (), (), (), (), DAY)


def _found(level: str, strength: str, eggs: float) -> CauseFinding:
    item = ItemLine("flock", "pen", level, "fertile", eggs, eggs - 2, eggs + 2, 0.001)
    return CauseFinding(item, 0.01, strength, f"{level}'s eggs.", "")


def test_the_surest_comes_first_and_then_the_most_chicks_each_name_once() -> None:
    findings = (
        _found("Alder", "hint", 40), _found("Birch", "clear", 9), _found("Cedar", "likely", 5),
        _found("Elder", "likely", 8), _found("Birch", "hint", 30), _found("Rowan", "clear", 0.3),
    )  # fmt: skip
    found: Any = SimpleNamespace(answers=[SimpleNamespace(species="chicken", findings=findings)])
    said = [(one.item.level, one.strength) for _, one in standing_out(found)]
    assert said == [("Birch", "clear"), ("Elder", "likely"), ("Cedar", "likely"), ("Alder", "hint")]


def test_only_the_month_is_counted_within_what_was_asked() -> None:
    march = Month(2026, 3).period()
    assert of_month(_review(Selection())).period == march
    asked = Selection(Period(date(2026, 3, 9), date(2027, 1, 1)))
    assert of_month(_review(asked)).period == Period(date(2026, 3, 9), march.end)
