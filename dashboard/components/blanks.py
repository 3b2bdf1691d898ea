"""Empty record sheets to take away."""

from __future__ import annotations

import streamlit as st

from dashboard import data, words

_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def offer() -> None:
    """Two buttons: one workbook, or CSV tables in a zip file."""
    with st.container(horizontal=True):
        st.download_button(
            words.BLANK_WORKBOOK,
            data.blank_workbook,
            words.BLANK_WORKBOOK_FILE,
            _XLSX,
            on_click="ignore",
        )
        st.download_button(
            words.BLANK_TABLES,
            data.blank_tables,
            words.BLANK_TABLES_FILE,
            "application/zip",
            on_click="ignore",
        )
