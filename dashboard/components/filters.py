"""The filters of a page: one row of choices, kept in the link."""

from __future__ import annotations

import streamlit as st

from analytics.reference.species import species_table
from analytics.values import Month
from dashboard import state, words
from dashboard.components import marks
from dashboard.data import WANTS_EXAMPLE
from dashboard.state import Filters, Known

_KEPT = "filters"
_WRITTEN = "link written"
_SAID = "link said"


def choose(known: Known) -> Filters:
    """Shows the filters and returns what is chosen; the link is read before and written after."""
    _settle(known)
    for line in st.session_state.get(_SAID, ()):
        marks.notice("", (line,))
    with st.container(key="choices", horizontal=True, vertical_alignment="bottom"):
        st.selectbox(
            words.FILTER_MONTH,
            [str(month) for month in reversed(known.months)],
            format_func=lambda text: words.month_name(Month.parse(text)),
            key="month",
            width=230,
        )
        st.selectbox(
            words.FILTER_MEASURE,
            list(words.MEANINGS),
            format_func=words.measure_name,
            key="measure",
            width=230,
        )
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    chosen = _from_widgets()
    st.session_state[_KEPT] = chosen
    _write(chosen)
    return chosen


def _some_of_it(known: Known) -> None:
    names = {key: species.name for key, species in species_table().items()}
    if len(known.species) > 1:
        st.multiselect(
            words.FILTER_SPECIES,
            known.species,
            format_func=lambda key: names.get(key, key),
            key="species",
            placeholder=words.ALL,
        )
    st.multiselect(words.FILTER_PENS, known.pens, key="pens", placeholder=words.ALL)
    st.multiselect(words.FILTER_INCUBATORS, known.incubators, key="incubators", placeholder=words.ALL)


def _settle(known: Known) -> None:
    """Puts the link, or what was chosen before, into the widgets; a choice just made stays as it is."""
    link = {field: st.query_params.get_all(field) for field in state.FIELDS}
    is_new = {name: values for name, values in link.items() if values} != st.session_state.get(_WRITTEN)
    if is_new and (any(link.values()) or _KEPT not in st.session_state):
        chosen, st.session_state[_SAID] = state.read(link, known)
    elif "month" not in st.session_state and _KEPT in st.session_state:
        chosen = st.session_state[_KEPT]
    else:
        chosen = _from_widgets()
    chosen = state.still_known(chosen, known)
    st.session_state.update(
        month=chosen.month or None,
        measure=chosen.measure,
        species=list(chosen.species),
        pens=list(chosen.pens),
        incubators=list(chosen.incubators),
    )


def _from_widgets() -> Filters:
    kept = st.session_state
    return Filters(
        kept.get("month") or "",
        tuple(kept.get("species", ())),
        tuple(kept.get("pens", ())),
        tuple(kept.get("incubators", ())),
        kept.get("measure") or words.FIRST_MEASURE,
    )


def _narrowed() -> int:
    return sum(len(st.session_state.get(key, ())) for key in ("species", "pens", "incubators"))


def _write(chosen: Filters) -> None:
    """Writes the link in one step, so that the browser's way back has no half-written links."""
    wanted = state.write(chosen)
    link = {**wanted, WANTS_EXAMPLE: ["example"]} if st.session_state.get(WANTS_EXAMPLE) else wanted
    if link != {field: st.query_params.get_all(field) for field in st.query_params}:
        st.query_params.from_dict(link)
    st.session_state[_WRITTEN] = wanted
