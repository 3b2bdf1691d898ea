"""Pen against pen, or line against line: pictures, the answer about two, tables, and how it was tested."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict

import streamlit as st

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.errors import DataTooThin
from analytics.reports.pens_json import pens_values
from analytics.studies.pen_funnel import PenFunnel
from analytics.studies.pen_records import PenPair, PenRow, PensAnswer
from analytics.values import label_order
from dashboard import charts_pens, data, words_pens
from dashboard import words as common_words
from dashboard.components import filters, marks
from dashboard.components.rates import name_of, picture, take
from dashboard.look import Look
from dashboard.state import Filters, Known


def ranked(answer: PensAnswer, funnels: Sequence[PenFunnel], look: Look, places: Mapping[str, int]) -> None:
    """The picture of rates in order, one a species, with how to read it."""
    named = _named(answer)
    common = {funnel.species: funnel.common for funnel in funnels if len(funnel.points) > 1}
    for species, rows in _by_species(answer.rows).items():
        drawn = charts_pens.rows_in_order(rows)
        if not drawn:
            continue
        _species_heading(answer, species)
        alt = words_pens.ranked_alt(name_of(species), answer.measure, drawn, named)
        figure = charts_pens.ranked_figure(rows, named, common.get(species), look, places)
        picture(figure, alt, f"ranked {species}")
    marks.note(" ".join([words_pens.RANKED_KEY, *([words_pens.RANKED_SHADED] if named else [])]))


def two(which: data.Shown, chosen: Filters, known: Known) -> None:
    """The choice of two, and the answer about them."""
    filters.choose_two(known.labels(chosen.by))
    if chosen.pair is None:
        marks.note(words_pens.TWO_LEDE)
        return
    try:
        answer = data.pair(which, chosen)
    except DataTooThin as error:
        marks.notice(words_pens.TOO_THIN, (error.sentence(),))
        return
    if answer is not None:
        marks.aside(answer.sentence)
        marks.figures(words_pens.two_figures(answer))


def funnels(answer: PensAnswer, found: Sequence[PenFunnel], look: Look, places: Mapping[str, int]) -> None:
    """The picture of rates against eggs, one a species, with its caution and its table."""
    drawn = [funnel for funnel in found if len(funnel.points) > 1]
    if not drawn:
        marks.note(words_pens.FUNNEL_ONE)
        return
    for funnel in drawn:
        _species_heading(answer, funnel.species)
        alt = words_pens.funnel_alt(name_of(funnel.species), answer.measure, funnel)
        figure = charts_pens.funnel_figure(funnel, _named(answer), look, places)
        picture(figure, alt, f"funnel {funnel.species}")
        ordered = sorted(funnel.points, key=lambda point: (-(point.low + point.high), label_order(point.pen)))
        marks.key([charts_pens.mark_of(point, look, places) for point in ordered])
        marks.note(words_pens.funnel_note(funnel))
        with st.expander(common_words.AS_TABLE):
            marks.note(alt)
            _funnel_table(answer, funnel, alt)
    is_open = any(point.low != point.high for funnel in drawn for point in funnel.points)
    marks.note(" ".join([words_pens.FUNNEL_KEY, *([words_pens.FUNNEL_OPEN] if is_open else [])]))
    marks.note(words_pens.FUNNEL_CAUTION)


def _funnel_table(answer: PensAnswer, funnel: PenFunnel, alt: str) -> None:
    marks.table(
        alt,
        (words_pens.ONE[answer.by], words_pens.COL_EGGS, words_pens.COL_RATE, words_pens.COL_LIMITS),
        [
            (
                point.pen,
                f"{point.eggs:,.0f}",
                words_pens.point_rate(point),
                words_pens.limits_words(point),
            )
            for point in funnel.points
        ],
        (words_pens.COL_EGGS, words_pens.COL_RATE),
    )


def numbers(answer: PensAnswer) -> None:
    """The table of rates, and the same to take away."""
    columns = {
        words_pens.ONE[answer.by]: [row.pen for row in answer.rows],
        words_pens.COL_SPECIES: [name_of(row.species) for row in answer.rows],
        words_pens.rate_column(answer): [words_pens.rate_cell(row) for row in answer.rows],
        words_pens.COL_RANGE: [common_words.range_of(row.rate) for row in answer.rows],
        words_pens.COL_OPEN: [common_words.left_open(row.rate) for row in answer.rows],
        words_pens.COL_GUESS: [words_pens.best_guess(row.shrunk) for row in answer.rows],
        words_pens.COL_EGGS: [words_pens.eggs_cell(row) for row in answer.rows],
        words_pens.COL_CLEAR: [common_words.count(row.rate.clear) for row in answer.rows],
        words_pens.COL_WHY: [words_pens.apart_cell(row) for row in answer.rows],
    }
    if len(_by_species(answer.rows)) < 2:
        del columns[words_pens.COL_SPECIES]
    if not _is_open(answer.rows):
        del columns[words_pens.COL_OPEN], columns[words_pens.COL_CLEAR]
    if set(columns[words_pens.COL_WHY]) <= {common_words.NOT_KNOWN}:
        del columns[words_pens.COL_WHY]
    with st.expander(words_pens.NUMBERS_FOLDED):
        marks.table(
            words_pens.numbers_caption(answer.measure, answer.by),
            list(columns),
            list(zip(*columns.values(), strict=True)),
            (
                words_pens.rate_column(answer),
                words_pens.COL_RANGE,
                words_pens.COL_OPEN,
                words_pens.COL_GUESS,
                words_pens.COL_EGGS,
                words_pens.COL_CLEAR,
            ),
            wide=(words_pens.COL_WHY,),
        )
    take(
        words_pens.DOWNLOAD_NUMBERS,
        f"penwise-{answer.by}s-{answer.measure}",
        pens_values(answer)["rows"],
    )


def pairs(answer: PensAnswer) -> None:
    """All pairs, folded, the surest first."""
    with st.expander(words_pens.pairs_label(answer.pairs)):
        marks.note(words_pens.PAIRS_LEDE)
        ordered = sorted(answer.pairs, key=lambda pair: (pair.p_value is None, pair.p_value or 0.0))
        why = any(pair.why for pair in ordered)
        marks.table(
            words_pens.PAIRS_LEDE,
            (
                words_pens.COL_PAIR,
                words_pens.COL_POINTS,
                words_pens.COL_RANGE,
                words_pens.COL_P,
                words_pens.COL_Q,
                *([words_pens.COL_PAIR_WHY] if why else []),
            ),
            [_pair_row(pair, why=why) for pair in ordered],
            (words_pens.COL_POINTS, words_pens.COL_RANGE, words_pens.COL_P, words_pens.COL_Q),
            wide=(words_pens.COL_PAIR_WHY,),
        )
        take(
            words_pens.DOWNLOAD_PAIRS,
            f"penwise-pairs-{answer.measure}",
            [asdict(pair) for pair in answer.pairs],
        )


def _pair_row(pair: PenPair, *, why: bool) -> tuple[str, ...]:
    return (
        words_pens.pair_name(pair),
        words_pens.in_points(pair.difference),
        words_pens.points_range(pair),
        common_words.chance(pair.p_value),
        common_words.chance(pair.q_value),
        *([pair.why or common_words.NOT_KNOWN] if why else []),
    )


def tested(answer: PensAnswer) -> None:
    """The three tests side by side, and what they rest on."""
    tests = answer.tests
    marks.note(words_pens.TESTED_LEDE)
    marks.table(
        words_pens.TESTED_HEADING,
        (
            words_pens.COL_TEST,
            words_pens.COL_P,
            words_pens.COL_WEIGHT,
            words_pens.COL_TAKES,
            words_pens.COL_DETAIL,
        ),
        [
            _test_row(words_pens.CLUSTERED, tests.clustered, words_pens.DECIDES),
            _test_row(words_pens.STRATIFIED, tests.stratified, words_pens.SHOWN_ONLY),
            _test_row(words_pens.INDEPENDENT, tests.independent, words_pens.SHOWN_ONLY),
        ],
        (words_pens.COL_P,),
        wide=(words_pens.COL_TAKES, words_pens.COL_DETAIL),
    )
    rests(answer)


def rests(answer: PensAnswer) -> None:
    """How much the eggs tell, and what the answer rests on."""
    marks.note(words_pens.worth(answer.clustering))
    if answer.words.why:
        st.subheader(words_pens.RESTS_HEADING, anchor=False)
        marks.note(answer.words.why)


def _test_row(name: str, test: HypothesisTest, weight: str) -> tuple[str, ...]:
    return (
        name,
        common_words.chance(test.p_value),
        weight if test.p_value is not None else words_pens.NOT_MADE,
        words_pens.TAKES[name],
        words_pens.test_detail(test),
    )


def _named(answer: PensAnswer) -> frozenset[str]:
    return frozenset(one.pen for one in answer.findings)


def _by_species(rows: Sequence[PenRow]) -> dict[str, list[PenRow]]:
    """Rows of each species, the one with the most rows first."""
    found: dict[str, list[PenRow]] = {}
    for row in rows:
        found.setdefault(row.species, []).append(row)
    return dict(sorted(found.items(), key=lambda one: -len(one[1])))


def _is_open(rows: Sequence[PenRow]) -> bool:
    """Whether clear or unopened eggs leave anything open."""
    spans = [row.rate.possible for row in rows if row.rate.possible]
    return any(span.low != span.high for span in spans)


def _species_heading(answer: PensAnswer, species: str) -> None:
    if len(_by_species(answer.rows)) > 1:
        st.subheader(name_of(species), anchor=False)
