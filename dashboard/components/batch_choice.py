"""Which batch: the one in the link, else the one chosen before, else the latest that is out."""

from __future__ import annotations

from collections.abc import Sequence
from difflib import get_close_matches

import streamlit as st

from analytics.store.batch import BatchName
from dashboard import words_batch
from dashboard.components import link, marks
from dashboard.state import shortened

FIELD = "batch"
"""Name in the link."""
_CHOSEN = "batch chosen"
_KEPT = "batch kept"
_WRITTEN = "batch written"
_SAID = "batch said"
_NEAR = 3


def choose(names: Sequence[BatchName]) -> str:
    """Draws the choice; the link is read before and written after.

    Args:
        names: at least one, the latest that is out on top.
    """
    by_label = {name.batch: name for name in names}
    wanted = _from_link(list(by_label))
    if wanted or _CHOSEN not in st.session_state or st.session_state[_CHOSEN] not in by_label:
        kept = st.session_state.get(_KEPT)
        st.session_state[_CHOSEN] = wanted or (kept if kept in by_label else names[0].batch)
    if said := st.session_state.get(_SAID):
        marks.notice(words_batch.NOT_IN_RECORDS, (said,))
    with st.container(key="choices", horizontal=True, vertical_alignment="bottom"):
        chosen: str = st.selectbox(
            words_batch.CHOOSE,
            list(by_label),
            format_func=lambda label: words_batch.choice(by_label[label]),
            key=_CHOSEN,
            width=380,
        )
    st.session_state[_KEPT] = chosen
    _write(chosen)
    return chosen


def _from_link(labels: Sequence[str]) -> str:
    """The batch that a new link asks for, or ""; what it asks in vain is kept to be said."""
    given = st.query_params.get(FIELD, "").strip()
    if not given or given == st.session_state.get(_WRITTEN):
        return ""
    st.session_state.pop(_SAID, None)
    by_key = {label.casefold(): label for label in labels}
    found = by_key.get(given.casefold(), "")
    if not found:
        near = get_close_matches(given.casefold(), list(by_key), _NEAR)
        st.session_state[_SAID] = words_batch.unknown_in_link(shortened(given), [by_key[key] for key in near])
    return found


def _write(chosen: str) -> None:
    """Writes the link in one step; a choice of the reader's own ends what was said of the link."""
    if st.session_state.get(_WRITTEN) not in (None, chosen):
        st.session_state.pop(_SAID, None)
    link.write({FIELD: [chosen]})
    st.session_state[_WRITTEN] = chosen
