"""One cell: how its text becomes a value in SQL, what can be wrong with it, and how that is said.

Value and fault come from the same expressions, so a cell that is faulty is always explained. A fault is a
small number; 0 = nothing wrong. Times with a zone (`Z`, `+01:00`) and with AM or PM are refused where ISO is
expected: a sheet holds the breeder's local time, and dropping the zone would shift the readings.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass
from datetime import date, timedelta
from enum import IntEnum

from analytics.reference.species import species_table
from analytics.sheets.contract import Column, Kind
from analytics.sheets.keys import BLANKS, let_go_sql, trimmed_sql
from analytics.sheets.look_alikes import NOT_SEEN_IN_LABEL, NOT_SEEN_IN_TEXT, unseen_in

LONGEST_LABEL = 200
LONGEST_TEXT = 10_000
"""Bytes of a cell."""
LARGEST_WHOLE = 10_000_000
LARGEST_NUMBER = 1e9
COLDEST, HOTTEST = -200.0, 150.0
"""°C that a sensor, working or not, may report."""
FAHRENHEIT_FROM = {"storage_c": 45.0, "displayed_c": 60.0, "reference_c": 60.0}
"""Above this a temperature cannot be °C of that place; common practice, no source."""
SHARES_UP_TO_ONE = ("storage_rh", "displayed_rh", "reference_rh", "protein_pct")
"""Percentages that are never as small as 1 %: a share of one was written."""


class Fault(IntEnum):
    """What can be wrong with one cell."""

    BLANK = 1
    UNREADABLE = 2
    NOT_WHOLE = 3
    TOO_LOW = 4
    TOO_HIGH = 5
    NO_CHOICE = 6
    TOO_LONG = 7
    ZONE = 8
    YEAR = 9
    FAHRENHEIT = 10
    SHARE = 11
    LINES = 12
    UNSEEN = 13


@dataclass(frozen=True, slots=True)
class Style:
    """How a file writes its cells.

    Attributes:
        decimal_comma: whether 37,5 is meant as 37.5.
        fahrenheit: whether `temperature_c` is written in °F.
        moment_formats: formats of times other than ISO, tried in turn; () = ISO.
    """

    decimal_comma: bool = False
    fahrenheit: bool = False
    moment_formats: tuple[str, ...] = ()


def choices_of(column: Column) -> tuple[str, ...]:
    """The only words allowed in a column, or ()."""
    return tuple(species_table()) if column.name == "species" else column.choices


def bounds_of(column: Column) -> tuple[float, float]:
    """Smallest and largest number that a column takes."""
    low, high = {
        Kind.COUNT: (0.0, float(LARGEST_WHOLE)),
        Kind.WHOLE: (1.0, float(LARGEST_WHOLE)),
        Kind.SHARE: (0.0, 1.0),
    }.get(column.kind, (-LARGEST_NUMBER, LARGEST_NUMBER))
    if column.name.endswith("_c"):
        low, high = COLDEST, HOTTEST
    return low if column.low is None else column.low, high if column.high is None else column.high


def read_sql(column: Column, text: str, style: Style) -> str:
    """SQL of a text read as its kind, whole numbers still as DOUBLE; NULL where blank or unreadable."""
    kind = column.kind
    if kind in (Kind.LABEL, Kind.TEXT):
        word = f"nullif({let_go_sql(trimmed_sql(text))}, '')"
        return f"lower(replace({word}, ' ', '_'))" if choices_of(column) else word
    if kind is Kind.MOMENT and style.moment_formats:
        formats = ", ".join(f"'{form}'" for form in style.moment_formats)
        return f"try_strptime({trimmed_sql(text)}, [{formats}])"
    if kind in (Kind.DAY, Kind.MOMENT):  # DuckDB knows a day named infinity, which has no hour
        return f"CASE WHEN isfinite(TRY_CAST({text} AS {kind.sql})) THEN TRY_CAST({text} AS {kind.sql}) END"
    if kind is Kind.YES_NO:
        return f"TRY_CAST({text} AS {kind.sql})"
    if style.decimal_comma and kind.sql != "INTEGER":  # 1,000 chicks are not 1
        text = f"replace({text}, ',', '.')"
    number = f"TRY_CAST({text} AS DOUBLE)"
    if style.fahrenheit and column.name == "temperature_c":
        return f"round(({number} - 32) / 1.8, 4)"
    return number


def value_sql(column: Column, value: str) -> str:
    """SQL of the value to keep, from what `read_sql` gave."""
    return f"TRY_CAST({value} AS INTEGER)" if column.kind.sql == "INTEGER" else value


def fault_sql(column: Column, text: str, value: str, style: Style) -> str:
    """SQL of the fault of a cell, 0 when there is none.

    Args:
        column: the column.
        text: SQL of the cell's text.
        value: SQL of what `read_sql` gave for it.
        style: how the file writes.
    """
    nothing = int(Fault.BLANK) if column.required else 0
    if column.kind in (Kind.LABEL, Kind.TEXT):
        blank = str(nothing)
    else:
        is_blank = f"{text} IS NULL OR ({trimmed_sql(text)}) = ''"
        blank = f"CASE WHEN {is_blank} THEN {nothing} ELSE {int(Fault.UNREADABLE)} END"
    tests = "".join(f" WHEN {test} THEN {int(fault)}" for fault, test in _tests(column, text, value, style))
    return f"CASE WHEN {value} IS NULL THEN {blank}{tests} ELSE 0 END"


def _tests(column: Column, text: str, value: str, style: Style) -> list[tuple[Fault, str]]:
    kind = column.kind
    if kind is Kind.YES_NO:
        return []
    if kind in (Kind.DAY, Kind.MOMENT):
        return _time_tests(kind, text, value, style)
    if kind in (Kind.LABEL, Kind.TEXT):
        return _word_tests(column, value)
    return _number_tests(column, value)


def _word_tests(column: Column, value: str) -> list[tuple[Fault, str]]:
    choices = choices_of(column)
    if choices:
        return [(Fault.NO_CHOICE, f"{value} NOT IN ({', '.join(repr(word) for word in choices)})")]
    if column.kind is Kind.TEXT:
        return [
            (Fault.TOO_LONG, f"strlen({value}) > {LONGEST_TEXT}"),
            (Fault.UNSEEN, f"regexp_matches({value}, '{NOT_SEEN_IN_TEXT}')"),
        ]
    return [
        (Fault.TOO_LONG, f"strlen({value}) > {LONGEST_LABEL}"),
        (Fault.LINES, f"contains({value}, chr(10)) OR contains({value}, chr(13))"),
        (Fault.UNSEEN, f"regexp_matches({value}, '{NOT_SEEN_IN_LABEL}')"),
    ]


def _time_tests(kind: Kind, text: str, value: str, style: Style) -> list[tuple[Fault, str]]:
    tests = []
    if not style.moment_formats:
        if kind is Kind.MOMENT:
            tests.append((Fault.ZONE, rf"regexp_matches(substr({text}, 11), '[^0-9:.\sT\x{{a0}}]')"))
        tests.append((Fault.UNREADABLE, f"strlen({text}) < 8"))
    tests.append((Fault.YEAR, f"{value} < DATE '1900-01-01' OR {value} >= DATE '2200-01-01'"))
    return tests


def _number_tests(column: Column, value: str) -> list[tuple[Fault, str]]:
    low, high = bounds_of(column)
    tests = [(Fault.UNREADABLE, f"NOT isfinite({value})"), (Fault.TOO_LOW, f"{value} < {low!r}")]
    if column.name in FAHRENHEIT_FROM:
        tests.append((Fault.FAHRENHEIT, f"{value} > {FAHRENHEIT_FROM[column.name]!r}"))
    if column.name in SHARES_UP_TO_ONE:
        tests.append((Fault.SHARE, f"{value} > 0 AND {value} <= 1"))
    tests.append((Fault.TOO_HIGH, f"{value} > {high!r}"))
    if column.kind.sql == "INTEGER":
        tests.append((Fault.NOT_WHOLE, f"{value} <> floor({value})"))
    return tests


def shown(text: str | None) -> str:
    """A cell as it is quoted in a problem."""
    if text is None or not text.strip(BLANKS):
        return "blank"
    short = text if len(text) <= 60 else text[:57] + "…"
    return f'"{short}"'


def explain(column: Column, fault: Fault, text: str | None) -> tuple[str, str]:
    """The rule that a cell met and how to mend it, as two sentences without full stops."""
    given = (text or "").strip(BLANKS)
    if fault is Fault.NO_CHOICE:
        return _explain_choice(column, given)
    if fault is Fault.UNREADABLE:
        return _explain_unreadable(column, given)
    low, high = bounds_of(column)
    return {
        Fault.BLANK: (f"Every row needs its {column.name}", "Fill it in, or delete the row"),
        Fault.NOT_WHOLE: (f"{column.name} is a whole number", "Write a whole number, such as 12"),
        Fault.TOO_LOW: (f"{column.name} is at least {low:,.10g}", _mend_number(column)),
        Fault.TOO_HIGH: (f"{column.name} is at most {high:,.10g}", _mend_high(column, given)),
        Fault.TOO_LONG: ("The cell is too long", _mend_long(column)),
        Fault.ZONE: (
            f"{column.name} is local time by the 24-hour clock, without a zone and without AM or PM",
            "Write local time, like 2026-03-14T18:30",
        ),
        Fault.YEAR: ("The year lies between 1900 and 2199", "Write it like 2026-03-14"),
        Fault.FAHRENHEIT: (f"{column.name} is in °C, and this looks like °F", _celsius(given)),
        Fault.SHARE: (f"{column.name} is in percent, and this looks like a share of one", _percent(given)),
        Fault.LINES: ("A label is one line", "Take the line break out"),
        Fault.UNSEEN: (
            f"The cell holds {unseen_in(given) or 'a letter'}, which cannot be seen",
            "Type it anew, without what cannot be seen",
        ),
    }[fault]


def _explain_choice(column: Column, given: str) -> tuple[str, str]:
    choices = choices_of(column)
    near = difflib.get_close_matches(given[:LONGEST_LABEL].lower().replace(" ", "_"), choices, 1)
    hint = f"Did you mean {near[0]}? " if near else ""
    return f"{column.name} is one of a few words", f"{hint}Use one of: {', '.join(choices)}"


def _explain_unreadable(column: Column, given: str) -> tuple[str, str]:
    if column.kind is Kind.DAY:
        return f"{column.name} is a day written YYYY-MM-DD", _mend_day(given)
    if column.kind is Kind.MOMENT:
        return f"{column.name} is a day, or a day and a time, written 2026-03-14T18:30", _mend_day(given)
    if column.kind is Kind.YES_NO:
        return f"{column.name} is yes or no", "Write yes or no, or leave it blank if it was not looked at"
    what = "a whole number" if column.kind.sql == "INTEGER" else "a number with a decimal point"
    return f"{column.name} is {what}", _mend_number(column, given)


def _mend_number(column: Column, given: str = "") -> str:
    if re.fullmatch(r"[-+]?\d+,\d{3}", given) and column.kind.sql == "INTEGER":
        return f"Write {given.replace(',', '')}, without a separator"
    if re.fullmatch(r"[-+]?\d*,\d+", given) and column.kind.sql != "INTEGER":
        return f"Write {given.replace(',', '.')}"
    found = re.search(r"\d+(?:\.\d+)?", given)
    alone = re.fullmatch(r"[^\d]*\d+(?:\.\d+)?\s*[^\d.,/:-]*", given)
    if found and alone and not given.startswith("-"):
        return f"Write {found[0]}, without anything else"
    if column.required:
        return "Write the number"
    return "Write the number, or leave the cell blank if it was not recorded (0 = counted, none)"


def _mend_high(column: Column, given: str) -> str:
    number = _number(given)
    if column.kind is Kind.SHARE and number is not None and 1 < number <= 100:
        return f"Write it as a share of one: {number / 100:g}"
    if column.name == "malposition":
        return "Use the numbers 1 to 6, or leave it blank"
    return "Look for a slip, or a decimal point in the wrong place"


def _mend_long(column: Column) -> str:
    return f"Keep it under {LONGEST_LABEL if column.kind is Kind.LABEL else LONGEST_TEXT} letters"


def _number(given: str) -> float | None:
    try:
        return float(given.replace(",", "."))
    except ValueError:
        return None


def _celsius(given: str) -> str:
    number = _number(given)
    return "Write °C" if number is None else f"{given} °F would be {(number - 32) / 1.8:.1f} °C"


def _percent(given: str) -> str:
    number = _number(given)
    return "Write percent" if number is None else f"Write {number * 100:g} for {number * 100:g} %"


def _mend_day(given: str) -> str:
    meant = days_meant(given)
    if not meant:
        return "Write it like 2026-03-14"
    if re.fullmatch(r"\d{5}(?:\.\d+)?", given):
        return f"Format the cell as a date; as a number it would be {meant[0]}"
    return "Write " + " or ".join(meant) + (", whichever is meant" if len(meant) > 1 else "")


def days_meant(given: str) -> list[str]:
    """The ISO days that a day written in another way may mean: day first, month first, or a serial number."""
    if re.fullmatch(r"\d{5}(?:\.\d+)?", given):
        return [(date(1899, 12, 30) + timedelta(days=int(float(given)))).isoformat()]
    if re.fullmatch(r"(19|20)\d{6}", given):
        return _real_days([(int(given[:4]), int(given[4:6]), int(given[6:]))])
    found = re.match(r"(\d{1,2})\s*([./-])\s*(\d{1,2})\s*[./-]\s*(\d{4}|\d{2})(?!\d)", given)
    if not found:
        return []
    first, mark, second, year = int(found[1]), found[2], int(found[3]), int(found[4])
    year += 2000 if year < 100 else 0
    orders = [(year, second, first)] if mark == "." else [(year, second, first), (year, first, second)]
    return _real_days(orders)


def _real_days(orders: list[tuple[int, int, int]]) -> list[str]:
    days = []
    for year, month, day in orders:
        try:
            days.append(date(year, month, day).isoformat())
        except ValueError:
            continue
    return list(dict.fromkeys(days))
