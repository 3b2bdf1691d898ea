"""Dated changes as plain text for a terminal."""

from __future__ import annotations

from analytics.reports.month_text import paragraph, table
from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer, StepAnswer
from analytics.studies.changes_words import (
    STEP_NAMES,
    VERDICTS,
    odds_words,
    points_cell,
    points_range,
)
from analytics.studies.pen_words import p_words
from analytics.studies.wording import percent, selection_words


def changes_text(answer: ChangesAnswer) -> str:
    """The sentence, every change with its steps, and how often the test calls what nobody changed."""
    only = selection_words(answer.selection)
    parts = [paragraph(answer.sentence), *([paragraph(only)] if only else [])]
    for change in answer.changes:
        parts.append(paragraph(change.sentence))
        parts += [paragraph(note, "  ") for note in change.notes]
        if change.tested:
            parts.append(_steps(change))
    parts.append("HOW THIS WAS TESTED")
    parts += [paragraph(note) for note in answer.notes]
    return "\n\n".join(parts) + "\n"


def _steps(change: ChangeAnswer) -> str:
    heading = (
        "% passing",
        "before",
        "after",
        "others before",
        "after",
        "points",
        "95 % range",
        "odds ×",
        "p",
        "",
    )
    return table(heading, [_step(step) for step in change.steps])


def _step(step: StepAnswer) -> tuple[str, ...]:
    effect = step.effect
    rates = (percent(side.rate) if side.rate is not None else "-" for side in effect.sides.in_order())
    p_value = "-" if effect.p_value is None else p_words(effect.p_value)[2:].strip("= ")
    return (
        STEP_NAMES[step.step],
        *rates,
        points_cell(effect.difference) or "-",
        points_range(effect.low, effect.high) or "-",
        odds_words(effect.odds) or "-",
        p_value,
        VERDICTS[step.verdict],
    )
