"""Dated changes: all of them, each a press away, and one step by step."""

from __future__ import annotations

import streamlit as st

from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer, StepAnswer
from dashboard import charts_changes, words_changes
from dashboard.components import marks
from dashboard.components.rates import picture, take
from dashboard.look import Look


def one_of(answer: ChangesAnswer) -> ChangeAnswer:
    """Every change with its answer; the one that is pressed is shown step by step."""
    st.header(words_changes.ALL_HEADING, anchor=False)
    marks.note(words_changes.ALL_LEDE)
    places = range(len(answer.changes))
    place: int = st.radio(
        words_changes.CHOOSE,
        places,
        index=words_changes.first_shown(answer),
        format_func=lambda at: marks.as_written(words_changes.name(answer.changes[at])),
        captions=[marks.as_written(words_changes.answer_cell(one)) for one in answer.changes],
        key="change",
    )
    st.header(words_changes.ONE_HEADING, anchor=False)
    return answer.changes[place]


def shown(change: ChangeAnswer, look: Look) -> None:
    """The sentence of one change, its pictures, and what it leaves open."""
    marks.aside(change.sentence)
    if line := words_changes.compared_line(change):
        marks.note(line)
    if charts_changes.drawn(change) and change.tested:
        alt = words_changes.slopes_alt(change)
        picture(charts_changes.slopes_figure(change, look), alt, "before and after")
        marks.note(words_changes.SLOPES_KEY)
    else:
        marks.note(words_changes.NO_PICTURE)
    if steps := charts_changes.with_odds(change):
        picture(charts_changes.odds_figure(steps, look), words_changes.odds_alt(steps), "odds")
        marks.note(words_changes.ODDS_KEY)
    marks.points(change.notes)


def numbers(change: ChangeAnswer) -> None:
    """Every step with its rates, its difference and its verdict."""
    st.header(words_changes.NUMBERS_HEADING, anchor=False)
    headings = (
        words_changes.COL_STEP,
        words_changes.COL_CHANGED,
        words_changes.COL_OTHERS,
        words_changes.COL_POINTS,
        words_changes.COL_ODDS,
        words_changes.COL_P,
        words_changes.COL_VERDICT,
    )
    marks.table(
        words_changes.name(change),
        headings,
        [words_changes.row(step) for step in change.steps],
        numbers=headings[1:-1],
    )
    take(
        words_changes.DOWNLOAD,
        "penwise-change",
        [_as_row(change, step) for step in change.steps],
    )


def _as_row(change: ChangeAnswer, step: StepAnswer) -> dict[str, object]:
    effect, odds = step.effect, step.effect.odds
    return {
        "changed_on": change.event.first_day,
        "what": change.event.what,
        "targets": ", ".join(change.event.targets),
        "step": step.step,
        **{
            name: side.rate
            for name, side in zip(
                ("before", "after", "controls_before", "controls_after"),
                effect.sides.in_order(),
                strict=True,
            )
        },
        "difference": effect.difference,
        "difference_low": effect.low,
        "difference_high": effect.high,
        "odds_ratio": odds.ratio if odds else None,
        "low": odds.low if odds else None,
        "high": odds.high if odds else None,
        "p_value": effect.p_value,
        "p_adjusted": step.judged.p_adjusted,
        "verdict": step.verdict,
        "why": step.judged.why,
    }


def tested(answer: ChangesAnswer) -> None:
    """How it was tested, and how often the test calls what nobody changed."""
    st.header(words_changes.TESTED_HEADING, anchor=False)
    marks.points((*answer.notes, *words_changes.TESTED))
    marks.note(words_changes.STATISTICIAN)
