"""Degrees, days and contrast: asked for once, kept in the link, and the same on every page."""

from __future__ import annotations

from pathlib import Path

import streamlit as st
from streamlit.runtime.scriptrunner import get_script_run_ctx

from analytics.studies import reading
from dashboard import reader, words
from dashboard.look import Look, look_for

_WRITTEN = "reader written"
_SEES = st.components.v2.component(
    "penwise_contrast",
    html="<span></span>",
    js=Path(__file__).with_name("contrast.js").read_text(encoding="utf-8"),
    isolate_styles=False,
)
_HIGH = "contrast asked"
_NAMES = {
    "degrees": (words.READER_DEGREES, words.DEGREES_NAMES),
    "days": (words.READER_DAYS, words.DAYS_NAMES),
    "contrast": (words.READER_CONTRAST, words.CONTRAST_NAMES),
}


def now() -> reader.Reader:
    """What the reader of the page wants; as usual where no page is being made."""
    if get_script_run_ctx(suppress_warning=True) is None:
        return reader.Reader()
    return reader.of({field: st.session_state.get(_key(field), "") for field in reader.FIELDS})


reading.ask_by(lambda: now().reading)


def mark() -> str:
    """Changes whenever sentences are to be written otherwise."""
    wanted = now().reading
    return "" if wanted == reading.USUAL else f" {wanted.degrees} {wanted.days}"


def look() -> Look:
    """The colours of the light and the contrast that the reader has chosen."""
    high = now().contrast == reader.HIGH or bool(st.session_state.get(_HIGH))
    return look_for(st.context.theme.type, high=high)


def settle() -> None:
    """Takes the wishes from a link that is new."""
    written = st.session_state.get(_WRITTEN, {})
    for field, offered in reader.OFFERED.items():
        given = st.query_params.get(field)
        if given in offered and [given] != written.get(field):
            st.session_state[_key(field)] = given
        st.session_state.setdefault(_key(field), offered[0])


def carried() -> dict[str, list[str]]:
    """The wishes as fields of the page's link."""
    st.session_state[_WRITTEN] = reader.link(now())
    return reader.link(now())


def choose() -> None:
    """Asks for the wishes, and learns whether the computer asks for high contrast."""
    with st.popover(words.READER, type="tertiary"):
        for field, (label, names) in _NAMES.items():
            st.radio(label, reader.OFFERED[field], format_func=names.__getitem__, key=_key(field))
        st.html(f"<p class='pw-note'>{words.READER_NOTE}</p>")
    with st.container(key="contrast-asked"):
        known = bool(st.session_state.get(_HIGH))
        found = _SEES(data={"high": known}, key="contrast", on_high_change=_nothing)
    if bool(found.high) != known:
        st.session_state[_HIGH] = bool(found.high)
        st.rerun()


def _nothing() -> None:
    """What the computer asks for is read where it was asked."""


def _key(field: str) -> str:
    return f"reader {field}"
