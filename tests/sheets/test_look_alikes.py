"""Letters that cannot be seen or look like others: refused where they hide, told where they may be meant."""

from __future__ import annotations

import pytest

from analytics.errors import SheetProblem, WrongUsage
from analytics.sheets.look_alikes import looks

CYRILLIC_O = "\u043e"


@pytest.mark.parametrize("hidden", ["\u200b", "\u202e", "\x1b", "\u00ad", "\x85", "\u2066"])
def test_a_label_holds_nothing_that_cannot_be_seen(kept, hidden: str) -> None:  # type: ignore[no-untyped-def]
    path = kept.write("pens", [{"pen": f"Ro{hidden}wan", "species": "chicken"}])
    (problem,) = kept.problems(path)
    assert f"U+{ord(hidden):04X}, which cannot be seen" in problem.rule
    assert hidden not in problem.sentence() or hidden in "\u200b\u00ad"


def test_lines_and_joiners_stay_where_they_belong(kept) -> None:  # type: ignore[no-untyped-def]
    notes = "two\nlines, a\ttab, a \u2028 and a family \U0001f468\u200d\U0001f33e"
    kept.load(
        kept.write("pens", [{"pen": "\U0001f468\u200d\U0001f33e", "species": "chicken", "notes": notes}])
    )
    assert kept.ask("SELECT notes FROM pens WHERE species = 'chicken'") == [(notes,)]
    (problem,) = kept.problems(kept.write("pens", [{"pen": "X", "species": "chicken", "notes": "a\x1b[2J"}]))
    assert "U+001B" in problem.rule


def test_a_new_label_that_looks_like_another_is_worth_a_look(kept) -> None:  # type: ignore[no-untyped-def]
    rows = [{"pen": f"R{CYRILLIC_O}wan", "species": "chicken"}, {"pen": "H\u00fchner", "species": "chicken"}]
    report = kept.load(kept.write("pens", rows))
    (warning,) = report.warnings
    assert warning.row == 2
    assert warning.given == f"`R{CYRILLIC_O}wan` looks like `Rowan`, and is written with other letters"


def test_an_unknown_name_that_looks_like_a_known_one_says_so(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.write("lay", [{"pen": f"R{CYRILLIC_O}wan", "on": "2026-03-01", "eggs": "3"}])
    (problem,) = kept.problems(path)
    assert "Did you mean pen `Rowan`? Letters here only look like its letters." in problem.repair


def test_letters_of_one_look() -> None:
    assert looks("\u0420\u041e\u0421") == looks("POC")
    assert looks("N\uff4frth") == looks("north")
    assert looks("Rowan") != looks("Rovan")
    assert looks("M\u00fcller") != looks("Muller")


def test_nothing_that_steers_a_screen_is_said() -> None:
    assert WrongUsage("\x1b[2J", "a\rb", "").sentence() == "<U+001B>[2J. a<U+000D>b."
    told = SheetProblem("pens", 2, "pen", '"a\u202eb"', "Rule", "Repair").sentence()
    assert told == 'pens, row 2, pen: "a<U+202E>b". Rule. Repair'
