"""The stripe map on the page: what it is of, its batches, its marks, and the same in words and tables."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from pathlib import Path

import streamlit as st

from analytics.studies.causes_records import CausesAnswer, StripeBatch, StripeMap
from dashboard import charts_losses_map as drawing
from dashboard import words, words_losses
from dashboard.charts_losses_map import Total
from dashboard.components import filters, frame, losses_trays, marks
from dashboard.components.rates import take, take_picture
from dashboard.pictures import KINDS
from dashboard.pictures_map import map_picture

_GRID = st.components.v2.component(
    "penwise_stripes",
    html="<div class='pw-map-place'></div>",
    js=Path(__file__).with_suffix(".js").read_text(encoding="utf-8"),
    isolate_styles=False,
)
_WINDOW = "stripes window"
_STRONG = drawing.BOUNDS[-1]


def stripes(answer: CausesAnswer) -> None:
    """The map with its choices, its key, and its tables."""
    st.header(words_losses.MAP_HEADING, anchor=False)
    by_step = {one.step: one for one in answer.stripes if one.cells}
    if not by_step:
        marks.note(words_losses.MAP_NONE)
        return
    lede = st.container()
    with st.container(key="stripe-choices", horizontal=True, vertical_alignment="bottom"):
        shown = by_step[filters.choose_stripes(list(by_step))]
        batches = _choose_batches(shown)
    with lede:
        marks.note(f"{shown.expected_as} {words_losses.MAP_CAUTION}")
    _drawn(shown, batches)


def _choose_batches(shown: StripeMap) -> tuple[StripeBatch, ...]:
    stretches = drawing.windows(shown)
    if len(stretches) == 1:
        return stretches[0]
    names = [words_losses.window_name(one, latest=not place) for place, one in enumerate(stretches)]
    offered = {**dict(zip(names, stretches, strict=True)), words_losses.ALL_BATCHES: shown.batches}
    if st.session_state.get(_WINDOW) not in offered:
        st.session_state[_WINDOW] = names[0]
    return offered[st.selectbox(words_losses.FILTER_WINDOW, list(offered), key=_WINDOW, width=330)]


def _drawn(shown: StripeMap, unordered: Sequence[StripeBatch]) -> None:
    batches = drawing.most_pens_first(shown, unordered)
    pens, machines = drawing.by_pen(shown, batches), drawing.by_machine(shown, batches)
    columns = drawing.by_batch(shown, batches)
    alt = words_losses.map_alt(shown, pens, machines, columns, _STRONG)
    st.html(drawing.key_html())
    pressed = _GRID(
        data={"html": drawing.map_html(shown, batches, alt), "hint": words_losses.MAP_HINT},
        key="stripes map",
        on_asked_change=_nothing,
    )
    with st.expander(words.AS_TABLE):
        marks.note(alt)
        _table(words_losses.COL_PEN, words_losses.COL_BATCHES_BELOW, pens)
        _table(words_losses.COL_MACHINE, words_losses.COL_BELOW, machines)
        _table(words_losses.COL_BATCH, words_losses.COL_PENS_BELOW, columns)
        losses_trays.choose(list(pens), [one.batch for one in batches])
    title, look = words.title_of(alt), frame.look()
    makers = {kind: partial(map_picture, shown, batches, title, kind, look) for kind in KINDS}
    take_picture(f"penwise-stripes-{shown.step}-picture", makers)
    take(words_losses.DOWNLOAD_MAP, f"penwise-stripes-{shown.step}", _rows(shown))
    if pressed.asked:
        losses_trays.ask(**{kind: str(pressed.asked.get(kind, "")) for kind in ("pen", "batch", "machine")})


def _nothing() -> None:
    """The press is read where the map was drawn."""


def _table(name: str, below: str, totals: Mapping[str, Total]) -> None:
    marks.table(
        f"{name}: {words_losses.COL_DIFFERENCE.lower()}",
        (
            name,
            words_losses.COL_EGGS,
            words_losses.COL_CAME,
            words_losses.COL_EXPECTED,
            words_losses.COL_DIFFERENCE,
            below,
        ),
        [
            (
                total.name,
                words_losses.number(total.eggs),
                words_losses.portion(total.came),
                words_losses.portion(total.expected),
                words_losses.signed(total.difference),
                f"{total.below} of {total.cells}",
            )
            for total in totals.values()
        ],
        (
            words_losses.COL_EGGS,
            words_losses.COL_CAME,
            words_losses.COL_EXPECTED,
            words_losses.COL_DIFFERENCE,
            below,
        ),
    )


def _rows(shown: StripeMap) -> list[dict[str, object]]:
    batches = {one.batch: one for one in shown.batches}
    return [
        {
            "pen": cell.pen,
            "batch": cell.batch,
            "machine": batches[cell.batch].machine,
            "hatcher": batches[cell.batch].hatcher,
            "hatch_on": batches[cell.batch].hatch_on,
            "eggs": cell.eggs,
            "came": cell.came,
            "expected": cell.expected,
            "residual": cell.residual,
            "trays": " ".join(cell.trays),
        }
        for cell in shown.cells
    ]
