"""The filters of a page: one row of choices, kept in the link."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from analytics.reference.species import species_table
from analytics.values import Month
from dashboard import state, words, words_breeders, words_losses
from dashboard.components import link, marks
from dashboard.state import Filters, Known

_KEPT = "filters"
_WRITTEN = "link written"
_SAID = "link said"
_OF = "fields shown"
_WIDE, _NARROW = 230, 160
_TWO = "two pressed"
_PRESSED = 14
"""Pens up to which two of them are chosen by pressing them."""


def choose(known: Known) -> Filters:
    """The choices of the month; the link is read before and written after."""
    _settle(known, state.MONTH_FIELDS)
    with _row():
        st.selectbox(
            words.FILTER_MONTH,
            [str(month) for month in reversed(known.months)],
            format_func=_month_name,
            key="month",
            width=_WIDE,
        )
        st.selectbox(
            words.FILTER_AGAINST,
            ["", state.YEAR_AGO, *(str(month) for month in reversed(known.months))],
            format_func=_against_name,
            key="against",
            width=_WIDE,
        )
        _measure()
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    return _done(state.MONTH_FIELDS)


def choose_sides(known: Known) -> Filters:
    """The choices of pen against pen; the two of a pair are asked for by `choose_two`."""
    _settle(known, state.PENS_FIELDS)
    with _row():
        _measure()
        if known.lines:
            st.selectbox(
                words.FILTER_BY, state.BY, format_func=words.BY_NAMES.__getitem__, key="by", width=_NARROW
            )
        _period(known)
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    return _done(state.PENS_FIELDS)


def choose_along(known: Known) -> Filters:
    """The choices of a trend."""
    _settle(known, state.TRENDS_FIELDS)
    with _row():
        _measure()
        st.selectbox(
            words.FILTER_ALONG,
            state.ALONG,
            format_func=words.ALONG_NAMES.__getitem__,
            key="along",
            width=_NARROW + 20,
        )
        _period(known)
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    return _done(state.TRENDS_FIELDS)


def choose_losses(known: Known) -> Filters:
    """The choices of the losses; birds and stripes are asked for by `choose_bird` and `choose_stripes`."""
    _settle(known, state.LOSSES_FIELDS)
    with _row():
        _period(known)
        _wanted(words_losses.TARGET_BLANK)
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    return _done(state.LOSSES_FIELDS)


def choose_breeders(known: Known) -> Filters:
    """The choices of the breeders; birds are asked for by `choose_bird`."""
    _settle(known, state.BREEDERS_FIELDS)
    with _row():
        st.selectbox(
            words_breeders.FILTER_BY,
            state.RANKED,
            format_func=words_breeders.BY_NAMES.__getitem__,
            key="rank",
            width=_NARROW,
        )
        _period(known, words_breeders.FROM_BLANK)
        _wanted(words_breeders.TARGET_BLANK)
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    return _done(state.BREEDERS_FIELDS)


def _wanted(blank: str) -> None:
    """Asks for the chicks wanted; `blank` says what they are held against without."""
    st.number_input(
        words_losses.FILTER_TARGET,
        min_value=state.LEAST_WANTED,
        max_value=state.MOST_WANTED,
        step=1.0,
        format="%.4g",
        key="target",
        placeholder=blank,
        help=words_losses.TARGET_HELP,
        width=_WIDE,
    )


def choose_changes(known: Known) -> Filters:
    """The choices of the changes."""
    return _choose_period(known, state.CHANGES_FIELDS)


def choose_machines(known: Known) -> Filters:
    """The choices of the incubators."""
    return _choose_period(known, state.MACHINES_FIELDS)


def _choose_period(known: Known, fields: Sequence[str]) -> Filters:
    _settle(known, fields)
    with _row():
        _period(known)
        with st.popover(words.filters_label(_narrowed())):
            _some_of_it(known)
    return _done(fields)


def choose_bird(species: Sequence[str]) -> None:
    """Asks for one of several species; it stood in the filters before the page began to run."""
    if st.session_state.get("bird") not in species:
        st.session_state["bird"] = species[0]
    st.selectbox(
        words_losses.FILTER_BIRD, species, format_func=words_losses.bird_heading, key="bird", width=_WIDE
    )


def choose_stripes(steps: Sequence[str]) -> str:
    """Asks what the stripes are to be of."""
    if st.session_state.get("stripes") not in steps:
        st.session_state["stripes"] = steps[0]
    chosen: str = st.selectbox(
        words.FILTER_STRIPES,
        steps,
        format_func=words_losses.STEP_PASSED.__getitem__,
        key="stripes",
        width=_WIDE,
    )
    return chosen


def choose_two(labels: Sequence[str]) -> None:
    """Asks for two; what is chosen stood in the filters before the page began to run.

    A press on each of the two where they fit in a row or two, else two lists.
    """
    if len(labels) <= _PRESSED:
        known = (st.session_state.get(key) for key in ("first", "second"))
        st.session_state[_TWO] = [name for name in known if name in labels]
        st.pills(words.FILTER_TWO, labels, selection_mode="multi", key=_TWO, on_change=_press)
        return
    with st.container(key="two", horizontal=True, vertical_alignment="bottom"):
        for key, label, other in (
            ("first", words.FILTER_FIRST, "second"),
            ("second", words.FILTER_SECOND, "first"),
        ):
            offered = [name for name in labels if name != st.session_state.get(other)]
            st.selectbox(label, offered, placeholder=words.CHOOSE, key=key, width=_WIDE)


def _press() -> None:
    """Takes what is pressed as the two; of three the two pressed last."""
    before = [st.session_state.get(key) for key in ("first", "second")]
    pressed = st.session_state.get(_TWO) or []
    two = [name for name in before if name in pressed] + [name for name in pressed if name not in before]
    first, second, *_ = [*two[-2:], None, None]
    st.session_state.update(first=first, second=second)


def _row() -> st.delta_generator.DeltaGenerator:
    for line in st.session_state.get(_SAID, ()):
        marks.notice("", (line,))
    return st.container(key="choices", horizontal=True, vertical_alignment="bottom")


def _done(of: Sequence[str]) -> Filters:
    chosen = _from_widgets()
    st.session_state[_KEPT] = chosen
    _write(chosen, of)
    return chosen


def _month_name(text: str) -> str:
    return words.month_name(Month.parse(text))


def _against_name(text: str) -> str:
    return words.AGAINST_NAMES.get(text) or _month_name(text)


def _measure() -> None:
    st.selectbox(
        words.FILTER_MEASURE,
        list(words.MEANINGS),
        format_func=words.measure_name,
        key="measure",
        width=_WIDE,
    )


def _period(known: Known, since: str = words.FROM_THE_FIRST) -> None:
    """Asks for months; `since` says what counts without a first one."""
    months = [str(month) for month in known.months]
    later = [month for month in reversed(months) if month >= (st.session_state.get("start") or "")]
    for key, label, offered, nothing in (
        ("start", words.FILTER_FROM, months, since),
        ("end", words.FILTER_TO, later, words.TO_THE_LAST),
    ):
        names = {"": nothing, **{month: _month_name(month) for month in offered}}
        st.selectbox(label, list(names), format_func=names.__getitem__, key=key, width=_NARROW)


def _some_of_it(known: Known) -> None:
    names = {key: species.name for key, species in species_table().items()}
    if len(known.species) > 1:
        st.multiselect(
            words.FILTER_SPECIES,
            known.species,
            format_func=lambda key: names.get(key, key),
            key="species",
            placeholder=words.ALL,
        )
    st.multiselect(words.FILTER_PENS, known.pens, key="pens", placeholder=words.ALL)
    st.multiselect(words.FILTER_INCUBATORS, known.incubators, key="incubators", placeholder=words.ALL)


def _settle(known: Known, of: Sequence[str]) -> None:
    """Puts the link, or what was chosen before, into the widgets; a choice just made stays as it is."""
    kept = st.session_state.get(_KEPT, Filters())
    given = {field: st.query_params.get_all(field) for field in state.FIELDS}
    is_new = {name: values for name, values in given.items() if values} != st.session_state.get(_WRITTEN)
    if is_new and (any(given.values()) or _KEPT not in st.session_state):
        found, st.session_state[_SAID] = state.read(given, known)
        chosen = state.merged(kept, found, of)
    elif "measure" not in st.session_state or st.session_state.get(_OF) != of:
        chosen = kept
    else:
        chosen = _from_widgets()
    st.session_state[_OF] = of
    chosen = state.still_known(chosen, known)
    st.session_state.update(
        month=chosen.month or None,
        measure=chosen.measure,
        species=list(chosen.species),
        pens=list(chosen.pens),
        incubators=list(chosen.incubators),
        start=chosen.start,
        end=chosen.end,
        by=chosen.by,
        first=chosen.first or None,
        second=chosen.second or None,
        along=chosen.along,
        bird=chosen.bird or None,
        target=chosen.target,
        stripes=chosen.stripes,
        against=chosen.against,
        rank=chosen.rank,
    )


def _from_widgets() -> Filters:
    kept = st.session_state
    return Filters(
        kept.get("month") or "",
        tuple(kept.get("species", ())),
        tuple(kept.get("pens", ())),
        tuple(kept.get("incubators", ())),
        kept.get("measure") or words.FIRST_MEASURE,
        kept.get("start") or "",
        kept.get("end") or "",
        kept.get("by") or state.BY[0],
        kept.get("first") or "",
        kept.get("second") or "",
        kept.get("along") or state.ALONG[0],
        kept.get("bird") or "",
        kept.get("target"),
        kept.get("stripes") or state.STRIPES[0],
        kept.get("against") or "",
        kept.get("rank") or state.RANKED[0],
    )


def _narrowed() -> int:
    return sum(len(st.session_state.get(key, ())) for key in ("species", "pens", "incubators"))


def _write(chosen: Filters, of: Sequence[str]) -> None:
    wanted = state.write(chosen, of)
    link.write(wanted)
    st.session_state[_WRITTEN] = wanted
