"""Signs on a page: what is seen, and for each candidate what speaks for it and against it."""

from __future__ import annotations

import streamlit as st

from analytics.reports.signs_text import GROUPS
from analytics.studies.signs_records import Sign, SignCandidate, SignsAnswer
from analytics.studies.signs_words import ONE_BATCH, group_lines
from dashboard import words_incubators as told
from dashboard.components import marks, shells


def signs(answer: SignsAnswer | None) -> None:
    """The signs that stand out, each with its candidates folded beneath."""
    if answer is None:
        marks.note(told.SIGNS_THIN)
        return
    marks.note(told.SIGNS_LEDE if answer.signs else told.SIGNS_NONE)
    for place, one in enumerate(answer.signs):
        _sign(one, place)
    said = {text for one in answer.cleaning for text in one.cautions}
    for text in answer.cautions:
        if text not in said:
            marks.note(text)
    with st.expander(told.SIGNS_RULE):
        marks.points([answer.rule, *answer.not_recorded])
    shells.shells(answer.shells)
    shells.cleaning(answer.cleaning)


def _sign(one: Sign, place: int) -> None:
    with st.container(key=f"sign-{place}", border=True, gap="xsmall"):
        marks.labelled(one.name, one.sentence)
        if one.standing == "one_batch":
            marks.note(ONE_BATCH)
        with st.expander(told.candidates_label(one)):
            marks.points([text for group in one.groups for text in group_lines(one, group)])
            marks.table(
                one.name,
                (told.COL_CAUSE, told.COL_GROUP, told.COL_FOR, told.COL_AGAINST_IT, told.COL_CHECK),
                [_row(one, each) for each in one.candidates],
                wide=(told.COL_FOR, told.COL_AGAINST_IT, told.COL_CHECK),
            )


def _row(one: Sign, each: SignCandidate) -> tuple[str, ...]:
    missing = [f"Not written down: {', '.join(each.missing)}."] if each.missing else []
    note = [each.note] if each.note else []
    return (
        each.cause,
        GROUPS[each.group],
        " ".join(each.for_) or told.NOTHING,
        " ".join([*each.against, *note, *missing]) or told.NOTHING,
        f"{each.next_check}. Source: {each.source}.",
    )
