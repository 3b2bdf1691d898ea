"""Pens and machines outside their limits in the month."""

from __future__ import annotations

import streamlit as st

from analytics.studies.signal_records import MonthSignals, Signal
from analytics.studies.signal_words import SMALLEST, seen_rows
from analytics.values import Month
from dashboard import data, words, words_signals
from dashboard.charts_signals import run_figure
from dashboard.components import frame, marks, rates
from dashboard.state import Filters


def section(which: data.Shown, chosen: Filters, month: Month) -> MonthSignals:
    """What left its limits, what could have been seen, and how it was worked out; what was told."""
    told = data.signals(which, chosen, month)
    st.header(words_signals.HEADING, anchor=False)
    first, *more = words_signals.lines(told)
    marks.aside(first)
    for one in told.signals:
        _signal(one)
    if told.signals:
        marks.note(words_signals.KEY)
    for line in more:
        marks.note(line)
    if told.charts and told.watched:
        _seen(told)
    with st.expander(words_signals.HOW):
        marks.points(told.how)
    return told


def _signal(one: Signal) -> None:
    st.subheader(words_signals.title(one), anchor=False)
    marks.note(one.sentence)
    alt = words_signals.alt(one)
    key = f"signal {one.species} {one.kind} {one.label} {one.measure}"
    rates.picture(run_figure(one, frame.look()), alt, key)
    with st.expander(words.AS_TABLE):
        marks.table(
            alt,
            (
                words.COL_MONTH,
                words_signals.COL_EGGS,
                words.COL_RATE,
                words_signals.COL_USUAL,
                words_signals.COL_LIMITS,
            ),
            [
                (
                    words_signals.point_name(point),
                    words.count(point.eggs),
                    words.percent(point.rate),
                    words.percent(point.expected),
                    words_signals.limits(point),
                )
                for point in reversed(one.points)
            ],
            (words_signals.COL_EGGS, words.COL_RATE, words_signals.COL_USUAL, words_signals.COL_LIMITS),
        )


def _seen(told: MonthSignals) -> None:
    heading, rows = seen_rows(told.watched)
    headings = (words_signals.COL_UNIT, words_signals.COL_EGGS, *(name.capitalize() for name in heading[2:]))
    with st.expander(words_signals.SEEN_FOLDED):
        marks.note(SMALLEST)
        marks.table(SMALLEST, headings, rows, headings[1:])
