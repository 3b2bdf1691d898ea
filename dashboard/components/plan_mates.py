"""Who with whom: choices, the matings, the pens as they stand, and what stands behind it."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.errors import DataTooThin, WrongUsage
from analytics.studies.kinship_records import MatingsAnswer, MatingsAsked
from dashboard import data, data_plan, words_plan
from dashboard.components import marks, plan
from dashboard.components.rates import take


def section(which: data.Shown, above: DeltaGenerator) -> None:
    """Everything beneath the title."""
    with plan.choices():
        species = plan.birds(which)
        most = st.number_input(
            words_plan.MOST_FEMALES, 1, 1_000, None, key="females a male", placeholder=words_plan.EVENLY,
            width=240, **plan.IN_LINK,
        )  # fmt: skip
        as_of = st.date_input(
            words_plan.AS_OF, None, key="pens on", format="YYYY-MM-DD", width=150, **plan.IN_LINK
        )
        with st.popover(words_plan.SOME):
            males, females = _some(which, species, as_of, above)
    answer = plan.told(
        above,
        words_plan.MATES,
        lambda: data_plan.matings(which, MatingsAsked(males, females, most, species), as_of),
        lambda found: (found.sentence,),
    )
    if answer is not None:
        _answered(answer)


def _some(
    which: data.Shown, species: str, as_of: date | None, above: DeltaGenerator
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Asks which birds alone; those that stand in pens are offered."""
    try:
        with above:
            plan_of_all = data_plan.matings(which, MatingsAsked(species=species), as_of).plan
    except (DataTooThin, WrongUsage):
        return (), ()
    males = sorted({one.male for one in plan_of_all.matings} | set(plan_of_all.idle))
    females = sorted(one.female for one in plan_of_all.matings)
    return (
        tuple(_birds(words_plan.MALES, males, "males")),
        tuple(_birds(words_plan.FEMALES, females, "females")),
    )


def _birds(label: str, offered: list[str], key: str) -> list[str]:
    chosen: list[str] = st.multiselect(
        label, offered, key=key, placeholder=words_plan.ALL_IN_PENS, width=320, **plan.IN_LINK
    )
    return chosen


def _answered(answer: MatingsAnswer) -> None:
    plan.heading(words_plan.MATES_HEADING)
    marks.table(
        words_plan.MATES_HEADING,
        (words_plan.COL_MALE, words_plan.COL_FEMALES, words_plan.COL_YOUNG),
        words_plan.mating_rows(answer),
        (words_plan.COL_YOUNG,),
        wide=(words_plan.COL_FEMALES,),
    )
    rows = [asdict(one) for one in answer.plan.matings]
    take(words_plan.MATES_CSV, f"penwise-matings-{answer.species}", rows)
    plan.heading(words_plan.pens_heading(answer.as_of))
    marks.table(
        words_plan.pens_heading(answer.as_of),
        (words_plan.PEN, words_plan.COL_MALES, words_plan.COL_FEMALES, words_plan.COL_YOUNG),
        [words_plan.pen_row(one) for one in answer.pens],
        (words_plan.COL_MALES, words_plan.COL_FEMALES, words_plan.COL_YOUNG),
    )
    plan.heading(words_plan.RESTS_HEADING)
    marks.points(answer.notes)
