"""Changes as a review tells them: thirteen reviews are allowed for, and what is alike stands together."""

from __future__ import annotations

from datetime import date

from analytics.changes.records import SideRate, Sides, StepEffect
from analytics.changes.verdict import Judged, Verdict
from analytics.options import Selection
from analytics.studies.changes_records import ChangesAnswer, Compared, Event, MadeUp, StepAnswer
from analytics.studies.changes_words import worded
from analytics.studies.month_changes import ONLY_A_HINT, RULE, changes_lines, over_reviews

NONE = SideRate(0.0, 0.0, 0)
SIDES = Sides(NONE, NONE, NONE, NONE)
CONTROLS = Compared(controls=("Cedar", "Elder", "Maple"))
DAY = date(2026, 1, 10)


def _event(what: str) -> Event:
    return Event(DAY, DAY, "pen", ("Birch",), what, "", "diet")


def _step(step: str, verdict: Verdict, p_adjusted: float, difference: float) -> StepAnswer:
    ends = difference - 0.04, difference + 0.04
    effect = StepEffect(SIDES, difference, *ends, p_adjusted / 5, 30.0, None, "")
    return StepAnswer(step, effect, Judged(verdict, "", p_adjusted), DAY)


def _answer() -> ChangesAnswer:
    hint, none = _step("shell", "better", 0.02, 0.1), _step("late", "cannot_tell", 1.0, 0.0)
    everywhere = Compared(why="It touched all pens: the season looks the same.")
    changes = (
        worded(_event("grit"), CONTROLS, [_step("late", "worse", 0.003, -0.1), hint]),
        worded(_event("protein"), CONTROLS, [hint]),
        worded(_event("new male"), CONTROLS, [_step("fertile", "no_clear_change", 0.5, 0.01)]),
        worded(_event("lamps"), everywhere, [none]),
        worded(_event("cellar"), everywhere, [none]),
    )
    tried = MadeUp(20, 1, ())
    return ChangesAnswer(Selection(), changes, tried, ("late", "shell"), "", ("On 20 made-up dates",))


def test_a_step_is_called_only_as_far_as_thirteen_reviews_allow() -> None:
    """.05 / 13 is .0038: of p .003 and .02 a single look would call both."""
    told = over_reviews(_answer())
    late, shell = told.changes[0].steps
    assert (late.verdict, shell.verdict, shell.judged.why) == ("worse", "no_clear_change", ONLY_A_HINT)
    assert shell.opened is None
    assert told.sentence.startswith("Of 5 dated changes, 1 made something worse, 2 show no clear change")
    assert told.notes == (RULE,)


def test_changes_stand_in_few_lines() -> None:
    assert changes_lines(over_reviews(_answer())) == (
        "Grit from 10 January 2026 in Birch: late losses rose by 10 points, 6 to 14, "
        "against 3 pens without it.",
        "Not settled yet: protein in Birch (10 Jan 2026); the next hatches tell.",
        "No clear change: new male in Birch (10 Jan 2026).",
        "Cannot be told: lamps in Birch (10 Jan 2026) and cellar in Birch (10 Jan 2026). "
        "They touched all pens.",
    )
