"""The machines on a page: hours, air, displays, water loss, rivals, and how it was worked out."""

from __future__ import annotations

from dataclasses import asdict

import streamlit as st

from analytics.reports.incubators_text import read as was_read
from analytics.studies.incubators_records import Incubators, MachineAnswer
from dashboard import charts_incubators, words
from dashboard import words_incubators as told
from dashboard.components import marks
from dashboard.components.rates import picture, take
from dashboard.look import Look


def hours(found: Incubators, look: Look) -> None:
    """When each machine hatched, beside the hours at which the others do."""
    st.header(told.HOURS_HEADING, anchor=False)
    machines = charts_incubators.with_hours(found)
    if not machines:
        marks.note(told.HOURS_NONE)
        return
    alt = told.hours_alt(found)
    picture(charts_incubators.hours_figure(found, look), alt, "machine hours")
    alone = all(timing.own is None for one in machines for timing in one.timings)
    birds = any(len(one.timings) > 1 for one in machines)
    keys = [told.HOURS_KEY, *([told.HOURS_KEY_PRINT] if alone else []), *([told.BIRDS_KEY] if birds else [])]
    marks.note(" ".join(keys))
    with st.expander(words.AS_TABLE):
        marks.note(alt)
        _hours_table(found)


def _hours_table(found: Incubators) -> None:
    rows = [
        told.hours_row(one, timing, offset)
        for one in found.machines
        for timing in one.timings
        for offset in (timing.own, timing.published)
        if offset
    ]
    warmth = (told.in_degrees(told.COL_WARMTH), told.in_degrees(told.COL_WARMTH_RANGE))
    numbers = (told.COL_BATCHES, told.COL_HOURS, told.COL_RANGE, *warmth)
    marks.table(
        told.HOURS_HEADING, (told.COL_MACHINE, told.COL_BIRD, told.COL_AGAINST, *numbers), rows, numbers
    )
    batches = [
        {"incubator": one.incubator, "species": timing.species, **asdict(hour)}
        for one in found.machines
        for timing in one.timings
        for hour in timing.hours
    ]
    take(told.DOWNLOAD, "penwise-hatch-hours", batches)


def air(found: Incubators, look: Look) -> None:
    """Temperature and humidity of one machine at a time."""
    st.header(told.AIR_HEADING, anchor=False)
    logged = [one for one in found.machines if one.climate.days]
    if not logged:
        marks.note(told.AIR_NONE)
        return
    one = _chosen(logged)
    picture(charts_incubators.air_figure(one, look), told.air_alt(one), f"air {one.incubator}")
    marks.note(told.AIR_KEY)
    marks.points(one.climate.sentences)
    for other in found.machines:
        if other.climate.why:
            marks.note(other.climate.why)
    with st.expander(words.AS_TABLE):
        _air_table(found)
        marks.points([told.events_words(machine) for machine in found.machines])


def _chosen(machines: list[MachineAnswer]) -> MachineAnswer:
    names = [one.incubator for one in machines]
    if len(names) == 1:
        return machines[0]
    name = st.segmented_control(told.FILTER_MACHINE, names, default=_first(machines), key="air of")
    return next((one for one in machines if one.incubator == name), machines[0])


def _first(machines: list[MachineAnswer]) -> str:
    """The machine that stands apart most."""
    return told.in_order(machines)[0].incubator


def _air_table(found: Incubators) -> None:
    rows = [
        told.air_row(one, phase) for one in found.machines for phase in one.climate.phases if was_read(phase)
    ]
    numbers = (
        told.COL_READ,
        told.in_degrees(told.COL_AIR),
        told.in_degrees(told.COL_LIMITS),
        told.COL_ABOVE,
        told.COL_BELOW,
        told.COL_HUMIDITY,
        told.COL_RH_LIMITS,
    )
    marks.table(told.AIR_HEADING, (told.COL_MACHINE, told.COL_PHASE, told.COL_BIRD, *numbers), rows, numbers)


def displays(found: Incubators, look: Look) -> None:
    """Displays against a reference."""
    st.header(told.DISPLAY_HEADING, anchor=False)
    checked = [one for one in found.machines if told.readings(one)]
    if not checked:
        marks.note(told.DISPLAY_NONE)
        return
    picture(charts_incubators.display_figure(checked, look), told.display_alt(checked), "displays")
    marks.note(told.DISPLAY_KEY)
    marks.points([one.display.sentence for one in found.machines])


def water(found: Incubators) -> None:
    """Water loss, machine by machine."""
    st.header(told.WATER_HEADING, anchor=False)
    rows = [told.water_row(one, each) for one in found.machines for each in one.water]
    if not rows:
        marks.note(told.WATER_NONE)
        return
    numbers = (told.COL_LOSS, told.COL_RANGE, told.COL_DAY, told.COL_PUBLISHED, told.COL_TRAYS)
    marks.table(told.WATER_HEADING, (told.COL_MACHINE, told.COL_BIRD, *numbers), rows, numbers)
    marks.note(" ".join([told.WATER_KEY, told.water_left_out(found.machines)]))


def rivals(found: Incubators) -> None:
    """What else it may be, before warm or cool is said."""
    st.header(told.RIVALS_HEADING, anchor=False)
    asked = [
        (told.rivals_heading(one.incubator, drift), drift.rivals)
        for one in found.machines
        for drift in one.drift
        if drift.rivals
    ]
    asked += [
        (told.rivals_heading(one.incubator, None), timing.rivals)
        for one in found.machines
        for timing in one.timings
        if timing.rivals
    ]
    if not asked:
        marks.note(told.RIVALS_NONE)
        return
    marks.note(told.RIVALS_LEDE)
    for name, those in asked:
        columns = (told.COL_CAUSE, told.COL_SAYS, told.COL_SENTENCE, told.COL_CHECK)
        wide = (told.COL_SENTENCE, told.COL_CHECK)
        with st.expander(told.rivals_label(name, those)):
            marks.table(name, columns, [told.rival_row(one) for one in those], wide=wide)


def made(found: Incubators) -> None:
    """How it was worked out, and where the limits are from."""
    st.header(told.MADE_HEADING, anchor=False)
    with st.expander(told.MADE_FOLDED):
        marks.points([*found.notes, *(note for one in found.machines for note in one.notes)])
    named = told.sources(found.machines)
    if named:
        with st.expander(told.SOURCES_HEADING):
            marks.points(named)
