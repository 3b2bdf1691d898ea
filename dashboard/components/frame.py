"""What every page has around it: the paper, the name, and a word when something is in the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from string import Template

import streamlit as st
from streamlit.navigation.page import StreamlitPage

from dashboard import data, words
from dashboard.components import marks, page_tables, reader, trouble
from dashboard.look import DAY, HIGH_DAY, HIGH_NIGHT, NIGHT, Look

FOLDER = Path(__file__).parents[1]
EGG = FOLDER / "pictures" / "egg.png"
PAGES = "pages"
"""Key in the session of the pages by name, for buttons that lead from one to another."""
HERE = "page here"
"""Key in the session of the name of the page that is shown."""
_SHEET = FOLDER / "paper.css"
_HIGH_SHEET = FOLDER / "paper_high.css"
_NIGHT_PRINT = FOLDER / "paper_night_print.css"


def look() -> Look:
    """The colours of the light and the contrast that the reader has chosen."""
    return reader.look()


def paper(colours: Look) -> None:
    """Lays the paper: our own letters, tables and strips."""
    style = Template(_SHEET.read_text(encoding="utf-8")).substitute(_colours(colours))
    if colours in (HIGH_DAY, HIGH_NIGHT):
        style += Template(_HIGH_SHEET.read_text(encoding="utf-8")).substitute(_colours(colours))
    if colours in (NIGHT, HIGH_NIGHT):
        style += Template(_NIGHT_PRINT.read_text(encoding="utf-8")).substitute(_colours(DAY))
    st.html(f"<style>{style}</style>")


def _colours(of: Look) -> dict[str, str]:
    names = ("paper", "card", "ink", "faded", "line", "accent", "on_accent", "warning")
    return {
        **{name: getattr(of, name) for name in names},
        **{f"fewer{place}": colour for place, colour in enumerate(of.fewer, start=1)},
        **{f"more{place}": colour for place, colour in enumerate(of.more, start=1)},
    }


def navigation(groups: Mapping[str, Mapping[str, StreamlitPage]], here: str) -> None:
    """The pages under the breeder's questions, in one strip at every width, and the reader's wishes.

    Args:
        groups: question -> name -> page.
        here: name of the page that is shown.
    """
    st.session_state[HERE] = here
    with st.container(key="pages", horizontal=True, gap=None):
        for place, (question, pages) in enumerate(groups.items()):
            with st.container(key=f"group-{place}", gap=None, width="content"):
                st.html(f"<p class='pw-group'>{question}</p>")
                with st.container(key=f"links-{place}", horizontal=True, gap=None):
                    for name, page in pages.items():
                        _page_name(page, is_here=name == here)
        with st.container(key="reader", width="content"):
            reader.choose()
            trouble.at_work()


def _page_name(page: StreamlitPage, *, is_here: bool) -> None:
    if is_here:
        with st.container(key="here", width="content"):
            st.page_link(page)
    else:
        st.page_link(page)


def question() -> None:
    """The question that the page answers, above its title; nothing where a page stands alone."""
    asked = words.QUESTIONS.get(st.session_state.get(HERE, ""))
    if asked:
        st.html(f"<p class='pw-question'>{asked}</p>")


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
        if trouble.is_gone(which.store, which.mark):
            return
        if which.is_example or which.invented_today:
            _banner(which)
        question()
        page_tables.begin()
        page(which)
        page_tables.take_all()
    except Exception as error:  # whatever it is, the reader is told what to do
        trouble.told(error)


def _banner(which: data.Shown) -> None:
    with st.container(key="banner", horizontal=True, vertical_alignment="center"):
        marks.note(words.example_banner(which.invented_today))
        if which.is_example and data.has_own_store() and st.button(words.EXAMPLE_LEAVE, type="tertiary"):
            data.show_example(wanted=False)
            st.rerun()
