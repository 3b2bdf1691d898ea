"""The figures of one species in one month: strip, pictures, tables, and how they were made."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from functools import partial

import streamlit as st

from analytics.reference.species import species_table
from analytics.reports.tables import KINDS as TABLES
from analytics.reports.tables import as_table
from analytics.studies.records import PenMonth, SpeciesMonth
from analytics.values import Month, Rate
from dashboard import charts, words
from dashboard.components import marks, reader
from dashboard.look import Look
from dashboard.pictures import KINDS as PICTURES
from dashboard.pictures import as_picture

_STRIP = ("hatch_of_set", "fertility", "hatch_of_fertile")
_LOSSES = frozenset({"early_loss", "mid_loss", "late_loss"})


def name_of(species: str) -> str:
    """The species' name on screens; a key we do not know is shown as it is."""
    known = species_table()
    return known[species].name if species in known else species.replace("_", " ").capitalize()


def strip(species: SpeciesMonth) -> None:
    """The three rates that a month is judged by, each with its base and range."""
    marks.figures(
        [
            (words.COL_EGGS, words.count(species.eggs_set), words.batches_line(species.batches)),
            (words.COL_CHICKS, words.count(species.chicks), words.CHICKS_ARE),
            *(_figure(species, measure) for measure in _STRIP if measure in species.rates),
        ]
    )


def _figure(species: SpeciesMonth, measure: str) -> tuple[str, str, str]:
    rate = species.rates[measure]
    beneath = words.beneath(rate, species.targets.get(measure))
    return words.measure_name(measure), words.figure(rate), beneath


def months(species: SpeciesMonth, month: Month, measure: str, look: Look) -> None:
    """The picture of the months, its sentence, and its table."""
    points = charts.months_of(species, month, measure)
    name = name_of(species.species)
    alt = words.months_alt(name, measure, points)
    st.subheader(words.months_heading(measure), anchor=False)
    picture(charts.months_figure(species, month, measure, look), alt, f"months {species.species}")
    marks.note(words.months_key(species.targets.get(measure)))
    with st.expander(words.AS_TABLE):
        marks.note(alt)
        marks.table(
            alt,
            (words.COL_MONTH, *_RATE_HEADINGS),
            [(words.month_name(when), *_rate_cells(rate)) for when, rate in reversed(points)],
            _NUMBERS,
        )


def pens(
    species: SpeciesMonth, measure: str, look: Look, places: Mapping[str, int], against: Month | None
) -> None:
    """The picture of the pens, its sentence, and the pens' table."""
    drawn = charts.pens_in_order(species, measure)
    name = name_of(species.species)
    alt = words.pens_alt(name, measure, drawn)
    st.subheader(words.pens_heading(measure), anchor=False)
    if drawn:
        figure = charts.pens_figure(species, measure, look, places, against)
        picture(figure, alt, f"pens {species.species}")
        named = words.PENS_KEY_MONTH.format(month=words.month_name(against)) if against else ""
        marks.note(named or words.PENS_KEY)
    with st.expander(words.AS_TABLE, expanded=not drawn):
        marks.note(alt)
        marks.table(
            alt,
            (words.COL_PEN, words.COL_EGGS, *_RATE_HEADINGS, words.beside(against)),
            [_pen_row(pen, measure, against) for pen in species.pens],
            (*_NUMBERS, words.COL_EGGS, words.beside(against)),
        )


def numbers(species: SpeciesMonth, against: Month | None) -> None:
    """Every rate of the month with its base, its range, and what it is set beside."""
    beside = species.against if against else species.before
    marks.table(
        words.numbers_caption(name_of(species.species)),
        (words.COL_RATE_NAME, *_RATE_HEADINGS, words.beside(against), words.COL_OPEN, words.COL_AIM),
        [
            (
                words.measure_name(measure),
                *_rate_cells(rate),
                words.figure(beside[measure]) if measure in beside else words.NOT_KNOWN,
                words.left_open(rate),
                words.percent(species.targets.get(measure)),
            )
            for measure, rate in _shown(species)
        ],
        (*_NUMBERS, words.beside(against), words.COL_AIM),
    )
    known = species_table().get(species.species)
    if known and known.stages and _LOSSES & species.rates.keys():
        marks.note(words.stages_line(known.stages.words()))


def how_made(species: SpeciesMonth) -> None:
    """What stands behind every rate: trays, batches, what was left out, and the method of the range."""
    marks.table(
        words.made_caption(name_of(species.species)),
        (words.COL_RATE_NAME, words.COL_TRAYS, words.COL_BATCHES, words.COL_LEFT_OUT, words.COL_INDEPENDENT,
         words.COL_METHOD),
        [
            (
                words.measure_name(measure),
                words.count(rate.used.trays),
                words.count(rate.used.batches),
                words.count(rate.used.left_out),
                words.independent(rate),
                words.method(rate),
            )
            for measure, rate in _shown(species)
        ],
        (words.COL_TRAYS, words.COL_BATCHES, words.COL_LEFT_OUT, words.COL_INDEPENDENT),
        wide=(words.COL_METHOD,),
    )  # fmt: skip


def _shown(species: SpeciesMonth) -> list[tuple[str, Rate]]:
    return [(measure, rate) for measure, rate in species.rates.items() if measure in words.MEANINGS]


_RATE_HEADINGS = (words.COL_RATE, words.COL_RANGE, words.COL_COUNT)
_NUMBERS = (words.COL_RANGE, words.COL_COUNT, words.COL_OPEN)


def _rate_cells(rate: Rate) -> tuple[str, str, str]:
    return words.with_base(rate), words.range_of(rate), words.counts(rate)


def _pen_row(pen: PenMonth, measure: str, against: Month | None) -> tuple[str, ...]:
    rate = pen.rates.get(measure)
    before = (pen.against if against else pen.before).get(measure)
    cells = _rate_cells(rate) if rate else (words.NOT_KNOWN,) * len(_RATE_HEADINGS)
    return (pen.pen, words.count(pen.eggs_set), *cells, words.figure(before) if before else words.NOT_KNOWN)


def picture(figure: charts.go.Figure, alt: str, key: str) -> None:
    """A picture with its sentence for who cannot see it, and to take away."""
    st.plotly_chart(figure, theme=None, config=charts.CONFIG, alt=alt, key=key)
    name = "penwise-" + re.sub(r"[^a-z0-9]+", "-", key.lower()).strip("-")
    colours = reader.look()
    makers = {kind: partial(as_picture, figure, words.title_of(alt), kind, colours) for kind in PICTURES}
    _take(words.TAKE_PICTURE, name, PICTURES, makers)


def take_picture(name: str, makers: Mapping[str, Callable[[], bytes]]) -> None:
    """A picture that is no chart of plotly's to take away.

    Args:
        name: of the file, without its ending.
        makers: kind of picture -> what makes it.
    """
    _take(words.TAKE_PICTURE, name, PICTURES, makers)


def take(
    label: str, name: str, rows: Sequence[Mapping[str, object]] | Callable[[], Sequence[Mapping[str, object]]]
) -> None:
    """A table to take away: as CSV, as a workbook or as Parquet, made when it is asked for.

    Args:
        label: what the table is.
        name: of the file, without its ending.
        rows: the table, or what fetches it when it is asked for.
    """
    _take(label, name, TABLES, {kind: partial(_table, rows, kind) for kind in TABLES})


def _table(
    rows: Sequence[Mapping[str, object]] | Callable[[], Sequence[Mapping[str, object]]], kind: str
) -> bytes:
    return as_table(rows() if callable(rows) else rows, kind)


def _take(label: str, name: str, kinds: Mapping[str, str], makers: Mapping[str, Callable[[], bytes]]) -> None:
    with st.popover(label):
        for kind, media in kinds.items():
            st.download_button(
                words.TAKE_AS[kind],
                makers[kind],
                f"{name}.{kind}",
                media,
                on_click="ignore",
                key=f"take {name}.{kind}",
            )
