"""What is in the way of a page, and what to do about it; and work that the reader has stopped."""

from __future__ import annotations

import errno
import logging
from pathlib import Path

import streamlit as st

from analytics.errors import NotAStore, PenwiseError, StoreBusy, StoreDamaged, StoreTooNew
from dashboard import words
from dashboard.components import marks

_STOPPED = "work stopped"
_SEEN = "store seen"
_TOLD = {
    StoreBusy: (words.TROUBLE_BUSY, words.TROUBLE_BUSY_DO),
    StoreDamaged: (words.TROUBLE_DAMAGED, words.TROUBLE_DAMAGED_DO),
    StoreTooNew: (words.TROUBLE_TOO_NEW, words.TROUBLE_TOO_NEW_DO),
    NotAStore: (words.TROUBLE_NOT_A_STORE, words.TROUBLE_NOT_A_STORE_DO),
}


def told(error: Exception) -> None:
    """Says what is in the way, and what to do about it."""
    if isinstance(error, PenwiseError):
        title, advice = _TOLD.get(type(error), (words.TROUBLE_OTHER, ""))
        _say(title, error.sentence(), advice)
        return
    logging.getLogger(__name__).error("A page could not be made", exc_info=error)
    full = isinstance(error, OSError) and error.errno in (errno.ENOSPC, errno.EDQUOT)
    if full or "No space left" in str(error):
        _say(words.TROUBLE_FULL, words.TROUBLE_FULL_DO)
    elif isinstance(error, PermissionError):
        _say(words.TROUBLE_CLOSED, words.not_allowed(error.filename or ""), words.TROUBLE_CLOSED_DO)
    elif isinstance(error, MemoryError):
        _say(words.TROUBLE_MEMORY, words.TROUBLE_MEMORY_DO)
    else:
        _say(words.TROUBLE_UNFORESEEN, words.TROUBLE_UNFORESEEN_DO)


def is_gone(store: Path, mark: str) -> bool:
    """Whether a store that was shown in this visit is not there any more, which is then said."""
    if mark:
        st.session_state[_SEEN] = str(store)
    elif st.session_state.get(_SEEN) == str(store):
        _say(words.TROUBLE_GONE, words.gone(store), words.TROUBLE_GONE_DO)
        return True
    return False


def _say(title: str, *lines: str) -> None:
    marks.notice(title, [line for line in lines if line], grave=True)
    st.button(words.TRY_AGAIN)


def at_work() -> None:
    """A sign that work is under way, with a button that stops it; seen only while a page is being made."""
    with st.container(key="at-work", horizontal=True, vertical_alignment="center"):
        st.html(f"<p class='pw-at-work'>{words.AT_WORK}</p>")
        st.button(words.STOP, key="stop", on_click=_stop)


def _stop() -> None:
    st.session_state[_STOPPED] = True


def was_stopped() -> bool:
    """Whether the reader has stopped the work, which is then said; what is asked next begins anew."""
    if not st.session_state.pop(_STOPPED, False):
        return False
    st.title(words.STOPPED, anchor=False)
    marks.sentences((words.STOPPED_SAFE,))
    st.button(words.STOPPED_ON, type="primary")
    return True
