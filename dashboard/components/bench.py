"""The bench step by step: which batch, which tray, what to write down, and what became of the batch."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import streamlit as st

from analytics.sheets.bench import BenchBatch, TrayTally
from analytics.sheets.contract import BY_NAME, SHEETS
from dashboard import data, data_batch, data_bench, words_bench
from dashboard.components import bench_board, bench_key, frame, lookback, marks, typed_row
from dashboard.data import WANTS_EXAMPLE

_LARGE = """<style>
.st-key-bench-choices button, .st-key-close button { min-height: 64px; border-width: 2px; }
.st-key-bench-choices button p, .st-key-close button p { font-size: 1.1rem; }
</style>"""
"""Targets for wet fingers."""
BATCH, TRAY = "batch", "tray"
"""Names in the link."""
_KEPT_LINK = "bench link"


def go(batch: str = "", tray: str = "") -> None:
    """Turns to a batch, or a tray of it; the link follows, so that a reload comes back here."""
    link = {name: text for name, text in ((BATCH, batch), (TRAY, tray)) if text}
    if st.session_state.get(WANTS_EXAMPLE):
        link[WANTS_EXAMPLE] = "example"
    st.session_state.pop(bench_board.CLOSED, None)
    st.query_params.from_dict(link)


def asked(batches: Sequence[BenchBatch]) -> tuple[BenchBatch | None, TrayTally | None]:
    """What the link asks for; a batch of one tray that is not closed needs no further choice."""
    wanted, label = (st.query_params.get(name, "").strip().casefold() for name in (BATCH, TRAY))
    batch = next((one for one in batches if one.batch.casefold() == wanted), None)
    if batch is None:
        if wanted:
            marks.notice("", (words_bench.GONE,))
        return None, None
    tray = next((one for one in batch.trays if one.tray.casefold() == label), None)
    if tray is None and len(batch.trays) == 1:
        tray = batch.trays[0]
    return batch, tray


def large() -> None:
    """Makes the buttons of these screens large."""
    st.html(_LARGE)


def choose_batch(which: data.Shown, batches: Sequence[BenchBatch]) -> None:
    """Batches that wait as large buttons, the others in a list, and the ways to write down something else."""
    st.title(words_bench.PAGE, anchor=False)
    typed_row.say(typed_row.NEW_BATCH)
    waiting = [one for one in batches if not one.is_done][: words_bench.MOST_BATCHES]
    marks.sentences((words_bench.LEDE if waiting else words_bench.LEDE_NONE,))
    with st.container(key="bench-choices"):
        for one in waiting:
            st.button(
                words_bench.batch_button(one), key=f"batch {one.batch}", width="stretch", on_click=go,
                args=(one.batch,),
            )  # fmt: skip
    rest = {one.batch: one for one in batches if one not in waiting}
    if rest:
        chosen = st.selectbox(
            words_bench.CHOOSE_OTHER, list(rest), index=None, placeholder=words_bench.CHOOSE,
            format_func=lambda label: words_bench.batch_name(rest[label]),
        )  # fmt: skip
        if chosen:
            go(chosen)
            st.rerun()
    with st.expander(words_bench.NEW_BATCH):
        new_batch(which, batches)
    with st.expander(words_bench.OTHER_ENTRY):
        marks.note(words_bench.OTHER_LEDE)
        any_row(which, "bench row")


def choose_tray(which: data.Shown, batch: BenchBatch) -> None:
    """The trays of a batch as large buttons."""
    st.button(words_bench.BACK_BATCHES, on_click=go, type="tertiary", icon=":material/arrow_back:")
    st.title(words_bench.batch_title(batch.batch), anchor=False)
    if not batch.trays:
        marks.sentences((words_bench.NO_TRAYS,))
    with st.container(key="bench-choices"):
        for tray in sorted(batch.trays, key=lambda one: one.is_closed):
            _tray_button(tray)
    if batch.is_done:
        became(which, batch)
    with st.expander(words_bench.ADD_TRAY, expanded=not batch.trays):
        start = {"tray": words_bench.next_name([one.tray for one in batch.trays], "T")}
        columns = ("tray", "pen", "eggs_set", "laid_from", "laid_to", "storage_days")
        given = {"batch": batch.batch}
        typed_row.row(which, "trays", f"add tray {batch.batch}", given=given, start=start, columns=columns)


def _tray_button(tray: TrayTally, label: str = "") -> None:
    st.button(
        label or words_bench.tray_button(tray),
        key=f"tray {tray.tray}{label}",
        width="stretch",
        type="primary" if label else "secondary",
        on_click=go,
        args=(tray.batch, tray.tray),
    )


def one_tray(which: data.Shown, batch: BenchBatch, tray: TrayTally) -> None:
    """One tray: count its eggs, or write down what was seen and weighed."""
    many = len(batch.trays) > 1
    st.button(
        words_bench.BACK_TRAYS if many else words_bench.BACK_BATCHES,
        on_click=go,
        args=(batch.batch,) if many else (),
        type="tertiary",
        icon=":material/arrow_back:",
    )
    st.title(words_bench.tray_title(tray), anchor=False)
    marks.note(words_bench.tray_lede(tray))
    task = st.segmented_control(
        words_bench.TASK,
        words_bench.TASKS,
        default=words_bench.COUNT,
        key=f"task {batch.batch} {tray.tray}",
        label_visibility="collapsed",
    )
    if task in (None, words_bench.COUNT):
        _count(which, batch, tray)
    else:
        _task(which, tray, task)
    bench_key.key(tray.species)


def _count(which: data.Shown, batch: BenchBatch, tray: TrayTally) -> None:
    if tray.is_closed and not tray.left:
        _closed(which, batch, tray)
        return
    if tray.is_closed:
        marks.notice(words_bench.CLOSED_HEADING, (words_bench.closed(tray), words_bench.counts_line(tray)))
    bench_board.counting(which, batch, tray.tray)
    if tray.is_closed:
        typed_row.correct(which, "trays", (tray.batch, tray.tray))


def _closed(which: data.Shown, batch: BenchBatch, tray: TrayTally) -> None:
    """A tray all of whose eggs have an outcome: what stands there, to correct, with its history."""
    marks.notice(words_bench.CLOSED_HEADING, (words_bench.closed(tray), words_bench.counts_line(tray)))
    parts = (tray.batch, tray.tray)
    typed_row.correct(which, "trays", parts)
    lookback.as_it_is(which, "trays", parts)


def _task(which: data.Shown, tray: TrayTally, task: str) -> None:
    marks.note(words_bench.TASK_LEDES[task])
    given = {"batch": tray.batch, "tray": tray.tray}
    key = f"{task} {tray.batch} {tray.tray}"
    today = which.today.isoformat()
    if task == words_bench.CANDLE:
        typed_row.row(which, "candlings", key, given=given, start={"on": today, "eggs": str(tray.eggs_set)})
    elif task == words_bench.WEIGH:
        typed_row.fill(which, "trays", (tray.batch, tray.tray), words_bench.WEIGHT_COLUMNS, key)
    elif task == words_bench.OUT:
        typed_row.row(which, "hatch_counts", key, given=given, start={"counted_at": now(which)})
    else:
        egg = str(data_bench.next_egg(which, tray.batch, tray.tray))
        typed_row.row(which, "opened_eggs", key, given=given, start={"egg": egg})
        bench_key.positions()


def now(which: data.Shown) -> str:
    """The minute, on the day that counts as today."""
    clock = datetime.now().astimezone()
    return words_bench.now_text(datetime.combine(which.today, clock.time()))


def after_closing(which: data.Shown, batches: Sequence[BenchBatch]) -> bool:
    """What follows on a tray that was closed just now; False where none was."""
    last = st.session_state.get(bench_board.CLOSED)
    batch = next((one for one in batches if last and one.batch == last[0]), None)
    if batch is None:
        return False
    tray = next((one for one in batch.trays if one.tray == last[1]), None)
    st.title(words_bench.batch_title(batch.batch), anchor=False)
    if tray:
        marks.notice(words_bench.CLOSED_HEADING, (words_bench.closed(tray), words_bench.counts_line(tray)))
    waiting = [one for one in batch.trays if not one.is_closed]
    with st.container(key="bench-choices"):
        for place, one in enumerate(waiting):
            _tray_button(one, f"{words_bench.DONE_NEXT}: {words_bench.tray_button(one)}" if not place else "")
    if not waiting:
        became(which, batch)
    st.button(words_bench.BACK_BATCHES, on_click=go)
    return True


def became(which: data.Shown, batch: BenchBatch) -> None:
    """Whose loss it was, as far as one hatch can say, and where to read more."""
    answer = data_batch.answer(which, batch.batch)
    st.header(words_bench.DONE_LAST, anchor=False)
    marks.sentences(answer.words.sentences)
    marks.points(words_bench.whose_lines(answer))
    frame.link_to("batch", words_bench.TO_HATCH, {"batch": batch.batch})
    frame.link_to("losses", words_bench.TO_LOSSES, {})
    frame.link_to("month", words_bench.TO_MONTH, {})


def begin(which: data.Shown, batches: Sequence[BenchBatch]) -> None:
    """The first machine, pen and batch, typed one after the other."""
    held = data.contents(which)
    st.title(words_bench.FIRST_TITLE, anchor=False)
    marks.sentences((words_bench.FIRST_LEDE,))
    for heading, sheet, there, columns in (
        (words_bench.FIRST_MACHINE, "incubators", held.incubators, ("role", "air")),
        (words_bench.FIRST_PEN, "pens", held.pens, ("males", "females", "hens_hatched_on")),
    ):
        st.header(heading, anchor=False)
        if not there:
            typed_row.row(which, sheet, f"first {sheet}", columns=columns)
            continue
        marks.note(f"{words_bench.HAVE} {', '.join(there)}")
        with st.expander(words_bench.FIRST_ANOTHER):
            typed_row.row(which, sheet, f"first {sheet}", columns=columns)
    st.header(words_bench.FIRST_BATCH, anchor=False)
    new_batch(which, batches)


def new_batch(which: data.Shown, batches: Sequence[BenchBatch]) -> None:
    """A batch with its trays, kept together."""
    held = data.contents(which)
    if not (held.pens and held.incubators):
        marks.note(words_bench.NEEDS)
        return
    names = [one.batch for one in sorted(batches, key=lambda one: (one.set_on, one.batch))]
    typed_row.batch(which, words_bench.next_name(names, "B"), held)


def any_row(which: data.Shown, key: str) -> None:
    """One row of a sheet that the reader chooses."""
    sheets = [sheet.name for sheet in SHEETS]
    sheet = st.selectbox(
        words_bench.TYPE_SHEET,
        sheets,
        index=None,
        placeholder=words_bench.CHOOSE,
        format_func=lambda name: f"{name}: {BY_NAME[name].row_is}",
        key=f"{key} sheet",
    )
    if not sheet:
        return
    start = {
        column.name: now(which) if column.kind == "moment" else which.today.isoformat()
        for column in BY_NAME[sheet].columns
        if column.kind in ("day", "moment") and column.required
    }
    typed_row.row(which, sheet, f"{key} {sheet}", start=start)


def drafts_waiting(which: data.Shown) -> None:
    """Trays that are begun and not closed, where a month is looked at; nothing where there are none."""
    waiting = data_bench.drafts(which)
    if not waiting:
        return
    marks.notice(words_bench.BEGUN_HEADING, (words_bench.begun_line(waiting),))
    frame.link_to("bench", words_bench.TO_BENCH, {})
