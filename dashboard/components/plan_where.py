"""Which eggs go into which machine: choices, figures, trays, and the papers to take away."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.errors import DataTooThin, WrongUsage
from analytics.reference.species import species_table
from analytics.reports.tables import as_csv
from analytics.studies.plan_records import DatesAnswer, SplitAnswer, SplitAsked
from dashboard import data, data_batch, data_plan, words_plan
from dashboard.components import marks, plan, plan_paper
from dashboard.words import NOT_KNOWN

_SEED = "seed"
_SEEDS = 1_000_000
_WIDE, _NARROW = 230, 150


def section(which: data.Shown, above: DeltaGenerator) -> None:
    """Everything beneath the title."""
    with plan.choices():
        species = plan.birds(which)
        set_on = plan.day_of_setting(which)
        asked = _asked(which, species, above)
    answer = plan.told(
        above,
        words_plan.WHERE,
        lambda: data_plan.split(which, asked, species),
        lambda found: (found.sentence, words_plan.instead(found)),
    )
    if answer is None:
        return
    marks.figures(words_plan.split_figures(answer))
    marks.note(words_plan.seed_line(answer))
    names = [name.batch for name in data_batch.names(which)]
    trays = plan_paper.trays_of(answer, set_on, names)
    _table(trays)
    _take(trays, answer, set_on, _dates(which, answer, set_on))
    plan.heading(words_plan.MIND_HEADING)
    marks.points(words_plan.split_notes(answer))


def _asked(which: data.Shown, species: str, above: DeltaGenerator) -> SplitAsked:
    """The lots, and beneath a button what may differ from the records."""
    _first_lots()
    with st.popover(words_plan.EGGS_AND_ROOM):
        by_hand = st.container()
        each = _number(words_plan.EACH, "each", words_plan.EACH_BLANK, least=1)
        sets = st.number_input(words_plan.SETS, 1, 100, 2, key="sets", width=_WIDE, **plan.IN_LINK)
        seed = st.number_input(words_plan.SEED, 0, _SEEDS, None, key=_SEED, width=_WIDE, **plan.IN_LINK)
        st.button(words_plan.SEED_AGAIN, on_click=_draw_again)
        asked = SplitAsked(seed or 0, each=each, sets=sets, storage=_storage())
        with above:
            pens, machines = _known(which, asked, species)
        with by_hand:
            marks.note(words_plan.EGGS_AND_ROOM_LEDE)
            return replace(
                asked,
                eggs=_by_hand(words_plan.EGGS_OF, "eggs", pens),
                room=_by_hand(words_plan.ROOM_IN, "room", machines),
            )


def _storage() -> bool:
    planned: bool = st.checkbox(words_plan.WITH_STORAGE, True, key="storage", **plan.IN_LINK)
    return planned


def _first_lots() -> None:
    """Draws a seed where none is chosen yet, into the link, so that a copied one gives the same plan."""
    if not st.session_state.get(_SEED) and not st.query_params.get(_SEED, "").isdecimal():
        st.session_state[_SEED] = _drawn()
        st.query_params[_SEED] = str(st.session_state[_SEED])


def _draw_again() -> None:
    st.session_state[_SEED] = _drawn()


def _drawn() -> int:
    return 1 + secrets.randbelow(_SEEDS)


def _by_hand(words: str, key: str, labels: Sequence[str]) -> dict[str, int]:
    """Eggs of pens, or room in machines, as far as numbers are given."""
    with st.container(horizontal=True):
        given = {
            label: _number(words.format(label), f"{key} {label}", words_plan.USUAL_NUMBER, width=_NARROW)
            for label in labels
        }
    return {label: number for label, number in given.items() if number is not None}


def _known(which: data.Shown, asked: SplitAsked, species: str) -> tuple[Sequence[str], Sequence[str]]:
    """Pens with eggs and machines at hand; all, where the records alone do not make a plan."""
    try:
        usual = data_plan.split(which, asked, species)
    except (DataTooThin, WrongUsage):
        held = data.contents(which)
        return held.pens, held.incubators
    pens = [pen for camp in usual.camps for pen in camp.pens]
    return pens, [machine for camp in usual.camps for machine in camp.machines]


def _number(label: str, key: str, blank: str, *, least: int = 0, width: int = _WIDE) -> int | None:
    number: int | None = st.number_input(
        label, least, 10_000, None, key=key, placeholder=blank, width=width, **plan.IN_LINK
    )
    return number


def _table(trays: list[plan_paper.Tray]) -> None:
    plan.heading(words_plan.TRAYS_HEADING)
    hatchers, stored = any(tray.hatcher for tray in trays), any(tray.stored is not None for tray in trays)
    marks.table(
        words_plan.TRAYS_HEADING,
        (
            words_plan.TRAY,
            words_plan.PEN,
            words_plan.EGGS,
            *([words_plan.HATCHER] if hatchers else []),
            *([words_plan.STORED] if stored else []),
            words_plan.MOVED,
            words_plan.WHICH,
        ),
        [
            (
                f"{tray.machine} {tray.number}",
                tray.pen,
                str(tray.eggs),
                *([tray.hatcher or words_plan.SAME] if hatchers else []),
                *([words_plan.days_stored(tray.stored)] if stored else []),
                tray.moved_from or NOT_KNOWN,
                tray.which,
            )
            for tray in trays
        ],
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
