"""What is in the store: rows of every sheet and the last changes."""

from __future__ import annotations

from datetime import UTC

import streamlit as st

from analytics.sheets.contents import Entry
from analytics.sheets.contract import BY_NAME
from dashboard import data, words
from dashboard.components import marks


def overview(which: data.Shown) -> None:
    """Where the store is, what is in it, and who changed it last."""
    held = data.contents(which)
    marks.note(words.store_at(which.store))
    if held.is_empty:
        marks.note(words.STORE_EMPTY)
        return
    marks.table(
        words.KEPT_IN_STORE,
        (words.COL_SHEET, words.COL_ROWS, words.COL_ROW_IS),
        [(name, words.count(rows), BY_NAME[name].row_is) for name, rows in held.rows.items() if rows],
        (words.COL_ROWS,),
    )
    st.subheader(words.LOADS_HEADING, anchor=False)
    marks.table(
        words.LOADS_HEADING,
        (words.COL_WHEN, words.COL_WHO, words.COL_WHAT, words.COL_ADDED, words.COL_CORRECTED),
        [_row(entry) for entry in held.entries],
        (words.COL_ADDED, words.COL_CORRECTED),
    )


def _row(entry: Entry) -> tuple[str, ...]:
    when = entry.made_at.replace(tzinfo=UTC).astimezone()
    return (
        words.moment(when),
        entry.who,
        entry.source,
        words.count(entry.added),
        words.count(entry.corrected),
    )
