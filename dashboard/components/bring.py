"""Bringing record sheets in: choose, check, look at what would change, keep."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from analytics.errors import InputRejected, SheetProblem, WrongUsage
from analytics.sheets.headings import Logger
from analytics.sheets.load import LoadReport
from analytics.sheets.report import told_once
from dashboard import data, data_records, words
from dashboard.components import frame, marks
from dashboard.intake import Given, take

_ROUND = "round of upload"
_KEPT = "kept last"


def sheets(which: data.Shown) -> None:
    """The upload, from choosing files to having kept them."""
    _say_kept()
    chosen = st.file_uploader(
        words.BRING_LABEL,
        type=["csv", "xlsx"],
        accept_multiple_files=True,
        key=f"upload {st.session_state.get(_ROUND, 0)}",
        help=words.BRING_HELP,
    )
    try:
        logger = _logger(which)
        if not chosen:
            return
        st.session_state.pop(_KEPT, "")
        given = [Given(file.name, file.getvalue()) for file in chosen]
        with st.spinner(words.CHECKING):
            found = data_records.checked(which, given, logger)
        if found.report:
            _right(which, given, logger, found.report)
        else:
            rejected(found.problems, found.total, found.ignored)
    except InputRejected as error:
        rejected(error.problems, error.total)
    except WrongUsage as error:
        marks.notice(words.TROUBLE_OTHER, (error.sentence(),), grave=True)


def rejected(problems: Sequence[SheetProblem], total: int, ignored: Sequence[str] = ()) -> None:
    """Every problem with its place, what stands there, the rule and how to mend it."""
    marks.notice(words.REJECTED_HEADING, (words.problems_found(total), *words.ignored(ignored)), grave=True)
    _places(words.REJECTED_HEADING, problems)
    if total > len(problems):
        marks.note(words.problems_more(len(problems), total))
    with st.expander(words.AS_TEXT):
        st.code("\n".join(one.sentence() for one in told_once(problems)), language=None, wrap_lines=True)


def _right(which: data.Shown, given: Sequence[Given], logger: Logger, report: LoadReport) -> None:
    """The sheets are right: what they would do, and the button that does it."""
    said = words.would_add(report.added, report.corrected_rows, report.unchanged)
    marks.notice(words.RIGHT_HEADING, (said, *words.ignored(report.ignored)))
    _beside(report)
    if not report.added and not report.corrected_cells:
        marks.note(words.NOTHING_NEW)
        return
    label = words.KEEP_CORRECTED if report.corrected_cells else words.KEEP
    if st.button(label, type="primary"):
        with st.spinner(words.KEEPING):
            done = take(
                which.store, given, logger, keep=True, accept_corrections=bool(report.corrected_cells)
            )
        st.session_state[_KEPT] = words.was_kept(done.added, done.corrected_rows)
        st.session_state[_ROUND] = st.session_state.get(_ROUND, 0) + 1
        st.rerun()


def _beside(report: LoadReport) -> None:
    """Values that would change, and what is worth a look."""
    if report.corrected:
        st.subheader(words.CORRECTIONS_HEADING, anchor=False)
        marks.note(words.corrections_lede(len(report.corrected), report.corrected_cells))
        marks.table(
            words.CORRECTIONS_HEADING,
            (words.PROBLEM_WHERE, words.COL_BEFORE, words.COL_AFTER),
            [
                (
                    words.place(one.sheet, f"row {one.row}", one.column),
                    words.value(one.old),
                    words.value(one.new),
                )
                for one in report.corrected
            ],
        )
    if report.warnings:
        st.subheader(words.WARNINGS_HEADING, anchor=False)
        _places(words.WARNINGS_HEADING, report.warnings)


def _places(caption: str, problems: Sequence[SheetProblem]) -> None:
    marks.table(
        caption,
        (words.PROBLEM_WHERE, words.PROBLEM_GIVEN, words.PROBLEM_RULE, words.PROBLEM_REPAIR),
        [
            (words.place(one.sheet, again.rows_words(), one.column), one.given, one.rule, one.repair)
            for again in told_once(problems)
            for one in (again.problem,)
        ],
        wide=(words.PROBLEM_GIVEN, words.PROBLEM_RULE, words.PROBLEM_REPAIR),
    )


def _logger(which: data.Shown) -> Logger:
    """How a logger's file is written, for files that have headings of their own."""
    with st.expander(words.LOGGER_HEADING):
        marks.note(words.LOGGER_LEDE)
        machine = st.selectbox(
            words.LOGGER_MACHINE, data.contents(which).incubators, index=None, placeholder=words.LOGGER_NONE
        )
        headings = {
            column: st.text_input(label, key=f"logger {column}", max_chars=100).strip()
            for column, label in words.LOGGER_COLUMNS.items()
        }
        fahrenheit = st.checkbox(words.LOGGER_FAHRENHEIT)
    named = {column: heading for column, heading in headings.items() if heading}
    return Logger(named, fahrenheit, machine)


def _say_kept() -> None:
    said = st.session_state.get(_KEPT, "")
    if said:
        marks.notice(words.KEPT_HEADING, (said,))
        if st.button(words.KEPT_SEE):
            frame.go_to("month")
