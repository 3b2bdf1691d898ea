"""Pen against pen as plain text for a terminal: the sentence, the rates, the pairs, how it was tested."""

from __future__ import annotations

import textwrap

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.reports.month_text import WIDTH, table
from analytics.studies.pen_records import PenPair, PenRow, PensAnswer
from analytics.studies.pen_words import p_words, signed
from analytics.studies.wording import percent, percent_range
from analytics.values import Interval

PAIRS_SHOWN = 15
"""Pairs listed, the surest first; the rest is in the JSON."""


def pens_text(answer: PensAnswer) -> str:
    """The whole answer."""
    parts = [_paragraph(answer.words.sentence)]
    parts += [_paragraph(answer.words.remedy)] if answer.words.remedy else []
    parts.append(_paragraph(answer.words.scope))
    parts += [_rates(answer)]
    if not answer.pair:
        parts += _pairs(answer)
    if answer.tests.any_made:
        parts += ["HOW THIS WAS TESTED", _tests(answer)]
    parts += [_paragraph(answer.clustering.sentence)]
    parts += [_paragraph(answer.words.why)] if answer.words.why else []
    return "\n\n".join(parts) + "\n"


def _paragraph(text: str) -> str:
    return textwrap.fill(text, WIDTH)


def _rates(answer: PensAnswer) -> str:
    heading = (answer.by, "eggs", "clear*", "rate", "range", "best guess", "range")
    rows = [_row(row) for row in answer.rows]
    told = f"Rates are {answer.rows[0].rate.base if answer.rows else ''}. * Clear eggs not told apart, if any"
    if all(row.shrunk is None for row in answer.rows):
        return f"{table(heading[:-2], [row[:-2] for row in rows])}\n  {told}."
    guess = (
        "`best guess` is where the true rate most likely lies: the fewer the eggs, the nearer to what all "
        "have in common."
    )
    return f"{table(heading, rows)}\n\n{_paragraph(f'{told}. {guess}')}"


def _row(row: PenRow) -> tuple[str, ...]:
    rate, shrunk = row.rate, row.shrunk
    value = f"{percent(rate.value)} %" if rate.value is not None else "only a range"
    return (
        row.pen,
        f"{row.eggs:,.0f}" if row.eggs is not None else "",
        str(rate.clear or ""),
        value if rate.interval else "not known",
        percent_range(rate.interval) if rate.interval else "",
        f"{percent(shrunk.rate)} %" if shrunk else "",
        percent_range(Interval(shrunk.low, shrunk.high, 0.95, "")) if shrunk else "",
    )


def _pairs(answer: PensAnswer) -> list[str]:
    told = sorted((pair for pair in answer.pairs if pair.p_value is not None), key=_p)
    if not told:
        return []
    heading = ("pair", "difference, points", "range", "p", "q")
    rows = [_pair(pair) for pair in told[:PAIRS_SHOWN]]
    more = len(told) - len(rows)
    return [
        "PAIR BY PAIR, the surest first",
        table(heading, rows)
        + (f"\n  ... and {more} more: `penwise pens --json` has all pairs" if more else ""),
    ]


def _p(pair: PenPair) -> float:
    return 1.0 if pair.p_value is None else pair.p_value


def _pair(pair: PenPair) -> tuple[str, ...]:
    return (
        f"{pair.pen_a} less {pair.pen_b}",
        signed(pair.difference or 0.0),
        f"{signed(pair.low or 0.0)} to {signed(pair.high or 0.0)}",
        p_words(_p(pair)).removeprefix("p ").removeprefix("= "),
        p_words(1.0 if pair.q_value is None else pair.q_value).removeprefix("p ").removeprefix("= "),
    )


def _tests(answer: PensAnswer) -> str:
    tests = answer.tests
    decides = "decides" if answer.words.decides else ""
    rows = [
        _test(tests.clustered, decides),
        _test(tests.stratified, "shown only"),
        _test(tests.independent, "shown only"),
    ]
    return table(("test", "statistic", "degrees of freedom", "p", ""), rows)


def _test(test: HypothesisTest, role: str) -> tuple[str, ...]:
    if test.p_value is None or test.statistic is None:
        return test.method, "", "", "none", role
    dof = ", ".join(f"{part:.3g}" for part in (test.dof, test.dof2) if part is not None)
    return (
        test.method,
        f"{test.statistic:.2f}",
        dof,
        p_words(test.p_value).removeprefix("p ").removeprefix("= "),
        role,
    )
