"""What every page has around it: the paper, the name, and a word when something is in the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from string import Template

import streamlit as st
from streamlit.navigation.page import StreamlitPage

from analytics.errors import NotAStore, PenwiseError, StoreBusy, StoreDamaged, StoreTooNew
from dashboard import data, words
from dashboard.components import marks, page_tables
from dashboard.look import Look, look_for

FOLDER = Path(__file__).parents[1]
EGG = FOLDER / "pictures" / "egg.png"
PAGES = "pages"
"""Key in the session of the pages by name, for buttons that lead from one to another."""
_SHEET = FOLDER / "paper.css"


def look() -> Look:
    """The colours of the light the reader has chosen."""
    return look_for(st.context.theme.type)


def paper(colours: Look) -> None:
    """Lays the paper: our own letters, tables and strips."""
    style = Template(_SHEET.read_text(encoding="utf-8")).substitute(
        paper=colours.paper,
        card=colours.card,
        ink=colours.ink,
        faded=colours.faded,
        line=colours.line,
        accent=colours.accent,
        on_accent=colours.on_accent,
        warning=colours.warning,
        **{f"fewer{place}": colour for place, colour in enumerate(colours.fewer, start=1)},
        **{f"more{place}": colour for place, colour in enumerate(colours.more, start=1)},
    )
    st.html(f"<style>{style}</style>")


def pages_by_name(pages: Sequence[StreamlitPage]) -> None:
    """The pages' names in rows, for narrow screens, where the row in the head would shrink to a sign.

    Four or three stand in a row, so that none is left alone in the last one.
    """
    in_a_row = 3 if len(pages) % 4 == 1 else 4
    st.html(f"<style>.st-key-pages {{ --pages-in-a-row: {in_a_row}; }}</style>")
    with st.container(key="pages", horizontal=True, gap=None):
        for page in pages:
            st.page_link(page)


def go_to(name: str) -> None:
    """Turns to another page."""
    st.switch_page(st.session_state[PAGES][name])


def link_to(name: str, label: str, fields: Mapping[str, str]) -> None:
    """A link to another page with what it is to show; nothing where pages stand alone."""
    pages = st.session_state.get(PAGES)
    if pages:
        st.page_link(pages[name], label=label, query_params=dict(fields))


def within(page: Callable[[data.Shown], None]) -> None:
    """Shows a page on the store, or says in words why it cannot."""
    try:
        which = data.shown()
        if which is None:
            marks.notice(words.TROUBLE_OTHER, (words.NO_STORE_GIVEN,), grave=True)
            return
        if which.is_example or which.invented_today:
            _banner(which)
        page_tables.begin()
        page(which)
        page_tables.take_all()
    except PenwiseError as error:
        trouble(error)


def trouble(error: PenwiseError) -> None:
    """Says what is in the way, and what to do about it."""
    title, advice = _TROUBLES.get(type(error), (words.TROUBLE_OTHER, ""))
    marks.notice(title, [line for line in (error.sentence(), advice) if line], grave=True)
    st.button(words.TRY_AGAIN)


_TROUBLES = {
    StoreBusy: (words.TROUBLE_BUSY, words.TROUBLE_BUSY_DO),
    StoreDamaged: (words.TROUBLE_DAMAGED, words.TROUBLE_DAMAGED_DO),
    StoreTooNew: (words.TROUBLE_TOO_NEW, words.TROUBLE_TOO_NEW_DO),
    NotAStore: (words.TROUBLE_NOT_A_STORE, words.TROUBLE_NOT_A_STORE_DO),
}


def _banner(which: data.Shown) -> None:
    with st.container(key="banner", horizontal=True, vertical_alignment="center"):
        marks.note(words.example_banner(which.invented_today))
        if which.is_example and data.has_own_store() and st.button(words.EXAMPLE_LEAVE, type="tertiary"):
            data.show_example(wanted=False)
            st.rerun()
