"""Typing a row of any sheet, and correcting a value: the sheets' columns as fields, their rules as judge."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime, time

import streamlit as st

from analytics.errors import InputRejected, PenwiseError, SheetProblem
from analytics.reference.species import species_table
from analytics.sheets.contents import Contents
from analytics.sheets.contract import BY_NAME, Column, Kind, Sheet
from analytics.sheets.load import ByHand, CorrectionsNotAccepted
from analytics.sheets.typed import keep_rows, of_row
from dashboard import data, data_batch, data_bench, words_bench
from dashboard.components import marks

_SAID = "typed row kept"
NEW_BATCH = "new batch"
"""Key of the form for a batch with its trays."""
_MOST = 500
_LAST, _REMEMBERED = "last ", ("incubator", "pen")
_TRAY_FIELDS = ("tray", "pen", "eggs_set", "storage_days")


def row(
    which: data.Shown,
    sheet: str,
    key: str,
    *,
    given: Mapping[str, str] | None = None,
    start: Mapping[str, str] | None = None,
    columns: Sequence[str] = (),
) -> None:
    """A form for one new row.

    Args:
        which: the store.
        sheet: name of the sheet.
        key: names the form on its page.
        given: cells that are known and not asked for.
        start: what stands in fields at first, as text of a sheet.
        columns: the fields, where not all; key columns that are not given are always asked for.
    """
    found, known = BY_NAME[sheet], dict(given or {})
    asked = [
        column
        for column in found.columns
        if column.name not in known and (not columns or column.name in columns or column.required)
    ]
    say(key)
    place = f"{key} {_round(key)}"
    faults: Sequence[SheetProblem] = st.session_state.get(f"{place} faults", ())
    with st.form(place, border=True):
        _head(place, faults, [column.name for column in asked])
        for column in asked:
            at_first = (start or {}).get(column.name, "") or _last(column)
            field(which, sheet, column, f"{place} {column.name}", at_first)
            _faults_at(column.name, faults)
        st.form_submit_button(
            words_bench.KEEP,
            type="primary",
            on_click=_keep_new,
            args=(which, found, known, asked, key, place),
        )


def fill(which: data.Shown, sheet: str, parts: tuple[str, ...], columns: Sequence[str], key: str) -> None:
    """A form for some cells of a row that is there; a reason is asked where a recorded value changes."""
    found = BY_NAME[sheet]
    before = dict(data_bench.stored(which, sheet, parts).cells)
    asked = [found.by_name[name] for name in columns]
    say(key)
    place = f"{key} {_round(key)}"
    faults: Sequence[SheetProblem] = st.session_state.get(f"{place} faults", ())
    with st.form(place, border=True):
        _head(place, faults, columns)
        for column in asked:
            field(which, sheet, column, f"{place} {column.name}", before[column.name] or "")
            _faults_at(column.name, faults)
        st.text_input(words_bench.FILL_WHY, key=f"{place} why", max_chars=500)
        st.form_submit_button(
            words_bench.KEEP,
            type="primary",
            on_click=_keep_cells,
            args=(which, found, parts, asked, before, key, place),
        )


def correct(which: data.Shown, sheet: str, parts: tuple[str, ...]) -> None:
    """One value of a row put right, with the reason."""
    found = BY_NAME[sheet]
    key = f"correct {sheet} {parts}"
    say(key)
    with st.expander(words_bench.CORRECT_HEADING):
        marks.note(words_bench.CORRECT_LEDE)
        names = [column.name for column in found.columns if column.name not in found.key]
        name = st.selectbox(
            words_bench.CORRECT_COLUMN,
            names,
            index=None,
            placeholder=words_bench.CHOOSE,
            format_func=lambda one: found.by_name[one].note,
            key=f"{key} column",
        )
        if name:
            _correct_form(which, found, parts, found.by_name[name], key)


def _correct_form(which: data.Shown, sheet: Sheet, parts: tuple[str, ...], column: Column, key: str) -> None:
    before = dict(data_bench.stored(which, sheet.name, parts).cells)
    place = f"{key} {column.name} {_round(key)}"
    faults: Sequence[SheetProblem] = st.session_state.get(f"{place} faults", ())
    with st.form(place, border=False):
        _head(place, faults, (column.name,))
        field(which, sheet.name, column, f"{place} {column.name}", before[column.name] or "")
        _faults_at(column.name, faults)
        st.text_input(words_bench.CORRECT_WHY, key=f"{place} why", max_chars=500)
        st.form_submit_button(
            words_bench.CORRECT_KEEP,
            on_click=_keep_cells,
            args=(which, sheet, parts, [column], before, key, place),
            kwargs={"always_why": True},
        )


def _keep_new(
    which: data.Shown, sheet: Sheet, given: Mapping[str, str], asked: Sequence[Column], key: str, place: str
) -> None:
    cells = {**given, **{column.name: typed(column, f"{place} {column.name}") for column in asked}}
    ordered = {column.name: cells[column.name] for column in sheet.columns if column.name in cells}

    def do() -> str:
        keep_rows(which.store, {sheet.name: [ordered]}, ByHand(words_bench.SOURCE_TYPED), today=which.today)
        st.session_state.update({_LAST + name: ordered[name] for name in _REMEMBERED if ordered.get(name)})
        return words_bench.kept(sheet.name, ordered, sheet.key)

    _try(do, key, place)


def _last(column: Column) -> str:
    """The machine or pen that was written down last in this visit."""
    return str(st.session_state.get(_LAST + column.name, "")) if column.refers_to else ""


def _keep_cells(
    which: data.Shown,
    sheet: Sheet,
    parts: tuple[str, ...],
    asked: Sequence[Column],
    before: Mapping[str, str | None],
    key: str,
    place: str,
    *,
    always_why: bool = False,
) -> None:
    now = {column.name: typed(column, f"{place} {column.name}") for column in asked}
    changed = {name: text for name, text in now.items() if not _same(before[name] or "", text)}
    why = str(st.session_state.get(f"{place} why", "")).strip()
    if not changed:
        st.session_state[f"{place} refused"] = (words_bench.SAME,)
        return
    if not why and (always_why or any(before[name] for name in changed)):
        st.session_state[f"{place} refused"] = (words_bench.NO_WHY,)
        return

    def do() -> str:
        cells = of_row(which.store, sheet.name, parts, changed)
        keep_rows(
            which.store,
            {sheet.name: [cells]},
            ByHand(words_bench.SOURCE_TYPED, why),
            accept_corrections=True,
            today=which.today,
        )
        return words_bench.kept(sheet.name, cells, sheet.key)

    _try(do, key, place)


def _same(before: str, now: str) -> bool:
    """Whether two cells say the same, however they are written."""
    try:
        return float(before) == float(now)
    except ValueError:
        moments = [text.replace(":00", "") if "T" in text else text for text in (before, now)]
        return moments[0].removesuffix("T00") == moments[1].removesuffix("T00")


def _try(do: Callable[[], str], key: str, place: str) -> None:
    """Does it, and keeps what is to be said: that it is kept, or what is wrong at which field."""
    st.session_state.pop(f"{place} faults", None)
    st.session_state.pop(f"{place} refused", None)
    try:
        st.session_state[f"{_SAID} {key}"] = do()
        st.session_state[f"{key} round"] = _round(key) + 1
    except CorrectionsNotAccepted as error:
        st.session_state[f"{place} refused"] = words_bench.would_change(error.report.corrected)
    except InputRejected as error:
        st.session_state[f"{place} faults"] = error.problems
        st.session_state[f"{place} refused"] = (words_bench.problems(error.total),)
    except PenwiseError as error:
        st.session_state[f"{place} refused"] = (error.sentence(),)


def _round(key: str) -> int:
    return int(st.session_state.get(f"{key} round", 0))


def say(key: str) -> None:
    """Says what was kept by a form, once."""
    said = st.session_state.pop(f"{_SAID} {key}", None)
    if said:
        marks.notice(words_bench.KEPT, (said,))


def _head(place: str, faults: Sequence[SheetProblem], names: Sequence[str]) -> None:
    """What was refused, and what is wrong in no field of the form."""
    refused = st.session_state.get(f"{place} refused")
    if refused:
        rest = [words_bench.problem(one) for one in faults if not set(one.column.split(", ")) & set(names)]
        marks.notice(words_bench.NOT_KEPT, (*refused, *rest), grave=True)


def _faults_at(name: str, faults: Sequence[SheetProblem]) -> None:
    here = [words_bench.problem(one) for one in faults if name == one.column.split(", ")[0]]
    if here:
        marks.notice("", here, grave=True)


def field(which: data.Shown, sheet: str, column: Column, key: str, start: str) -> None:
    """One cell as a field; what is typed is read back by `typed`."""
    name = words_bench.named(column)
    offered = _offered(which, sheet, column)
    if offered:
        _choice(name, offered, key, start, column)
    elif column.kind in (Kind.DAY, Kind.MOMENT):
        _moment(name, column, key, start)
    elif column.kind in (Kind.COUNT, Kind.WHOLE):
        least = 0 if column.kind is Kind.COUNT else 1
        most = None if column.high is None else int(column.high)
        st.number_input(name, least, most, int(start) if start else None, 1, key=key)
    elif column.kind in (Kind.NUMBER, Kind.SHARE):
        value = float(start) if start else None
        low, high = (None if end is None else float(end) for end in (column.low, column.high))
        st.number_input(name, low, high, value, 0.1, format="%0.2f", key=key)
    else:
        st.text_input(name, start, max_chars=_MOST, key=key)


def _choice(name: str, offered: Mapping[str, str], key: str, start: str, column: Column) -> None:
    options = list(offered)
    if column.required and not start and len(options) == 1:
        start = options[0]
    at = options.index(start) if start in options else None
    st.selectbox(
        name,
        options,
        at,
        format_func=lambda one: offered.get(one, one),
        placeholder=words_bench.CHOOSE,
        key=key,
    )


def _offered(which: data.Shown, sheet: str, column: Column) -> dict[str, str]:
    """What can be chosen for a cell, as it is kept and as it is shown; nothing where it is typed freely."""
    if column.kind is Kind.YES_NO:
        return {"yes": words_bench.YES, "no": words_bench.NO}
    if column.name == "species":
        return {key: one.name for key, one in species_table().items()}
    if column.choices:
        names = words_bench.OUTCOMES
        return {word: names.get(word, word.replace("_", " ")) for word in column.choices}
    if sheet not in ("pens", "incubators") and column.refers_to in ("pens", "incubators"):
        held = data.contents(which)
        return {label: label for label in (held.pens if column.refers_to == "pens" else held.incubators)}
    if column.refers_to == "batches" and which.mark:
        return {name.batch: name.batch for name in data_batch.names(which)}
    return {}


def _moment(name: str, column: Column, key: str, start: str) -> None:
    at = datetime.fromisoformat(start) if start else None
    if column.kind is Kind.DAY:
        st.date_input(name, at.date() if at else None, format="YYYY-MM-DD", key=key)
        return
    days, hours = st.columns([3, 2], vertical_alignment="bottom")
    days.date_input(name, at.date() if at else None, format="YYYY-MM-DD", key=key)
    hour = at.time() if at and at.time() != time() else None
    hours.time_input(words_bench.HOUR, hour, step=300, key=f"{key} hour")


def typed(column: Column, key: str) -> str:
    """What was typed into a field, as a cell of a sheet."""
    value = st.session_state.get(key)
    if value is None:
        return ""
    if isinstance(value, date):
        hour = st.session_state.get(f"{key} hour")
        return value.isoformat() + (f"T{hour:%H:%M}" if hour else "")
    if isinstance(value, float):
        return f"{value:.6f}".rstrip("0").rstrip(".")
    return str(value).strip()


def batch(which: data.Shown, name: str, held: Contents) -> None:
    """A form for a batch with its trays, kept together or not at all.

    Args:
        which: the store.
        name: a name for the batch that nobody has yet.
        held: the machines and pens there are.
    """
    key = NEW_BATCH
    say(key)
    marks.note(words_bench.BATCH_LEDE)
    many = int(st.number_input(words_bench.BATCH_TRAYS, 1, words_bench.MOST_TRAYS, 1, 1, key=f"{key} many"))
    place = f"{key} {_round(key)}"
    faults: Sequence[SheetProblem] = st.session_state.get(f"{place} faults", ())
    with st.form(place, border=True):
        _head(place, faults, ("batch", "incubator", "set_on", *_TRAY_FIELDS))
        of = BY_NAME["batches"].by_name
        for column, start in (
            ("batch", name),
            ("incubator", held.incubators[0]),
            ("set_on", str(which.today)),
        ):
            field(which, "batches", of[column], f"{place} {column}", start)
            _faults_at(column, [one for one in faults if one.sheet == "batches"])
        for number in range(1, many + 1):
            _tray_fields(which, place, number, faults)
        st.form_submit_button(
            words_bench.BATCH_KEEP, type="primary", on_click=_keep_batch, args=(which, many, key, place)
        )


def _tray_fields(which: data.Shown, place: str, number: int, faults: Sequence[SheetProblem]) -> None:
    st.subheader(words_bench.tray_number(number), anchor=False)
    of = BY_NAME["trays"].by_name
    here = [one for one in faults if one.sheet == "trays" and one.row == number + 1]
    for column in _TRAY_FIELDS:
        start = f"T{number}" if column == "tray" else ""
        field(which, "trays", of[column], f"{place} {number} {column}", start)
        _faults_at(column, here)


def _keep_batch(which: data.Shown, many: int, key: str, place: str) -> None:
    of = BY_NAME["batches"].by_name
    head = {name: typed(of[name], f"{place} {name}") for name in ("batch", "incubator", "set_on")}
    of = BY_NAME["trays"].by_name
    trays = [
        {
            "batch": head["batch"],
            **{name: typed(of[name], f"{place} {number} {name}") for name in _TRAY_FIELDS},
        }
        for number in range(1, many + 1)
    ]

    def do() -> str:
        rows = {"batches": [head], "trays": trays}
        keep_rows(which.store, rows, ByHand(words_bench.SOURCE_TYPED), today=which.today)
        return words_bench.batch_kept(head["batch"], len(trays))

    _try(do, key, place)
