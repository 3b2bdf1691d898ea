"""The watch of pens and machines as plain text."""

from __future__ import annotations

from analytics.reports.month_text import paragraph, table
from analytics.studies.signal_records import MonthSignals
from analytics.studies.signal_words import SMALLEST, seen_rows


def signals_parts(told: MonthSignals | None) -> list[str]:
    """Heading, answer, what could have been seen, and the false alarms; nothing where it was not asked."""
    if told is None:
        return []
    parts = ["SIGNALS", *(paragraph(line) for line in told.lines)]
    heading, rows = seen_rows(told.watched)
    if told.charts and rows:
        parts += [paragraph(SMALLEST), table(heading, rows)]
    return [*parts, *(paragraph(line) for line in told.how[1:2])]
