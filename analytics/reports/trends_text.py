"""A trend as plain text for a terminal."""

from __future__ import annotations

from analytics.comparisons.slope_records import Slope
from analytics.reports.month_text import paragraph, table
from analytics.studies.pen_words import p_words
from analytics.studies.trend_records import Along, TrendAnswer, TrendPoint
from analytics.studies.trend_words import odds_per_step, step_of
from analytics.studies.wording import minus, percent, percent_range, short_day
from analytics.values import Interval

UNITS = {
    "storage": "day stored",
    "hen_age": "week of age",
    "month": "month",
    "males_per_female": "0.1 males per female",
}
"""What a slope is told per."""


def trends_text(answer: TrendAnswer) -> str:
    """The sentence, what it rests on, the rates along x, the slopes, the tests and the dated changes."""
    parts = [paragraph(answer.words.sentence), *(paragraph(note) for note in answer.words.notes)]
    if answer.points:
        heading = (answer.by.replace("_", " "), "eggs", f"% {answer.base}", "95 % range")
        parts.append(table(heading, [_point(point) for point in answer.points]))
    parts.append("HOW THIS WAS TESTED")
    parts.append(_slopes(answer))
    parts.append(_tests(answer))
    if answer.changes:
        parts.append("CHANGES WRITTEN DOWN")
        rows = [(short_day(one.changed_on), one.scope, one.target, one.what) for one in answer.changes]
        parts.append(table(("day", "scope", "of", "what"), rows, left=4))
    return "\n\n".join(parts) + "\n"


def _point(point: TrendPoint) -> tuple[str, str, str, str]:
    limits = percent_range(Interval(point.low, point.high, 0.95, ""))
    return point.label, f"{point.eggs:,.0f}", percent(point.rate), limits


def _slopes(answer: TrendAnswer) -> str:
    slopes = answer.slopes
    rows = [
        ("within the same pens", slopes.within_pens),
        ("within pen and batch", slopes.same_batch),
        ("from pen to pen", slopes.between_pens),
    ]
    heading = (f"points per {UNITS[answer.by]}", "slope", "95 % range", "p", "odds ×")
    cells = [
        (*slope_cells(slope, answer.by), odds_per_step(slope.odds, answer.by) or "-") for _, slope in rows
    ]
    return table(heading, [(name, *row) for (name, _), row in zip(rows, cells, strict=True)])


def slope_cells(slope: Slope, by: Along) -> tuple[str, str, str]:
    """The slope, its range and its p, in points per unit of `UNITS`; dashes where there is none."""
    if slope.estimate is None:
        return "-", "-", "-"
    low, middle, high, p_value = slope.known()
    size = 100 * step_of(by)
    return (
        minus(f"{middle * size:+.2f}"),
        minus(f"{low * size:+.2f} to {high * size:+.2f}"),
        p_words(p_value)[2:].strip("= "),
    )


def _tests(answer: TrendAnswer) -> str:
    tests = answer.tests
    rows = [
        (f"decides: {tests.method}", tests.clustered.p_value),
        (tests.bend.method, tests.bend.p_value),
        (tests.independent.method, tests.independent.p_value),
    ]
    return table(
        ("test", "p"), [(name, "-" if p is None else p_words(p)[2:].strip("= ")) for name, p in rows]
    )
