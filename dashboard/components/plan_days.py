"""The days of a batch: choices, what does not go together, the days, a calendar file, and who says so."""

from __future__ import annotations

from datetime import UTC, date, datetime

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from analytics.reference.species import species_name, species_table
from analytics.reports.plan_ics import calendar_of
from analytics.studies.plan_records import DatesAnswer
from dashboard import charts_plan, data, data_plan, words_plan
from dashboard.components import frame, marks, plan
from dashboard.components.rates import picture
from dashboard.state import Filters

_USUAL = "coturnix_quail"
"""Bird asked about where the records hold none."""


def section(which: data.Shown, above: DeltaGenerator) -> None:
    """Everything beneath the title."""
    set_on, kinds, machine, stored = _chosen(which)
    if not kinds:
        with above:
            marks.notice("", (words_plan.NO_KIND,))
        return
    answer = plan.told(
        above,
        words_plan.DAYS,
        lambda: data_plan.dates(which, set_on, kinds, machine, stored),
        lambda found: (found.sentence,),
    )
    if answer is not None:
        _answered(answer)


def _chosen(which: data.Shown) -> tuple[date, list[str], str, float | None]:
    """Day, birds, machine and days stored."""
    held = data.contents(which)
    with plan.choices():
        set_on = plan.day_of_setting(which)
        kinds = st.multiselect(
            words_plan.KINDS, list(species_table()), [_first(which)], format_func=species_name,
            key="kinds", width=400, **plan.IN_LINK,
        )  # fmt: skip
        machine = st.selectbox(
            words_plan.MACHINE, ("", *held.incubators), key="in",
            format_func=lambda name: name or words_plan.NOT_SAID, width=150, **plan.IN_LINK,
        )  # fmt: skip
        stored = st.number_input(
            words_plan.STORAGE, 0.0, 60.0, None, 1.0, key="stored", format="%.4g",
            placeholder=words_plan.NOT_SAID, width=150, **plan.IN_LINK,
        )  # fmt: skip
    return set_on, kinds, machine, stored


def _first(which: data.Shown) -> str:
    """The kind with most eggs in the last month, so far as there is one."""
    month = data.review(which, Filters()).species if data.known(which).months else ()
    most = max(month, key=lambda one: one.eggs_set, default=None)
    return most.species if most and most.species in species_table() else _USUAL


def _answered(answer: DatesAnswer) -> None:
    if answer.warnings:
        marks.notice(words_plan.MIXED_HEADING, answer.warnings)
    plan.heading(words_plan.DAYS_HEADING)
    look = frame.look()
    picture(charts_plan.days_figure(answer, look), words_plan.days_alt(answer), "plan days")
    marks.key(
        [
            (charts_plan.SET, look.ink, words_plan.SET),
            *((charts_plan.BAR, colour, step) for step, colour in charts_plan.step_colours(look).items()),
        ]
    )
    marks.table(
        words_plan.DAYS_HEADING,
        (words_plan.COL_BIRD, *words_plan.STEPS),
        [
            (one.name, *(words_plan.days(days) for days in (one.candle, one.transfer, one.hatch)))
            for one in answer.species
        ],
    )
    st.download_button(
        words_plan.ICS,
        calendar_of(answer, datetime.now(UTC)),
        words_plan.ICS_FILE,
        "text/calendar",
        on_click="ignore",
    )
    plan.heading(words_plan.SAYS_HEADING)
    marks.points(words_plan.dates_sources(answer))
