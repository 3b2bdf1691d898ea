"""One batch on a page: its eggs, its hours, what to look at, what to write down, and how it was made."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from analytics.studies.batch_records import Advice, BatchAnswer, BatchSign, BatchSpecies, PublishedBeside
from dashboard import charts_batch, data, data_batch, words, words_batch, words_losses
from dashboard.components import frame, marks
from dashboard.components.rates import picture
from dashboard.look import Look


def eggs(answer: BatchAnswer, look: Look) -> None:
    """Where the eggs went, species by species, and pen by pen where there are several."""
    for one in answer.species:
        if not one.eggs:
            continue
        st.header(words_batch.eggs_heading(one, alone=len(answer.species) == 1), anchor=False)
        alt = words_batch.eggs_alt(one)
        picture(charts_batch.eggs_figure(one, look), alt, f"eggs {one.species}")
        marks.note(words_batch.EGGS_KEY)
        _eggs_table(one, alt)


def _eggs_table(one: BatchSpecies, alt: str) -> None:
    with st.expander(words.AS_TABLE):
        marks.note(alt)
        marks.table(
            alt,
            (
                words_batch.COL_FATE,
                words_batch.COL_EGGS,
                words_batch.COL_SHARE,
                words_batch.COL_RANGE,
                words_batch.COL_OPEN,
            ),
            [words_batch.fate_row(fate) for fate in one.fates],
            (words_batch.COL_EGGS, words_batch.COL_SHARE, words_batch.COL_RANGE, words_batch.COL_OPEN),
        )
    if len(one.pens) > 1:
        marks.table(
            words_batch.COL_PEN,
            (words_batch.COL_PEN, words_batch.COL_EGGS, words_batch.COL_HATCHED, words_batch.COL_WITHOUT),
            [words_batch.pen_row(pen) for pen in one.pens],
            (words_batch.COL_EGGS, words_batch.COL_HATCHED, words_batch.COL_WITHOUT),
        )
        marks.note(words_batch.PENS_NOTE)


def due(answer: BatchAnswer) -> None:
    """What is due while the batch is in the machine."""
    if not answer.due:
        return
    st.header(words_batch.DUE_HEADING, anchor=False)
    alone = len(answer.species) == 1
    columns = (
        words_batch.COL_WHAT,
        words_batch.COL_BIRD,
        words_batch.COL_WHEN,
        words_batch.COL_DAYS,
        words_batch.COL_STATE,
    )
    kept = [place for place, name in enumerate(columns) if not (alone and name == words_batch.COL_BIRD)]
    rows = [words_batch.due_row(one) for one in answer.due]
    marks.table(
        words_batch.DUE_HEADING,
        [columns[place] for place in kept],
        [[row[place] for place in kept] for row in rows],
    )


def hours(answer: BatchAnswer, look: Look) -> None:
    """When it hatched, beside the published window."""
    found = answer.hours
    if not found.sentences:
        return
    st.header(words_batch.WHEN_HEADING if not answer.due else words_batch.WILL_HEADING, anchor=False)
    if found.expected:
        picture(charts_batch.hours_figure(found, look), words_batch.hours_alt(found), "hours")
        marks.note(words_batch.WHEN_KEY if found.window else words_batch.WHEN_KEY_EXPECTED)
    marks.points(found.sentences)


def look_now(answer: BatchAnswer) -> None:
    """What to look at now."""
    if answer.state != "hatched":
        return
    st.header(words_batch.LOOK_HEADING, anchor=False)
    if not answer.look_now:
        marks.note(words_batch.LOOK_NONE)
        return
    _steps(answer.look_now)
    if answer.words.cautions:
        marks.notice(words_batch.CARE_HEADING, answer.words.cautions)


def _steps(advice: Sequence[Advice]) -> None:
    marks.steps([words_batch.advice_step(one) for one in advice])


def signs(answer: BatchAnswer) -> None:
    """What was seen and what it may come from, each folded beneath what was seen; that of most eggs first."""
    if not answer.signs:
        return
    st.header(words_batch.CAUSES_HEADING, anchor=False)
    marks.note(words_batch.CAUSES_LEDE)
    for sign in answer.signs:
        with st.expander(words_batch.sign_label(sign)):
            _candidates(sign)


def _candidates(sign: BatchSign) -> None:
    columns = [
        words_batch.COL_CAUSE,
        words_batch.COL_GROUP,
        words_batch.COL_SUPPORT,
        words_batch.COL_FOR,
        words_batch.COL_AGAINST,
        words_batch.COL_CHECK,
    ]
    rows = [words_batch.candidate_row(one) for one in sign.candidates]
    kept = [place for place in range(len(columns)) if any(row[place] != words.NOT_KNOWN for row in rows)]
    marks.table(
        sign.name,
        [columns[place] for place in kept],
        [[row[place] for place in kept] for row in rows],
        wide=(words_batch.COL_FOR, words_batch.COL_AGAINST, words_batch.COL_CHECK),
    )


def record_next(answer: BatchAnswer) -> None:
    """What to write down or set otherwise next time; the first ones stand open."""
    st.header(words_batch.NEXT_HEADING, anchor=False)
    if not answer.record_next:
        marks.note(words_batch.NEXT_NONE)
        return
    marks.note(words_batch.NEXT_LEDE)
    _steps(answer.record_next[: words_batch.MOST_NEXT])
    rest = answer.record_next[words_batch.MOST_NEXT :]
    if rest:
        with st.expander(words_batch.more_next(len(rest))):
            _steps(rest)


def cannot_tell(answer: BatchAnswer) -> None:
    """What one batch cannot tell."""
    if answer.words.cannot_tell:
        with st.expander(words_batch.cannot_label(len(answer.words.cannot_tell))):
            marks.points(answer.words.cannot_tell)


def published(answer: BatchAnswer) -> None:
    """Published figures with this batch's on the same base."""
    told = [one for one in answer.species if one.eggs]
    if not told:
        return
    with st.expander(words_batch.published_label(sum(len(one.published) for one in told))):
        marks.note(words_batch.PUBLISHED_LEDE)
        _published(told)


def _published(told: Sequence[BatchSpecies]) -> None:
    for one in told:
        if one.published_note:
            marks.note(one.published_note)
        beside = [row for row in one.published if row.own_low is not None]
        _published_table(beside)
        rest = [row for row in one.published if row.own_low is None]
        if rest:
            marks.note(words_batch.published_rest(rest))
            _published_table(rest)


def _published_table(rows: Sequence[PublishedBeside]) -> None:
    if rows:
        marks.table(
            words_batch.PUBLISHED_HEADING,
            (words_batch.COL_RATE, words_batch.COL_PRINTED, words_batch.COL_OWN, words_batch.COL_SOURCE),
            [words_batch.published_row(row) for row in rows],
            wide=(words_batch.COL_SOURCE,),
        )


def others(answer: BatchAnswer) -> None:
    """The farm's other batches as counted, and the way to what many batches tell."""
    if not answer.others:
        return
    st.header(words_batch.OTHERS_HEADING, anchor=False)
    marks.note(words_batch.OTHERS_LEDE)
    marks.table(
        words_batch.OTHERS_HEADING,
        (
            words_batch.COL_WHOSE,
            words_batch.COL_MANY,
            words_batch.COL_TOGETHER,
            words_batch.COL_LOWEST,
            words_batch.COL_HIGHEST,
        ),
        [words_batch.other_row(other) for other in answer.others],
        (
            words_batch.COL_MANY,
            words_batch.COL_TOGETHER,
            words_batch.COL_LOWEST,
            words_batch.COL_HIGHEST,
        ),
    )
    if st.button(words_batch.TO_LOSSES):
        frame.go_to("losses")


def made(which: data.Shown, answer: BatchAnswer) -> None:
    """How it was worked out, and the trays as they are written down."""
    with st.expander(words_batch.MADE_HEADING):
        marks.points(answer.words.made)
        if answer.hours.expected:
            marks.note(words_batch.DAYS_FROM)
            marks.points(answer.hours.expected.as_printed)
        marks.points(words_batch.due_sources(answer.due))
    rows = data_batch.trays(which, answer.head.batch)
    if not rows:
        return
    with st.expander(words_batch.TRAYS_HEADING):
        marks.table(
            words_batch.TRAYS_HEADING,
            (
                words_losses.COL_TRAY,
                words_losses.COL_PEN,
                words_losses.COL_STORED,
                words_losses.COL_EGGS,
                words_losses.COL_CHICK,
                words_losses.COL_REST,
            ),
            [words_batch.tray_row(row) for row in rows],
            (words_losses.COL_STORED, words_losses.COL_EGGS, words_losses.COL_CHICK),
            wide=(words_losses.COL_REST,),
        )
