"""Looking back: what was changed in the store, and one row with its changes, to set aside or bring back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC

import streamlit as st

from analytics.errors import PenwiseError
from analytics.sheets.history import NOT_RECORDED, RowChange, StoredRow
from analytics.sheets.keys import short_times
from analytics.sheets.withdraw import bring_back, withdraw
from dashboard import data, data_records, words, words_records
from dashboard.components import marks, typed_row

_PENDING = "row to be changed"
_DONE = "row changed last"


@dataclass(frozen=True, slots=True)
class _Wish:
    """A row that is to be set aside or brought back, with the reason."""

    sheet: str
    parts: tuple[str, ...]
    why: str


def changes(which: data.Shown) -> None:
    """The last changes of the whole store."""
    found = data_records.changes(which)
    if not found.total:
        marks.note(words_records.CHANGES_NONE)
        return
    marks.note(words_records.changes_lede(len(found.changes), found.total))
    _table(words_records.CHANGES_HEADING, found.changes, named=True)


def one_row(which: data.Shown) -> None:
    """A row that the reader chooses: its values, its changes, and setting it aside or bringing it back."""
    marks.note(words_records.ROW_LEDE)
    _say_done()
    sheet = st.selectbox(
        words_records.ROW_SHEET,
        data_records.sheets(which),
        index=None,
        placeholder=words_records.ROW_CHOOSE,
        key="row sheet",
    )
    parts = _choose_row(which, sheet) if sheet else None
    if not sheet or parts is None:
        return
    row = as_it_is(which, sheet, parts)
    if not row.withdrawn:
        typed_row.correct(which, sheet, parts)
    _wish(which, row, parts)


def as_it_is(which: data.Shown, sheet: str, parts: tuple[str, ...]) -> StoredRow:
    """One row with its values and what was changed in it."""
    found = data_records.row(which, sheet, parts)
    assert found.row is not None
    marks.aside(words_records.row_state(found.row))
    _values(found.row)
    if found.changes:
        _table(words_records.ROW_CHANGES, found.changes, named=False)
    else:
        marks.note(words_records.ROW_UNCHANGED)
    return found.row


def _choose_row(which: data.Shown, sheet: str) -> tuple[str, ...] | None:
    found = data_records.rows(which, sheet, "")
    if found.total > len(found.rows):
        part = st.text_input(words_records.ROW_FIND, key=f"row part {sheet}", max_chars=100).strip()
        found = data_records.rows(which, sheet, part)
        if not found.rows:
            marks.note(words_records.ROW_NONE)
            return None
        if found.total > len(found.rows):
            marks.note(words_records.rows_more(len(found.rows), found.total))
    return st.selectbox(
        words_records.ROW_WHICH,
        list(found.rows),
        index=None,
        placeholder=words_records.ROW_CHOOSE,
        key=f"row of {sheet}",
        format_func=lambda parts: words_records.row_name(parts, aside=found.rows.get(parts, False)),
    )


def _values(row: StoredRow) -> None:
    marks.table(
        words_records.ROW_VALUES,
        (words_records.COL_COLUMN, words_records.COL_VALUE),
        [(column, short_times(value)) for column, value in row.cells if value is not None],
    )


def _table(caption: str, changes: Sequence[RowChange], *, named: bool) -> None:
    headings = [
        words_records.COL_WHEN,
        *([words_records.COL_ROW] if named else []),
        words_records.COL_WHAT,
        words_records.COL_BEFORE,
        words_records.COL_AFTER,
        words_records.COL_WHY,
        words_records.COL_BY,
        words_records.COL_ORIGIN,
    ]
    wide = (words_records.COL_WHY, words_records.COL_ORIGIN)
    marks.table(caption, headings, [_cells(one, named=named) for one in changes], wide=wide)


def _cells(one: RowChange, *, named: bool) -> tuple[str, ...]:
    when = one.change.made_at.replace(tzinfo=UTC).astimezone()
    return (
        words.moment(when),
        *((f"{one.change.sheet} {one.row}",) if named else ()),
        words_records.change_what(one),
        words.NOT_KNOWN if one.before == NOT_RECORDED else one.before,
        words.NOT_KNOWN if one.after == NOT_RECORDED else one.after,
        one.change.why or words.NOT_KNOWN,
        one.change.who,
        one.origin,
    )


def _wish(which: data.Shown, row: StoredRow, parts: tuple[str, ...]) -> None:
    """Asks for the reason, shows what would happen, and does it after a yes."""
    with st.form(f"wish {row.sheet} {parts}", border=False):
        reason = words_records.BACK_REASON if row.withdrawn else words_records.AWAY_REASON
        why = st.text_input(reason, key=f"why {row.sheet} {parts}", max_chars=500).strip()
        asked = st.form_submit_button(words_records.BACK_LOOK if row.withdrawn else words_records.AWAY_LOOK)
    if asked and not why:
        st.session_state.pop(_PENDING, None)
        marks.notice(words_records.REFUSED, (words_records.NO_REASON,), grave=True)
        return
    if asked:
        st.session_state[_PENDING] = _Wish(row.sheet, parts, why)
    wish = st.session_state.get(_PENDING)
    if isinstance(wish, _Wish) and (wish.sheet, wish.parts) == (row.sheet, parts):
        _look(which, row, wish)


def _look(which: data.Shown, row: StoredRow, wish: _Wish) -> None:
    """What would happen, tried first and kept only after a yes."""
    try:
        _do(which, row, wish, keep=False)
    except PenwiseError as error:
        marks.notice(words_records.REFUSED, (error.sentence(),), grave=True)
        return
    title = words_records.SURE_BACK if row.withdrawn else words_records.SURE_AWAY
    marks.notice(title, words_records.sure(row, wish.why))
    with st.container(horizontal=True):
        yes = st.button(words_records.BACK_YES if row.withdrawn else words_records.AWAY_YES, type="primary")
        no = st.button(words_records.LEAVE)
    if yes:
        _do(which, row, wish, keep=True)
        title = words_records.DONE_BACK if row.withdrawn else words_records.DONE_AWAY
        st.session_state[_DONE] = (title, words_records.done(row))
    if yes or no:
        st.session_state.pop(_PENDING, None)
        st.rerun()


def _do(which: data.Shown, row: StoredRow, wish: _Wish, *, keep: bool) -> None:
    change = bring_back if row.withdrawn else withdraw
    change(which.store, wish.sheet, wish.parts, wish.why, source=words_records.SOURCE, keep=keep)


def _say_done() -> None:
    said = st.session_state.pop(_DONE, None)
    if said:
        marks.notice(said[0], (said[1],))
