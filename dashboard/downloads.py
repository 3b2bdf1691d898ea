"""Tables to take away: the numbers of a record as CSV, unrounded, what is not known left blank."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence


def as_csv(rows: Sequence[Mapping[str, object]]) -> bytes:
    """The rows with their keys as headings, in UTF-8 with the mark by which spreadsheets know it."""
    text = io.StringIO()
    if rows:
        table = csv.DictWriter(text, list(rows[0]))
        table.writeheader()
        table.writerows(rows)
    return text.getvalue().encode("utf-8-sig")
