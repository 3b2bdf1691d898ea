"""Which eggs go into which machine: choices, figures, trays, and the papers to take away."""

from __future__ import annotations

import secrets
from datetime import date

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.reference.species import species_table
from analytics.studies.plan_records import DatesAnswer, SplitAnswer, SplitAsked
from dashboard import data, data_batch, data_plan, words_plan
from dashboard.components import marks, plan, plan_paper
from dashboard.downloads import as_csv

_SEED = "seed"
_SEEDS = 1_000_000
_WIDE, _NARROW = 230, 150


def section(which: data.Shown, above: DeltaGenerator) -> None:
    """Everything beneath the title."""
    with plan.choices():
        species = plan.birds(which)
        set_on = plan.day_of_setting(which)
        asked = _asked(which, species)
    answer = plan.told(
        above,
        words_plan.WHERE,
        lambda: data_plan.split(which, asked, species),
        lambda found: (found.sentence, words_plan.instead(found)),
    )
    if answer is None:
        return
    marks.figures(words_plan.split_figures(answer))
    names = [name.batch for name in data_batch.names(which)]
    trays = plan_paper.trays_of(answer, set_on, names)
    _table(trays)
    _take(trays, answer, set_on, _dates(which, answer, set_on))
    plan.heading(words_plan.MIND_HEADING)
    marks.points(words_plan.split_notes(answer))


def _asked(which: data.Shown, species: str) -> SplitAsked:
    """The lots, and beneath a button what may differ from the records."""
    _first_lots()
    with st.popover(words_plan.EGGS_AND_ROOM):
        marks.note(words_plan.EGGS_AND_ROOM_LEDE)
        eggs, room = _eggs_and_room(which, species)
        each = _number(words_plan.EACH, "each", words_plan.EACH_BLANK, least=1)
        sets = st.number_input(words_plan.SETS, 1, 100, 2, key="sets", **plan.IN_LINK)
        seed = st.number_input(
            words_plan.SEED, 0, _SEEDS, None, key=_SEED, placeholder=words_plan.AS_RECORDED, **plan.IN_LINK
        )
        st.button(words_plan.SEED_AGAIN, on_click=_draw_again)
    return SplitAsked(seed or 0, eggs, room, each, sets)


def _first_lots() -> None:
    """Draws a seed where none is chosen yet, into the link, so that a copied one gives the same plan."""
    if not st.session_state.get(_SEED) and _SEED not in st.query_params:
        st.query_params[_SEED] = str(_drawn())


def _draw_again() -> None:
    st.session_state[_SEED] = _drawn()


def _drawn() -> int:
    return 1 + secrets.randbelow(_SEEDS)


def _eggs_and_room(which: data.Shown, species: str) -> tuple[dict[str, int], dict[str, int]]:
    """Numbers given by hand, by pen and by machine."""
    pens, machines = _known(which, species)
    asked = [(pen, words_plan.EGGS_OF, "eggs") for pen in pens]
    asked += [(machine, words_plan.ROOM_IN, "room") for machine in machines]
    given: dict[str, dict[str, int]] = {"eggs": {}, "room": {}}
    with st.container(horizontal=True):
        for label, words, what in asked:
            number = _number(words.format(label), f"{what} {label}", words_plan.AS_RECORDED, width=_NARROW)
            if number is not None:
                given[what][label] = number
    return given["eggs"], given["room"]


def _known(which: data.Shown, species: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Pens with eggs and machines at hand; all, where the records alone do not make a plan."""
    usual = plan.usual_split(which, species)
    if usual is None:
        held = data.contents(which)
        return held.pens, held.incubators
    return tuple(pen for camp in usual.camps for pen in camp.pens), tuple(
        machine for camp in usual.camps for machine in camp.machines
    )


def _number(label: str, key: str, blank: str, *, least: int = 0, width: int = _WIDE) -> int | None:
    number: int | None = st.number_input(
        label, least, 10_000, None, key=key, placeholder=blank, width=width, **plan.IN_LINK
    )
    return number


def _table(trays: list[plan_paper.Tray]) -> None:
    plan.heading(words_plan.TRAYS_HEADING)
    marks.table(
        words_plan.TRAYS_HEADING,
        (words_plan.TRAY, words_plan.PEN, words_plan.EGGS, words_plan.MOVED, words_plan.WHICH),
        [
            (f"{tray.machine} {tray.number}", tray.pen, str(tray.eggs), tray.moved_from, tray.which)
            for tray in trays
        ],
        (words_plan.EGGS,),
        wide=(words_plan.WHICH,),
    )


def _dates(which: data.Shown, answer: SplitAnswer, set_on: date) -> DatesAnswer | None:
    if answer.species not in species_table():
        return None
    return data_plan.dates(which, set_on, (answer.species,), "", None)


def _take(trays: list[plan_paper.Tray], answer: SplitAnswer, set_on: date, days: DatesAnswer | None) -> None:
    plan.heading(words_plan.TAKE_HEADING)
    marks.note(words_plan.TAKE_LEDE)
    seed = answer.plan.seed
    with st.container(horizontal=True):
        st.download_button(
            words_plan.CARD,
            plan_paper.card(trays, answer.species, set_on, seed, days),
            f"penwise-trays-{set_on}.html",
            "text/html",
            on_click="ignore",
            type="primary",
        )
        for label, name, rows in (
            (words_plan.BATCHES, "batches.csv", plan_paper.batches_sheet(trays, set_on)),
            (words_plan.TRAYS, "trays.csv", plan_paper.trays_sheet(trays, seed)),
        ):
            st.download_button(label, as_csv(rows), name, "text/csv", on_click="ignore")
