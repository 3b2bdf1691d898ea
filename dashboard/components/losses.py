"""Whose loss it is: the answer, where the eggs went, what stands out, what is open, and how it was made."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.studies.causes_records import CauseFinding, Causes, CausesAnswer, NoAnswer
from analytics.studies.causes_words import said_plainly
from analytics.studies.clear_records import SpeciesClears
from dashboard import charts_losses, data, words, words_losses
from dashboard.components import losses_trays, marks
from dashboard.components.rates import picture
from dashboard.look import Look
from dashboard.state import Filters

_MOST = 8
"""Findings that are shown; weaker ones are folded."""


def worked_out(
    which: data.Shown,
    chosen: Filters,
    title: str = words_losses.WAIT_TITLE,
    lines: Sequence[str] = words_losses.WAIT,
) -> Causes:
    """The answer; while it is worked out, what is done, and how far that has come."""
    kept = data.losses_kept(which, chosen)
    if kept is not None:
        return kept
    place = st.empty()
    with place.container(key="waiting"):
        marks.notice(title, lines)
        bar = st.progress(0.0, words_losses.WAIT_BEGINS)
    try:
        return data.losses(which, chosen, lambda share, what: _told(bar, share, what))
    finally:
        place.empty()


def _told(bar: DeltaGenerator, share: float, what: str) -> None:
    bar.progress(min(max(share, 0.0), 1.0), words_losses.waiting_for(what))


def answer_of(found: Causes, bird: str) -> CausesAnswer:
    """The answer about a species, or about that with the most eggs."""
    return next((one for one in found.answers if one.species == bird), found.answers[0])


def steps(answer: CausesAnswer, look: Look) -> None:
    """Eggs, chicks and what is short; where the eggs went, step by step."""
    marks.figures(words_losses.strip(answer))
    marks.note(words_losses.mark_line(answer.mark))
    left_out = words_losses.left_out_line(answer.counted)
    if left_out:
        marks.note(left_out)
    if answer.words.doubts:
        marks.notice(words_losses.CARE_HEADING, answer.words.doubts)
    st.header(words_losses.STEPS_HEADING, anchor=False)
    alt = words_losses.steps_alt(answer.steps)
    picture(charts_losses.steps_figure(answer.steps, look), alt, "steps")
    marks.note(words_losses.STEPS_KEY)
    losses_trays.ask_of_steps([one.step for one in answer.steps])
    with st.expander(words.AS_TABLE):
        marks.note(alt)
        _steps_table(answer)


def _steps_table(answer: CausesAnswer) -> None:
    marks.table(
        words_losses.STEPS_HEADING,
        (
            words_losses.COL_STEP,
            words_losses.COL_ENTERING,
            words_losses.COL_LOST,
            words_losses.COL_EXPECTED_LOST,
            words_losses.COL_MORE,
        ),
        [
            (
                words_losses.STEP_LOST[one.step],
                words_losses.number(one.entering),
                words_losses.number(one.lost),
                words_losses.number(one.expected_lost),
                words_losses.signed(one.lost - one.expected_lost),
            )
            for one in answer.steps
        ],
        (
            words_losses.COL_ENTERING,
            words_losses.COL_LOST,
            words_losses.COL_EXPECTED_LOST,
            words_losses.COL_MORE,
        ),
    )


def shares(answer: CausesAnswer, look: Look) -> None:
    """Whose loss it was, adding up, with a sentence on each part."""
    st.header(words_losses.SHARES_HEADING, anchor=False)
    alt = words_losses.shares_alt(answer)
    picture(charts_losses.shares_figure(answer, look), alt, "shares")
    marks.note(words_losses.SHARES_KEY)
    marks.points([text for text in answer.words.groups.values() if text])
    with st.expander(words.AS_TABLE):
        marks.note(alt)
        _shares_table(answer)


def _shares_table(answer: CausesAnswer) -> None:
    rows = [
        (
            words_losses.GROUPS[line.group],
            words_losses.GROUP_HOLDS[line.group],
            words_losses.number(line.eggs),
            words_losses.between(line.low, line.high),
            words_losses.sure(line),
        )
        for line in answer.groups
    ]
    whole = (
        words_losses.WHOLE,
        words.NOT_KNOWN,
        words_losses.number(answer.shortfall),
        *[words.NOT_KNOWN] * 2,
    )
    marks.table(
        words_losses.SHARES_HEADING,
        (
            words_losses.COL_GROUP,
            words_losses.COL_HOLDS,
            words_losses.COL_CHICKS,
            words_losses.COL_RANGE,
            words_losses.COL_SURE,
        ),
        [*rows, whole],
        (words_losses.COL_CHICKS, words_losses.COL_RANGE, words_losses.COL_SURE),
        wide=(words_losses.COL_HOLDS,),
    )


def findings(answer: CausesAnswer) -> None:
    """What stands out, the strongest first, each in a sentence, with its eggs and its trays."""
    st.header(words_losses.FINDINGS_HEADING, anchor=False)
    if not answer.findings:
        marks.note(words_losses.FINDINGS_NONE)
        return
    for place, finding in enumerate(answer.findings[:_MOST]):
        _finding(finding, answer, place)
    more = list(enumerate(answer.findings))[_MOST:]
    if more:
        with st.expander(words_losses.more_findings(len(more))):
            for place, finding in more:
                _finding(finding, answer, place)
    marks.note(words_losses.FINDINGS_KEY)


def _finding(finding: CauseFinding, answer: CausesAnswer, place: int) -> None:
    with st.container(key=f"finding-{place}", border=True, gap="xsmall"):
        marks.labelled(words_losses.finding_title(finding), said_plainly(finding))
        with st.container(horizontal=True, vertical_alignment="center"):
            if finding.check:
                marks.note(finding.check)
            losses_trays.ask_of_finding(finding, answer, place)


def apart(answer: CausesAnswer) -> None:
    """What cannot be told apart, and the least that would tell it."""
    st.header(words_losses.APART_HEADING, anchor=False)
    if not answer.cannot_separate:
        marks.note(words_losses.APART_NONE)
    for one in answer.cannot_separate:
        marks.notice(
            words_losses.apart_name(one),
            [one.why, *([f"{words_losses.APART_NEXT}: {one.next_step}"] if one.next_step else [])],
        )


def clears(answer: CausesAnswer, found: SpeciesClears | None) -> None:
    """What clear eggs leave open, and what they are likely to be, pen by pen."""
    st.header(words_losses.CLEARS_HEADING, anchor=False)
    marks.note(answer.words.clears or words_losses.CLEARS_NONE)
    if found is not None and found.whole.clear > 0:
        marks.note(words_losses.clears_note(found.informed))
        with st.expander(words.AS_TABLE):
            _clears_table(found)
    if answer.words.caution:
        marks.note(answer.words.caution)


def _clears_table(found: SpeciesClears) -> None:
    shown = [(words_losses.MAP_ALL_PENS, found.whole), *((one.pen, one.share) for one in found.pens)]
    marks.table(
        words_losses.CLEARS_HEADING,
        (
            words_losses.COL_PEN,
            words_losses.COL_EGGS,
            words_losses.COL_CLEAR,
            words_losses.COL_INFERTILE,
            words_losses.COL_EARLY,
        ),
        [
            (
                name,
                words_losses.number(share.eggs),
                words_losses.number(share.clear),
                words_losses.between(share.infertile_low, share.infertile_high),
                words_losses.early_share(share),
            )
            for name, share in shown
        ],
        (
            words_losses.COL_EGGS,
            words_losses.COL_CLEAR,
            words_losses.COL_INFERTILE,
            words_losses.COL_EARLY,
        ),
    )


def numbers(answer: CausesAnswer) -> None:
    """The tables: findings with p and q, steps and parts stand beneath their pictures."""
    if not answer.findings:
        return
    st.header(words_losses.NUMBERS_HEADING, anchor=False)
    with st.expander(words_losses.NUMBERS_FOLDED):
        _findings_table(answer)


def _findings_table(answer: CausesAnswer) -> None:
    marks.table(
        words_losses.FINDINGS_HEADING,
        (
            words_losses.COL_FINDING,
            words_losses.COL_GROUP,
            words_losses.COL_WHERE,
            words_losses.COL_CHICKS,
            words_losses.COL_RANGE,
            words_losses.COL_P,
            words_losses.COL_Q,
            words_losses.COL_STRENGTH,
        ),
        [_finding_row(finding) for finding in answer.findings],
        (words_losses.COL_CHICKS, words_losses.COL_RANGE, words_losses.COL_P, words_losses.COL_Q),
    )


def _finding_row(finding: CauseFinding) -> tuple[str, ...]:
    item = finding.item
    return (
        words_losses.item_name(item),
        words_losses.GROUPS[item.group],
        words_losses.STEP_LOST.get(item.step, item.step),
        words_losses.number(item.eggs),
        words_losses.between(item.low, item.high),
        words.chance(item.p_value),
        words.chance(finding.q_value),
        words_losses.strength_words(finding),
    )


def made(answer: CausesAnswer, without: Sequence[NoAnswer]) -> None:
    """How it was worked out, what it was learnt from, and where it must be read with care."""
    st.header(words_losses.MADE_HEADING, anchor=False)
    for text in (*words_losses.MADE, answer.words.fitted):
        marks.note(text)
    left_out = (*answer.words.left_out, *map(words_losses.no_answer, without))
    if left_out:
        st.subheader(words_losses.LEFT_OUT_HEADING, anchor=False)
        marks.points(left_out)
