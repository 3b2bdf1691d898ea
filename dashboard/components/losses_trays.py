"""The trays behind a number: who asks for them, and the window in which they are listed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import asdict
from functools import partial

import streamlit as st

from analytics.errors import PenwiseError
from analytics.studies.causes_records import CauseFinding, CausesAnswer, TrayRow
from analytics.studies.trays_behind import Behind, TraysFound
from analytics.values import label_order
from dashboard import data, data_trays, words, words_batch, words_losses
from dashboard.components import batch_choice, frame, lookback, marks
from dashboard.components.rates import take
from dashboard.state import Filters

_ASKED = "trays asked for"
_MOST = 100
"""Trays that are listed; a table to take away has all."""


def ask(*, pen: str = "", batch: str = "", machine: str = "") -> None:
    """Asks for the trays of a pen, a batch, a machine, or of what they have in common."""
    given = ((label,) if label else () for label in (pen, batch, machine))
    st.session_state[_ASKED] = Behind(*given)


def ask_of_steps(steps: Sequence[str]) -> None:
    """A button a step for the trays that lost most in it."""
    marks.note(words_losses.TRAYS_OF_STEP)
    with st.container(key="step-trays", horizontal=True):
        for step in steps:
            if st.button(words_losses.STEP_LOST[step], key=f"trays of {step}"):
                st.session_state[_ASKED] = Behind(step=step)


def ask_of_finding(finding: CauseFinding, answer: CausesAnswer, place: int) -> None:
    """A button for the trays behind a finding; none where a tray does not show what is meant."""
    behind = of_finding(finding, answer)
    if behind and st.button(words_losses.FINDING_TRAYS, key=f"trays of finding {place}"):
        st.session_state[_ASKED] = behind


def of_finding(finding: CauseFinding, answer: CausesAnswer) -> Behind | None:
    """The trays of the pens, machines and batches that a finding names; of storage all, by days.

    None for a diet and the hens' age, which stand in no tray.
    """
    item, known = finding.item, answer.stripes[0]
    named = item.level.split(", ")
    factors = item.factor.split(" and ")
    if "storage" in factors:
        return Behind(step=item.step, stored=True)
    machines = {label for one in known.batches for label in (one.machine, one.hatcher)}
    months = (item.level, item.level) if item.factor == "month" else (item.first, item.last)
    behind = Behind(
        pens=tuple(pen for pen in known.pens if "pen" in factors and pen in (item.level, *named)),
        batches=(item.level,) if item.factor == "batch" else (),
        machines=tuple(
            label
            for label in sorted(machines, key=label_order)
            if {"incubator", "hatcher"} & set(factors) and label in (item.level, *named)
        ),
        step=item.step,
        first=months[0],
        last=months[1],
    )
    named_any = behind.pens or behind.batches or behind.machines or item.factor == "month"
    return behind if named_any else None


def choose(pens: Sequence[str], batches: Sequence[str]) -> None:
    """The same by lists, for who does not use the map."""
    with st.container(key="tray-choices", horizontal=True, vertical_alignment="bottom"):
        pen = st.selectbox(words_losses.COL_PEN, ["", *pens], format_func=_any, key="trays pen", width=200)
        batch = st.selectbox(
            words_losses.COL_BATCH, ["", *batches], format_func=_any, key="trays batch", width=200
        )
        if st.button(words_losses.TRAYS_SHOW, key="trays show"):
            ask(pen=pen, batch=batch)


def _any(label: str) -> str:
    return label or words_losses.ANY


def asked(which: data.Shown, chosen: Filters, answer: CausesAnswer) -> None:
    """Opens the window with the trays, if they were asked for in this run."""
    behind = st.session_state.pop(_ASKED, None)
    if behind is None:
        return
    found = data_trays.behind(which, chosen, answer.species, behind, _MOST)
    window = st.dialog(words_losses.trays_title(behind), width="large")
    window(listed)(which, found, behind, partial(_all, which, chosen, answer.species, behind))


def _all(which: data.Shown, chosen: Filters, species: str, behind: Behind) -> list[dict[str, object]]:
    return [_flat(row) for row in data_trays.behind(which, chosen, species, behind, None).rows]


def listed(
    which: data.Shown, found: TraysFound, behind: Behind, everything: Callable[[], list[dict[str, object]]]
) -> None:
    """The table of the first trays, all of them to take away, and the record of one of them."""
    if not found.rows:
        marks.note(words_losses.TRAYS_NONE)
        return
    marks.note(words_losses.trays_found(found))
    marks.table(
        words_losses.trays_title(behind),
        (
            words_losses.COL_TRAY,
            words_losses.COL_PEN,
            words_losses.COL_MACHINE,
            words_losses.COL_SET_ON,
            words_losses.COL_STORED,
            words_losses.COL_EGGS,
            words_losses.COL_CHICK,
            words_losses.COL_REST,
        ),
        [_row(row) for row in found.rows],
        (words_losses.COL_STORED, words_losses.COL_EGGS, words_losses.COL_CHICK),
        wide=(words_losses.COL_REST,),
    )
    take(words_losses.DOWNLOAD_TRAYS, "penwise-trays", everything)
    if len(behind.batches) == 1:
        frame.link_to("batch", words_batch.TRAYS_BATCH, {batch_choice.FIELD: behind.batches[0]})
    _record(which, found.rows, behind)


def _record(which: data.Shown, rows: Sequence[TrayRow], behind: Behind) -> None:
    """What is written down of one of the trays, and what was changed in it."""
    by_name = {words_losses.tray_key(row): (row.batch, row.tray) for row in rows}
    chosen = st.selectbox(
        words_losses.RECORD,
        list(by_name),
        index=None,
        placeholder=words.CHOOSE,
        key=f"record {behind}",
    )
    if not chosen:
        return
    try:
        lookback.as_it_is(which, "trays", by_name[chosen])
        marks.note(words_losses.RECORD_LEDE)
    except PenwiseError as error:
        marks.notice(words.TROUBLE_OTHER, (error.sentence(),), grave=True)


def _row(row: TrayRow) -> tuple[str, ...]:
    return (
        words_losses.tray_key(row),
        row.pen,
        words_losses.moved(row),
        words_losses.set_day(row.set_on),
        words_losses.stored(row.storage_days),
        words_losses.number(row.eggs_set),
        words_losses.chicks_of(row),
        words_losses.tray_rest(row),
    )


def _flat(row: TrayRow) -> dict[str, object]:
    flat: dict[str, object] = {**asdict(row)}
    del flat["outcomes"]
    return {**flat, **{word: row.outcomes.get(word, 0) for word in words_losses.OUTCOMES}}
