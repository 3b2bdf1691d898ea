"""What the page of changes says; goes with words.py into another language."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.changes.effect import METHOD
from analytics.changes.records import SideRate
from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer, StepAnswer
from analytics.studies.changes_words import (
    LOSSES,
    STEP_NAMES,
    VERDICTS,
    odds_words,
    points_cell,
    points_range,
)
from analytics.studies.pen_words import p_words
from analytics.studies.wording import listed, percent, percent_range, short_day
from analytics.values import Interval
from dashboard.words import NOT_KNOWN

PAGE = "Changes"
TITLE = "Did the change work?"
TOO_THIN = "There is no change to judge"
WORKING = "Judging every change …"
ALL_HEADING = "What was changed"
ALL_LEDE = (
    "Every change with a date, from the sheets changes and diets and from machines that were moved. Months "
    "chosen above are those of the changes; what hatched after the last one is left aside."
)
ONE_HEADING = "One change, step by step"
CHOOSE = "Change"
SLOPES_KEY = (
    "Filled dots: what was changed. Open squares: what was left as it was. Upright lines: their ranges, with "
    "trays that fail together allowed for. Dotted: the day. A change that did something makes one line go "
    "another way than the other. All pictures are equally many points high."
)
ODDS_KEY = (
    "Odds of passing after the change, as a multiple of those before it, against what was left as it was. "
    "Left of 1 is worse, right of it better. Filled: called, the number of steps allowed for."
)
ODDS_ALT = "Odds of passing each step after the change, as a multiple of those before"
NO_PICTURE = "There is nothing to hold this change against, so there is no picture of it."
NUMBERS_HEADING = "The numbers"
COL_STEP = "Eggs"
BEFORE, AFTER = "before", "after"
COL_CHANGED = "Changed, before to after"
COL_OTHERS = "Left as it was"
COL_POINTS = "Points (range)"
COL_ODDS = "Odds ×"
COL_P = "p"
COL_VERDICT = "Verdict"
DOWNLOAD = "Take the numbers"
TESTED_HEADING = "How this was tested"
TESTED = (
    "Rates are of the eggs that came to the step and passed it, plainly counted. The change in points is not "
    "the plain difference of the four: pens are held against others of the same batch, storage is set right, "
    "and eggs of one pen and month may fail together.",
    "Clear eggs that were not told apart: a step must be called with all of them infertile and with none. "
    "Where the two disagree about the direction, p is 1.",
    "A pen counts as untouched from its own last change to its next one, for a year on either side at most; "
    "where there are many trays, the 800 nearest to the day are compared.",
    "Where one of three or more untouched pens alone makes half of a difference, it is not called.",
    "What else was done to the same pens at that time looks the same: a change is a candidate, no proof.",
)
STATISTICIAN = f"In the statistician's words: {METHOD}; odds by a logistic model with the same terms random."
UNTOUCHED = "untouched"
CHANGED = "changed"
HELD = {
    "batch": "within the same batches",
    "machine and month": "within the same machines and months, for no batch held both",
    "month and pen": "within the same months and pens",
}


def answer_lines(answer: ChangesAnswer) -> tuple[str, ...]:
    """What moved, change by change, and then how many did what."""
    clear = [change.sentence for change in answer.changes if change.with_verdict("better", "worse")]
    return (*clear, answer.sentence)


def first_shown(answer: ChangesAnswer) -> int:
    """The change that is shown first: one that did something, else one that was tested."""
    called = [place for place, one in enumerate(answer.changes) if one.with_verdict("better", "worse")]
    tested = [place for place, one in enumerate(answer.changes) if one.tested]
    return next(iter((*called, *tested)), 0)


def name(change: ChangeAnswer) -> str:
    """`1 Oct 2025, calcium supplement (Larch and Rowan)`."""
    return f"{day(change)}, {change.event.what} ({where(change)})"


def day(change: ChangeAnswer) -> str:
    """The day of the change."""
    return short_day(change.event.first_day)


def where(change: ChangeAnswer) -> str:
    """`Larch and Rowan`, `all eggs in store`."""
    event = change.event
    if event.targets:
        return listed(event.targets)
    return {"storage": "all eggs in store", "incubator": "all machines"}.get(event.scope, "everywhere")


def answer_cell(change: ChangeAnswer) -> str:
    """`losses in the shell rose`, `no clear change`, `cannot be told`."""
    said = [
        f"{LOSSES[step.step]} {'rose' if step.verdict == 'worse' else 'fell'}"
        for step in change.with_verdict("better", "worse")
    ]
    if said:
        return listed(said)
    return "no clear change" if change.with_verdict("no_clear_change") else "cannot be told"


def compared_line(change: ChangeAnswer) -> str:
    """What it is held against."""
    compared = change.compared
    return f"Held against {listed(compared.controls)}, {HELD[compared.held]}." if compared.held else ""


def step_title(step: StepAnswer) -> str:
    """`Past late: worse`; without a verdict only `Past late`."""
    words = STEP_NAMES[step.step]
    called = f": {VERDICTS[step.verdict]}" if step.verdict in ("better", "worse") else ""
    return f"{words[:1].upper()}{words[1:]}{called}"


def rate_cell(side: SideRate) -> str:
    """`93 % of 1,204`."""
    return f"{percent(side.rate)} % of {side.eggs:,.0f}" if side.rate is not None else NOT_KNOWN


def said(step: StepAnswer, side: SideRate, who: str, when: str) -> list[str]:
    """What is said of a dot."""
    limits = ""
    if side.low is not None and side.high is not None:
        limits = percent_range(Interval(side.low, side.high, 0.95, ""))
    return [STEP_NAMES[step.step], f"{who}, {when}", rate_cell(side), limits]


def row(step: StepAnswer) -> tuple[str, ...]:
    """A row of the numbers."""
    effect = step.effect
    p_value = p_words(effect.p_value)[2:].strip("= ") if effect.p_value is not None else NOT_KNOWN
    return (
        STEP_NAMES[step.step],
        _from_to(effect.sides.before, effect.sides.after),
        _from_to(effect.sides.controls_before, effect.sides.controls_after),
        f"{points_cell(effect.difference)} ({points_range(effect.low, effect.high)})"
        if effect.difference is not None
        else NOT_KNOWN,
        odds_words(effect.odds) or NOT_KNOWN,
        p_value,
        VERDICTS[step.verdict],
    )


def _from_to(before: SideRate, after: SideRate) -> str:
    """`92 % of 1,263, then 88 % of 1,137`."""
    if before.rate is None or after.rate is None:
        return NOT_KNOWN
    return f"{rate_cell(before)}, then {rate_cell(after)}"


def row_beneath(step: StepAnswer) -> str:
    """What stands beneath a step in the picture of odds."""
    return f"{points_cell(step.effect.difference)} points"


def odds_cell(step: StepAnswer) -> str:
    """The odds ratio with its range."""
    return odds_words(step.effect.odds)


def slopes_alt(change: ChangeAnswer) -> str:
    """The picture of before and after as a sentence."""
    parts = [
        f"{STEP_NAMES[step.step]} {_move(step.effect.sides.before, step.effect.sides.after)}"
        f" against {_move(step.effect.sides.controls_before, step.effect.sides.controls_after)}"
        for step in change.steps
    ]
    return f"{change.event.what}, before and after against the untouched: {'; '.join(parts)}."


def _move(before: SideRate, after: SideRate) -> str:
    ends = [percent(side.rate) if side.rate is not None else NOT_KNOWN for side in (before, after)]
    return f"{ends[0]} to {ends[1]} %"


def odds_alt(steps: Sequence[StepAnswer]) -> str:
    """The picture of odds as a sentence."""
    parts = [f"{STEP_NAMES[step.step]} {odds_cell(step)}" for step in steps]
    return f"{ODDS_ALT}: {'; '.join(parts)}."
