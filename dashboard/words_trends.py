"""What the page of trends says; goes with words.py into another language."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.studies.trend_records import Along, ChangeMark, TrendAnswer, TrendPoint
from analytics.studies.wording import counted, percent, percent_range
from analytics.values import Interval
from dashboard.words import MONTHS, NOT_KNOWN, count, day, measure_name

PAGE = "Trends"
WITH: dict[Along, str] = {
    "month": "month by month",
    "storage": "by days of storage",
    "hen_age": "by the hens' age",
    "males_per_female": "by males per female",
}
AXIS: dict[Along, str] = {
    "month": "",
    "storage": "Days of storage",
    "hen_age": "Weeks of age",
    "males_per_female": "Males per female",
}
COL_GROUP: dict[Along, str] = {
    "month": "Month of hatch",
    "storage": "Stored",
    "hen_age": "Hens' age",
    "males_per_female": "Males per female",
}
STEP: dict[Along, str] = {
    "month": "month",
    "storage": "day stored",
    "hen_age": "week of age",
    "males_per_female": "male more to ten females",
}
TOO_THIN = "That cannot be answered from these records"
NO_TREND = "No trend can be told here"
KEY = (
    "Mark: the rate of trays of about the same, all pens together. Line: its range, allowing for trays and "
    "batches that fail together. Few eggs are drawn pale."
)
KEY_OPEN = "Pale bar: what unopened and clear eggs leave open."
KEY_CURVE = (
    "Curve and band: how the rate goes within the same pens, machines held equal, so it need not run "
    "through the marks. The test below decides, not the eye."
)
KEY_CHANGES = "Numbered lines: what was changed that day, listed beneath."
NO_POINTS = "There is nothing to draw."
BESIDES_HEADING = "What it may be besides"
CHANGES_HEADING = "What was changed"
CHANGES_LEDE = "A change close to a bend is a candidate, not a proof: other things changed that day too."
COL_MARK = "Mark"
COL_DAY = "Day"
COL_WHERE = "Where"
COL_WHAT = "What"
SCOPES = {"all": "everywhere", "pen": "pen", "incubator": "machine", "storage": "storage"}
NUMBERS_HEADING = "The numbers"
COL_RATE = "Rate"
COL_RANGE = "Range"
COL_OPEN = "As eggs not told apart fall"
COL_COUNT = "Counted"
COL_TRAYS = "Trays"
COL_BATCHES = "Batches"
DOWNLOAD = "Take the numbers"
TESTED_HEADING = "How this was tested"
TESTED_LEDE = (
    "A trend is called when chance alone would make one as steep in fewer than 5 of 100 such records "
    "(p under 0.05). Odds are eggs that counted to eggs that did not. The column “Odds ×” says by how much "
    "each step multiplies them; it is worked out from the same trays, with log odds in place of points."
)
COL_TEST = "Held against each other"
COL_P = "p"
COL_ODDS = "Odds ×"
COL_WEIGHT = "Weight"
COL_TAKES = "What it tells"
WITHIN, SAME_BATCH, BETWEEN, INDEPENDENT, BEND = (
    "Trays of the same pen",
    "Trays of the same pen and batch",
    "Pens, each as a whole",
    "As if every egg were independent",
    "Curve against straight line",
)
TELLS = {
    WITHIN: "machines held equal, trays and batches that fail together allowed for",
    SAME_BATCH: "the same, with nothing of the season or the machine in it",
    BETWEEN: "whatever else sets the pens apart is in it",
    INDEPENDENT: "no egg shares anything with another; calls chance a trend too often",
    BEND: "whether it goes up or down evenly",
}
DECIDES = "decides"
SHOWN_ONLY = "for comparison"
NOT_MADE = "not made"


def title(measure: str, along: Along) -> str:
    """Hatch of set by days of storage."""
    return f"{measure_name(measure)} {WITH[along]}"


def answer_lines(answer: TrendAnswer) -> tuple[str, ...]:
    """The answer: its first sentence large, what else it says beneath, and what it cannot tell apart."""
    first, stop, rest = answer.words.sentence.partition(". ")
    return (f"{first}." if stop else first, *([rest] if rest else []), *answer.words.notes[:1])


def further_notes(answer: TrendAnswer) -> tuple[str, ...]:
    """What else the answer rests on."""
    return answer.words.notes[1:]


def mark_numbers(numbers: Sequence[int]) -> str:
    """3, or 3–5 for the changes of one day."""
    return str(numbers[0]) if len(numbers) == 1 else f"{numbers[0]}–{numbers[-1]}"


def axis_title(along: Along) -> str:
    """What the picture runs along; months speak for themselves."""
    return AXIS[along]


def month_tick(when: date) -> str:
    """Mar, and the year beneath."""
    return f"{MONTHS[when.month - 1]}<br>{when.year}"


def rate_cell(point: TrendPoint) -> str:
    """The rate, or that there is only a range."""
    return f"{percent(point.rate)} %" if point.possible_low == point.possible_high else "only a range"


def range_cell(point: TrendPoint) -> str:
    """Its range."""
    return percent_range(Interval(point.low, point.high, 0.95, ""))


def open_cell(point: TrendPoint) -> str:
    """What clear eggs leave open."""
    if point.possible_low == point.possible_high:
        return "nothing"
    return percent_range(Interval(point.possible_low, point.possible_high, 1.0, ""))


def count_cell(point: TrendPoint) -> str:
    """97 of 120; only the eggs where clear ones leave the count open."""
    if point.possible_low != point.possible_high:
        return f"of {point.eggs:,.0f}"
    return f"{count(round(point.count, 1))} of {count(round(point.eggs, 1))}"


def rate_column(answer: TrendAnswer) -> str:
    """Rate, of set: the heading names what the rates are a share of."""
    return f"{COL_RATE}, {answer.base}"


def said(point: TrendPoint, answer: TrendAnswer) -> list[str]:
    """What is said of a mark."""
    return [point.label, f"{rate_cell(point)} {answer.base}", count_cell(point), range_cell(point)]


def alt(answer: TrendAnswer) -> str:
    """The picture as a sentence."""
    name = measure_name(answer.measure)
    if not answer.points:
        return f"{name} {WITH[answer.by]}: nothing to draw."
    first, last = answer.points[0], answer.points[-1]
    drawn = (
        f"{name} {WITH[answer.by]}, {counted(len(answer.points), 'mark')}, from "
        f"{first.label} ({range_cell(first)} {answer.base}) to {last.label} ({range_cell(last)})."
    )
    return f"{drawn}{_curve_alt(answer)}{_changes_alt(answer.changes)}"


def _curve_alt(answer: TrendAnswer) -> str:
    if not answer.curve:
        return ""
    first, last = answer.curve[0], answer.curve[-1]
    return f" The curve goes from {percent(first.rate)} to {percent(last.rate)} %."


def _changes_alt(changes: Sequence[ChangeMark]) -> str:
    placed = [change for change in changes if change.x is not None]
    if not placed:
        return ""
    return " Changes: " + "; ".join(f"{day(one.changed_on)} {change_name(one)}" for one in placed) + "."


def change_name(change: ChangeMark) -> str:
    """Rowan: calcium supplement."""
    return f"{change_where(change)}: {change.what}"


def change_where(change: ChangeMark) -> str:
    """pen Rowan, everywhere."""
    return " ".join(part for part in (SCOPES.get(change.scope, change.scope), change.target) if part)


def change_day(change: ChangeMark) -> str:
    """14 Mar 2026."""
    return day(change.changed_on)


def slope_column(along: Along) -> str:
    """Points per month."""
    return f"Points per {STEP[along]}"


def why_not(test: HypothesisTest, tells: str) -> str:
    """What a test tells, or why it was not made."""
    return test.why if test.p_value is None and test.why else tells


def numbers_caption(answer: TrendAnswer) -> str:
    """What the table is."""
    return title(answer.measure, answer.by)


def all_rows(number: int) -> str:
    """The head of a folded table."""
    return f"All {number} rows"


def unknown(text: str) -> str:
    """A dash for what is not there."""
    return text if text and text != "-" else NOT_KNOWN


def weight(p_value: float | None, *, decides: bool) -> str:
    """Whether a row decides, is shown beside, or was not made."""
    if p_value is None:
        return NOT_MADE
    return DECIDES if decides else SHOWN_ONLY


def methods(answer: TrendAnswer) -> str:
    """The tests in the statistician's words."""
    tests = answer.tests
    named = [tests.method, tests.bend.method, tests.independent.method]
    return f"In the statistician's words: {'; '.join(name for name in named if name)}."
