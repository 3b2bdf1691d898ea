"""The first page of an empty store: ways to begin."""

from __future__ import annotations

import streamlit as st

from dashboard import data, words, words_bench
from dashboard.components import blanks, frame, marks


def begin() -> None:
    """Says that nothing is written down yet, and how to start."""
    st.title(words.WELCOME_TITLE, anchor=False)
    marks.sentences((words.WELCOME_LEDE,))
    for place, (name, text) in enumerate(words.WELCOME_WAYS):
        with st.container(key=f"way-{place}", border=True):
            st.subheader(name, anchor=False)
            marks.note(text)
            (_look_around, _write_down, _bring)[place]()


def _look_around() -> None:
    if data.example_store() is None:
        st.code(words.WELCOME_EXAMPLE_COMMAND, language=None)
    elif st.button(words.WELCOME_EXAMPLE, type="primary"):
        with st.spinner(words.BUILDING_EXAMPLE):
            data.build_example()
        data.show_example(wanted=True)
        st.rerun()


def _write_down() -> None:
    marks.note(words_bench.FIRST_WAY)
    if st.button(words_bench.FIRST_TYPE):
        frame.go_to("bench")
    blanks.offer()


def _bring() -> None:
    if st.button(words.WELCOME_BRING):
        frame.go_to("records")
