"""The month's review as one page that stands alone: to read, to keep, to print."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup, escape

from analytics.reference.species import stage_words
from analytics.reports.svg import Mark, months_picture, pens_picture, signal_picture
from analytics.studies import wording
from analytics.studies.breeders_words import ADVICE, chance_words
from analytics.studies.month_attention import attention, breeders_lines, next_steps, opening
from analytics.studies.month_changes import changes_words
from analytics.studies.month_method import method_lines
from analytics.studies.outlook_words import ahead_words
from analytics.studies.records import MonthReview, PenMonth, Rates, SpeciesMonth
from analytics.studies.signal_records import Signal
from analytics.studies.signal_words import SMALLEST, seen_rows, unit_words
from analytics.values import Month, Rate, label_order

PICTURED = ("hatch_of_set", "fertility", "hatch_of_fertile")
"""Rates drawn month by month."""


def review_page(review: MonthReview) -> str:
    """The page as HTML text: style and pictures inside, no script, nothing fetched."""
    first, more = opening(review)
    rest = review.rest
    return _template().render(
        review=review,
        first=first,
        more=more,
        with_eggs=[species for species in review.species if species.eggs_set],
        measures=wording.MEASURE_NAMES,
        pictured=PICTURED,
        wording=wording,
        months_picture=months_of,
        pens_picture=pens_of,
        stage_words=stage_words,
        attention=attention,
        changes=changes_words(rest) if rest else (),
        breeders=breeders_lines(review, rest) if rest else (),
        breeder_rows=breeder_rows(review),
        next_steps=next_steps,
        ahead_words=ahead_words,
        method_lines=method_lines,
        seen_rows=seen_rows,
        smallest=SMALLEST,
        unit_words=unit_words,
        signal_picture=signal_of,
        beside=_beside(review.against),
        beside_words=wording.month_name(review.against) if review.against else "the twelve months before",
    )


@cache
def _template() -> Template:
    pages = Environment(
        loader=PackageLoader("analytics.reports", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    pages.filters["code_words"] = code_words
    return pages.get_template("month.html.j2")


def _beside(against: Month | None) -> str:
    """Heading of what the rates are set beside."""
    return f"{wording.short_month(against)} {against.year}" if against else "Twelve before"


def months_of(species: SpeciesMonth, month: Month, measure: str) -> Markup:
    """The picture of one rate in the month and the twelve before."""
    every = [*species.months_before, (month, species.rates)]
    marks = [
        Mark(
            wording.short_month(when),
            _year(when, i in (0, len(every) - 1)),
            _rate(rates, measure),
            now=when == month,
        )
        for i, (when, rates) in enumerate(every)
    ]
    title = f"{wording.MEASURE_NAMES[measure]} of {wording.species_words(species.species)} by month"
    return months_picture(title, marks, species.targets.get(measure))


def pens_of(review: MonthReview, species: SpeciesMonth, measure: str) -> Markup:
    """The picture of one rate pen by pen, highest first."""
    pens = sorted(species.pens, key=lambda pen: (-_middle(pen, measure), label_order(pen.pen)))
    marks = [
        Mark(
            pen.pen,
            _eggs(pen, measure),
            _rate(pen.rates, measure),
            _rate(review.beside(pen), measure),
            now=True,
        )
        for pen in pens
    ]
    title = f"{wording.MEASURE_NAMES[measure]} by pen"
    return pens_picture(title, marks, species.targets.get(measure))


def signal_of(one: Signal) -> Markup:
    """The picture of one signal."""
    who = unit_words(one.kind, one.label, one.species)
    return signal_picture(
        f"{wording.MEASURE_NAMES[one.measure]} of {who[:1].lower()}{who[1:]} by month", one.points
    )


def code_words(text: str) -> Markup:
    """Words between backticks as code."""
    parts = [escape(part) for part in text.split("`")]
    return Markup("").join(Markup("<code>{}</code>").format(p) if i % 2 else p for i, p in enumerate(parts))


def breeder_rows(review: MonthReview) -> list[tuple[str, ...]]:
    """Pens of the month's species: advice, eggs, own rate with its range, chance that replacing pays."""
    kept = review.rest.breeders if review.rest else None
    there = {one.species for one in review.species if one.eggs_set}
    return [
        (
            row.standing.name,
            ADVICE[row.standing.advice],
            f"{row.standing.eggs:,.0f}",
            f"{wording.percent(row.standing.rate)} %",
            f"{wording.percent(row.standing.low)}–{wording.percent(row.standing.high)} %",
            chance_words(row.standing.probability_pays),
        )
        for answer in (kept.answers if kept else ())
        if answer.species in there
        for row in answer.rows
    ]


def _rate(rates: Rates, measure: str) -> Rate | None:
    return rates.get(measure)


def _middle(pen: PenMonth, measure: str) -> float:
    rate = _rate(pen.rates, measure)
    if rate is None or rate.interval is None:
        return -1.0
    return rate.value if rate.value is not None else (rate.interval.low + rate.interval.high) / 2


def _eggs(pen: PenMonth, measure: str) -> str:
    rate = _rate(pen.rates, measure)
    return wording.counted(round(rate.eggs) if rate and rate.eggs else pen.eggs_set, "egg")


def _year(month: Month, at_end: bool) -> str:
    return str(month.year) if at_end or month.month == 1 else ""
