"""The tally of one tray: the buttons in the browser, what they send, and closing the tray."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

import streamlit as st

from analytics.errors import InputRejected, PenwiseError
from analytics.sheets.bench import BenchBatch, Tap, TrayTally, close_tray, tap
from dashboard import data, data_bench, words_bench
from dashboard.components import frame, marks
from dashboard.egg_drawings import outcome_svg

CLOSED = "bench closed"
"""Key in the session of the tray that was closed last: batch and tray."""
_HERE = Path(__file__)
_BOARD = st.components.v2.component(
    "penwise_bench",
    html="<div class='pwb-board'></div>",
    css=_HERE.with_suffix(".css").read_text(encoding="utf-8"),
    js=_HERE.with_suffix(".js").read_text(encoding="utf-8"),
    isolate_styles=False,
)
_MOST_AT_ONCE = 200
LOOK_AGAIN = 5
"""Seconds after which another phone's taps are seen."""


@st.fragment(run_every=LOOK_AGAIN)
def counting(which: data.Shown, batch: BenchBatch, label: str) -> None:
    """The tally and the button that closes it.

    Drawn again with every tap, and now and then to see what another phone tapped; the page around it is not.
    """
    try:
        _counting(which, batch, label)
    except PenwiseError as error:
        frame.trouble(error)


def _counting(which: data.Shown, batch: BenchBatch, label: str) -> None:
    key = f"board {batch.batch} {label}"
    sent, trouble = _take(which, batch.batch, label, key)
    phone = str(sent.get("phone", ""))
    tray = data_bench.tray(which, batch.batch, label, phone)
    _BOARD(data=_shown(tray, sent, trouble), key=key, on_taps_change=_nothing)
    if tray.devices > 1:
        marks.note(words_bench.others_tap(tray))
    _close(which, batch, tray)


def _nothing() -> None:
    """What was sent is read where the board is drawn."""


def _take(which: data.Shown, batch: str, label: str, key: str) -> tuple[Mapping[str, Any], str]:
    """Keeps what the board sent.

    Returns:
        What it sent, without taps that could not be kept, and why they could not.
    """
    sent = _sent(key)
    done: set[str] = st.session_state.setdefault(f"{key} kept", set())
    new = [one for one in sent["taps"] if one.name not in done]
    trouble = ""
    if new:
        try:
            tap(which.store, batch, label, sent["phone"], new)
            done.update(one.name for one in new)
        except PenwiseError as error:
            trouble = error.sentence()
    kept = [one.name for one in sent["taps"] if one.name in done]
    return {"phone": sent["phone"], "kept": kept}, trouble


def _sent(key: str) -> dict[str, Any]:
    """What the browser sent, taken for a stranger's text."""
    state = st.session_state.get(key)
    raw = state.get("taps") if state else None
    if not isinstance(raw, Mapping):
        return {"phone": "", "taps": []}
    taps = [
        Tap(str(one.get("name", "")), str(one.get("outcome", "")), int(one.get("eggs", 1)))
        for one in list(raw.get("taps", ()))[:_MOST_AT_ONCE]
    ]
    return {"phone": str(raw.get("phone", ""))[:80], "taps": taps}


def _shown(tray: TrayTally, sent: Mapping[str, Any], trouble: str) -> dict[str, Any]:
    """What the board draws."""
    return {
        "tray": f"{tray.batch}|{tray.tray}",
        "phone": sent["phone"],
        "kept": sent["kept"],
        "trouble": trouble,
        "counts": tray.counts,
        "left": tray.left,
        "can_undo": tray.undo is not None,
        "tiles": [
            {
                "key": key,
                "name": name,
                "picture": outcome_svg(key),
                "more": list(words_bench.MORE_CHICKS) if key == "hatched" else [],
            }
            for key, name in words_bench.OUTCOMES.items()
        ],
        "rests": [
            {"key": "not_opened", "name": words_bench.REST_UNOPENED},
            {"key": "hatched", "name": words_bench.REST_HATCHED},
        ],
        "words": {
            "total": words_bench.total(tray),
            "undo": words_bench.undo(tray),
            "off": words_bench.OFFLINE,
            "late": words_bench.LATE,
        },
    }


def _close(which: data.Shown, batch: BenchBatch, tray: TrayTally) -> None:
    if tray.is_closed or (not tray.drafted and tray.left):
        return
    others = [one for one in batch.trays if one.tray != tray.tray and not one.is_closed]
    pulled = ""
    if not others and batch.pulled_on is None:
        out = st.date_input(words_bench.PULLED, which.today, format="YYYY-MM-DD", key=f"pulled {batch.batch}")
        marks.note(words_bench.PULLED_NOTE)
        pulled = out.isoformat() if out else ""
    with st.container(key="close"):
        kind: Literal["primary", "secondary"] = "secondary" if tray.left else "primary"
        wanted = st.button(words_bench.close_label(tray), type=kind, width="stretch", key="close tray")
    if not wanted:
        return
    try:
        close_tray(
            which.store,
            tray.batch,
            tray.tray,
            tray.drafted,
            words_bench.SOURCE,
            opened_on=which.today,
            pulled_on=pulled,
            today=which.today,
        )
    except InputRejected as error:
        marks.notice(
            words_bench.CLOSE_REFUSED, [words_bench.problem(one) for one in error.problems], grave=True
        )
        return
    st.session_state[CLOSED] = (tray.batch, tray.tray)
    st.rerun()
