"""What of a month needs attention: what is sure and costs enough, then signals, else a hint."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import SimpleNamespace
from typing import Any

from analytics.attribution.ledger import ItemLine
from analytics.options import Selection
from analytics.studies.causes_records import CauseFinding
from analytics.studies.changes_records import Compared, Event
from analytics.studies.month_attention import (
    NEW_SIGNAL,
    NO_MORE,
    NOTE,
    NOTHING,
    attention,
    breeders_lines,
    look_first,
    next_steps,
    opening,
)
from analytics.studies.records import MonthLosses, MonthReview, OpenBatch, SpeciesMonth
from analytics.studies.signal_records import Point, Signal
from analytics.values import Month

MARCH, DAY = Month(2026, 3), date(2026, 3, 31)


def _finding(level: str, strength: str, eggs: float) -> CauseFinding:
    item = ItemLine("flock", "pen", level, "fertile", eggs, eggs - 1, eggs + 1, 0.001)
    chicks = f"about {eggs:.0f} chicks ({eggs - 1:.0f} to {eggs + 1:.0f})"
    return CauseFinding(item, 0.01, strength, f"More of {level}'s eggs were infertile: {chicks}.", "Look.")


def _signal(label: str, *, known: bool = False, worse: bool = True) -> Signal:
    point = Point(MARCH, 60, 0.5, 0.9, 0.7, 1.0, out=True)
    return Signal(
        "pen", label, "chicken", "fertility", known, MARCH, worse, "month", (point,), f"Pen {label}."
    )


def _review(findings: tuple[CauseFinding, ...], signals: tuple[Signal, ...], overdue: int = 0) -> MonthReview:
    """Of 400 eggs set: 1 % are 4 chicks."""
    answer = SimpleNamespace(species="chicken", findings=findings)
    found: Any = SimpleNamespace(answers=[answer], without=())
    told: Any = SimpleNamespace(signals=signals)
    batches = (OpenBatch("B1", "North", ("chicken",), 24, DAY, DAY, DAY, overdue),)
    species = SpeciesMonth("chicken", 400, 300, 4, {}, (), (), {}, {})
    return MonthReview(
        MARCH, Selection(), ("300 of 400.",), (species,), batches, (), (), DAY,
        losses=MonthLosses(found, ""), signals=told,
    )  # fmt: skip


def test_a_loss_that_is_also_a_signal_is_one_thing_and_a_small_one_none() -> None:
    findings = (_finding("Alder", "clear", 20), _finding("Birch", "likely", 3), _finding("Cedar", "hint", 30))
    review = _review(findings, (_signal("alder", known=True), _signal("Elder")), overdue=3)
    alder, elder, batch = attention(review)
    assert (alder.who, alder.what) == ("Alder", "More of Alder's eggs were infertile.")
    assert alder.evidence.endswith("Strong evidence. Beyond its limits too (known since March 2026).")
    assert (elder.source, elder.evidence) == ("signals", NEW_SIGNAL)
    assert batch.what == "Batch B1 in North is 3 days past its time."
    assert opening(review)[0] == "Look at Alder first."


def test_a_signal_comes_before_a_hint_and_a_better_one_needs_nothing() -> None:
    hint = (_finding("Cedar", "hint", 30),)
    assert [one.who for one in attention(_review(hint, (_signal("Elder"),)))] == ["Elder"]
    only = _review(hint, (_signal("Elder", worse=False),))
    assert [one.who for one in attention(only)] == ["Cedar"]
    assert opening(only)[0] == "Nothing is sure this month. A hint: Cedar."
    assert opening(_review((), (), overdue=2))[0] == NOTHING


def test_seven_things_at_most() -> None:
    signals = tuple(_signal(f"Pen {place}") for place in range(12))
    found = attention(_review((_finding("Alder", "clear", 20),), signals, overdue=3))
    assert (len(found), found[0].who, found[-1].source) == (7, "Alder", "machines")


def test_what_is_looked_at_first_is_what_every_face_leads_with() -> None:
    """The first line and then the same things in the same order, at most seven lines."""
    review = _review((_finding("Alder", "clear", 20),), tuple(_signal(f"P{n}") for n in range(9)), overdue=3)
    lead, alder, check, *more = look_first(review)
    first, *others = attention(review)
    assert (lead, alder, check) == (opening(review)[0], f"{first.what} {first.evidence}", "Next: look.")
    assert (len(more), more[0]) == (4, f"{others[0].what} {others[0].evidence}")
    assert look_first(_review((), (), overdue=2))[0] == NOTHING


def test_what_cannot_be_told_is_said_of_one_species_and_of_all() -> None:
    untold = SimpleNamespace(species="emu", why="Only one batch.")
    review = _review((_finding("Alder", "clear", 20),), ())
    emu = replace(review.species[0], species="emu", eggs_set=30)
    found: Any = SimpleNamespace(answers=review.losses.causes.answers, without=(untold,))  # type: ignore[union-attr]
    both = replace(review, species=(*review.species, emu), losses=MonthLosses(found, ""))
    said = "What stands out of emu eggs cannot be told yet. Only one batch."
    assert opening(both) == ("Look at Alder first.", ("300 of 400.", said))
    assert opening(replace(both, species=review.species))[1] == ("300 of 400.",)
    none = replace(review, losses=MonthLosses(None, "Too few eggs."))
    assert opening(none) == ("300 of 400.", ("What stands out cannot be told yet. Too few eggs.",))
    assert look_first(none) == ("What stands out cannot be told yet. Too few eggs.",)
    hen = SimpleNamespace(species="chicken", sentence="Hatches of May: keep all.")
    rest: Any = SimpleNamespace(breeders=SimpleNamespace(answers=(hen,), without=(untold,)))
    assert breeders_lines(both, rest) == ("Chicken, hatches of May: keep all.", "Emu: only one batch.")


def test_how_to_settle_a_change_is_said_for_three_months_and_that_one_may_be_noted_while_none_is() -> None:
    def steps(year: int, month: int) -> tuple[str, ...]:
        event = Event(date(year, month, 1), date(year, month, 1), "all", (), "Lamps", "", "other")
        one = SimpleNamespace(event=event, compared=Compared(settle="Leave some pens without it."))
        rest: Any = SimpleNamespace(changes=SimpleNamespace(changes=(one,)))
        return next_steps(replace(_review((), ()), losses=None, rest=rest))

    (said,) = steps(2026, 1)
    assert said.endswith("everywhere: leave some pens without it.")
    assert steps(2025, 12) == (NO_MORE,)
    assert next_steps(replace(_review((), ()), losses=None)) == (NOTE,)
