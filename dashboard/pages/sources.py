"""Sources: every figure that is not the breeder's own, and where it comes from."""

from __future__ import annotations

import streamlit as st

from analytics.reference.catalogue import Entry, catalogue, with_words
from analytics.reference.sources import Status
from dashboard import words_sources
from dashboard.components import frame, marks


def show() -> None:
    """The page; it needs no store."""
    frame.question()
    st.title(words_sources.PAGE, anchor=False)
    marks.sentences((words_sources.LEDE, words_sources.LEDE_MORE))
    wanted, status = _asked()
    entries = with_words(wanted, status)
    marks.note(words_sources.found_line(len(entries), len(catalogue())))
    if not entries:
        marks.notice(words_sources.NONE_FOUND, (words_sources.NONE_FOUND_DO,))
    narrowed = len(entries) < len(catalogue())
    for topic in dict.fromkeys(entry.topic for entry in entries):
        _topic(topic, [entry for entry in entries if entry.topic == topic], opened=narrowed)
    marks.points(words_sources.READ_MEANS)


def _asked() -> tuple[str, Status | None]:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        wanted = st.text_input(
            words_sources.FIND, placeholder=words_sources.FIND_HINT, key="sources_find", width=330
        )
        names = {words_sources.ANY_WAY: None, **{name: status for status, name in words_sources.READ.items()}}
        chosen = st.selectbox(words_sources.HOW_READ, list(names), key="sources_read", width=220)
    return wanted, names[chosen]


def _topic(topic: str, entries: list[Entry], *, opened: bool) -> None:
    with st.expander(words_sources.topic_label(topic, len(entries)), expanded=opened):
        if words_sources.is_hazard(topic):
            marks.notice(words_sources.CAUTION, words_sources.CAUTION_LINES)
        for line in words_sources.beneath(topic):
            marks.note(line)
        marks.table(
            topic, words_sources.HEADINGS, [words_sources.row(entry) for entry in entries],
            wide=words_sources.WIDE,
        )  # fmt: skip
