"""How labels are compared and rows are named: one rule, as SQL and as Python, which a test holds together.

A label is compared in composed form, without outer blanks and without case. A row's key is its key cells,
normalised that way, joined by `|`; a `|` or `\\` inside a label is written with a `\\` before it, so that no
two different keys look alike. Days and moments stand in it as ISO text with seconds.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from datetime import date, datetime, time

from analytics.errors import WrongUsage
from analytics.sheets.contract import Column, Kind, Sheet

BLANKS = " \t\n\r\u00a0\ufeff\u200b"
"""What is cut off at both ends of every cell."""
JOIN = "|"


def quoted(name: str) -> str:
    """A column or table name of ours as SQL."""
    return f'"{name}"'


_OUTER_BLANK = "^[{0}]|[{0}]$".format(r" \t\n\r\x{a0}\x{feff}\x{200b}")


def trimmed_sql(expression: str) -> str:
    """SQL that cuts outer blanks; looks first, because most cells have none."""
    has_some = f"regexp_matches({expression}, '{_OUTER_BLANK}')"
    return f"CASE WHEN {has_some} THEN trim({expression}, '{BLANKS}') ELSE {expression} END"


_RUNS = "^''*[=+@-]"
"""What a spreadsheet takes for a formula, with the apostrophes that keep it from that."""


def held_sql(expression: str) -> str:
    """SQL of a text that no spreadsheet runs as a formula: an apostrophe before what begins like one."""
    runs = f"regexp_matches({expression}, '{_RUNS}')"
    return f"CASE WHEN {runs} THEN chr(39) || {expression} ELSE {expression} END"


def let_go_sql(expression: str) -> str:
    """SQL of the text without that apostrophe, whether `held_sql` or a spreadsheet's user put it there."""
    is_held = f"starts_with({expression}, chr(39)) AND regexp_matches({expression}, '{_RUNS}')"
    return f"CASE WHEN {is_held} THEN substr({expression}, 2) ELSE {expression} END"


def label_sql(expression: str) -> str:
    """SQL of the form in which a label is compared."""
    return f"lower({trimmed_sql(f'nfc_normalize({expression})')})"


def normal_label(label: str) -> str:
    """The form in which a label is compared: composed, trimmed, lower case letter by letter."""
    composed = unicodedata.normalize("NFC", label).strip(BLANKS)
    return "".join(_lower(letter) for letter in composed)


def _lower(letter: str) -> str:
    return letter.lower()[:1]


def key_sql(sheet: Sheet, alias: str = "") -> str:
    """SQL of the row key over the sheet's typed columns; NULL when a required part is blank."""
    before = f"{alias}." if alias else ""
    parts = [_part_sql(sheet.by_name[name], before + quoted(name)) for name in sheet.key]
    return f" || '{JOIN}' || ".join(parts)


def _part_sql(column: Column, expression: str) -> str:
    if column.kind is Kind.DAY:
        return f"CAST({expression} AS VARCHAR)"
    if column.kind is Kind.MOMENT:
        return moment_sql(expression)
    if column.kind in (Kind.COUNT, Kind.WHOLE):
        return f"CAST({expression} AS VARCHAR)"
    part = escaped_sql(label_sql(expression))
    return part if column.required else f"coalesce({part}, '')"


def escaped_sql(expression: str) -> str:
    """SQL that writes a `\\` before every `|` and `\\` of a key part."""
    return f"replace(replace({expression}, '\\', '\\\\'), '{JOIN}', '\\{JOIN}')"


def moment_sql(expression: str) -> str:
    """SQL of a moment as ISO text with seconds."""
    return f"replace(CAST({expression} AS VARCHAR), ' ', 'T')"


def short_times_sql(text: str) -> str:
    """SQL of a text whose times lose seconds that are 00, and midnight, which stands for no hour."""
    times = r"(\d{4}-\d\d-\d\d)(?: 00:00:00|( \d\d:\d\d):00)"
    return f"regexp_replace({text}, '{times}', '\\1\\2', 'g')"


def short_times(text: str) -> str:
    """A text whose ISO times lose their `T`, seconds that are 00, and midnight, which stands for no hour."""
    return re.sub(r"(\d{4}-\d\d-\d\d)T(\d\d:\d\d)(:\d\d(?:\.\d+)?)", _short_time, text)


def _short_time(found: re.Match[str]) -> str:
    day, clock, seconds = found.groups()
    if seconds != ":00":
        return f"{day} {clock}{seconds}"
    return day if clock == "00:00" else f"{day} {clock}"


def row_key(sheet: Sheet, parts: Sequence[object]) -> str:
    """The key of a row in Python.

    Args:
        sheet: the sheet.
        parts: one value per key column, typed (dates, numbers) or as text; blank or None where not required.

    Raises:
        WrongUsage: not as many parts as the key has, or one that cannot be read.
    """
    if len(parts) != len(sheet.key):
        raise WrongUsage(
            f"{len(parts)} key value{'' if len(parts) == 1 else 's'} for {sheet.name}",
            f"A row of {sheet.name} is named by {', '.join(sheet.key)}",
            f"Give {len(sheet.key)}, in that order",
        )
    return key_start(sheet, parts)


def key_start(sheet: Sheet, parts: Sequence[object]) -> str:
    """The beginning of the keys of all rows that share these first parts; "" without any.

    Raises:
        WrongUsage: more parts than the key has, or one that cannot be read.
    """
    if len(parts) > len(sheet.key):
        return row_key(sheet, parts)  # refuses
    columns = [sheet.by_name[name] for name in sheet.key]
    return JOIN.join(_part(column, part) for column, part in zip(columns, parts, strict=False))


def _part(column: Column, value: object) -> str:
    text = "" if value is None else str(value).strip(BLANKS)
    if not text and column.required:
        raise WrongUsage(f"A blank {column.name}", "It is part of the row's key", "Give it")
    try:
        if column.kind is Kind.DAY:
            return (value if type(value) is date else date.fromisoformat(text[:10])).isoformat()
        if column.kind is Kind.MOMENT:
            return _moment(value, text)
        if column.kind in (Kind.COUNT, Kind.WHOLE):
            return str(int(text))
    except ValueError:
        raise WrongUsage(
            f"{column.name} {text!r}", f"It is a {column.kind} in the row's key", _example(column)
        ) from None
    return normal_label(text).replace("\\", "\\\\").replace(JOIN, "\\" + JOIN)


def _moment(value: object, text: str) -> str:
    if isinstance(value, datetime):
        at = value
    elif isinstance(value, date):
        at = datetime.combine(value, time())
    else:
        at = datetime.fromisoformat(text)
    whole = at.isoformat(timespec="auto")
    return whole.rstrip("0") if at.microsecond else whole


def _example(column: Column) -> str:
    examples = {Kind.DAY: "2026-03-14", Kind.MOMENT: "2026-03-14T18:30"}
    return f"Write it like {examples.get(column.kind, '3')}"
