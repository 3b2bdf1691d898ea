"""The page's link: what a page has chosen, and what goes along from page to page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st

from dashboard import data
from dashboard.components import reader
from dashboard.reader import FIELDS


def write(fields: Mapping[str, Sequence[str]]) -> None:
    """Writes the link in one step, so that the browser's way back has no half-written links."""
    wanted = {name: list(values) for name, values in (*fields.items(), *_carried().items())}
    if wanted != {field: st.query_params.get_all(field) for field in st.query_params}:
        st.query_params.from_dict(wanted)


def keep() -> None:
    """Adds what goes along to the link of a page that writes its own fields, or none."""
    wanted = _carried()
    for field, values in wanted.items():
        if st.query_params.get_all(field) != values:
            st.query_params[field] = values
    for field in FIELDS:
        if field in st.query_params and field not in wanted:
            del st.query_params[field]


def _carried() -> dict[str, list[str]]:
    shown = {data.WANTS_EXAMPLE: ["example"]} if st.session_state.get(data.WANTS_EXAMPLE) else {}
    return {**shown, **reader.carried()}
