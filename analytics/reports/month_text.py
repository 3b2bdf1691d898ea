"""The month's review as plain text for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from analytics.studies.headline import fertility_note
from analytics.studies.month_attention import attention, breeders_lines, next_steps, opening
from analytics.studies.month_changes import changes_words
from analytics.studies.outlook_words import ahead_words
from analytics.studies.records import (
    Attention,
    DataGap,
    MonthRest,
    MonthReview,
    OpenBatch,
    PenMonth,
    Rates,
    SpeciesMonth,
)
from analytics.studies.wording import (
    MEASURE_NAMES,
    assumed_words,
    counted,
    due_words,
    listed,
    month_name,
    percent,
    percent_range,
    selection_words,
    short_day,
    short_month,
    species_words,
)
from analytics.values import Rate

WIDTH = 96
"""Longest line of running text."""


def review_text(review: MonthReview) -> str:
    """What happened, what needs attention, changes, breeders, what to do and what is missing; then tables."""
    from analytics.reports.signals_text import signals_parts  # its tables are made with `table`

    only = selection_words(review.selection)
    first, more = opening(review)
    parts = [month_name(review.month), *([paragraph(only)] if only else []), paragraph(first)]
    parts += [paragraph(sentence) for sentence in more]
    parts += _attention(review)
    if review.rest:
        parts += ["DID THE CHANGES WORK", _points(changes_words(review.rest))]
        parts += _breeders(review, review.rest)
        parts += ["WHAT TO DO NEXT", _points(next_steps(review))]
        parts += ["WHAT IS AHEAD", _points(ahead_words(review.rest.outlook))]
    if review.data_gaps:
        parts += ["WHAT THE RECORDS LEAVE OPEN", *(_gap(gap) for gap in review.data_gaps)]
    parts += [part for species in review.species if species.eggs_set for part in _species(review, species)]
    parts += signals_parts(review.signals)
    if review.open_batches:
        parts += ["STILL IN THE MACHINE, in no rate", _open_batches(review.open_batches)]
    return "\n\n".join(parts) + "\n"


def _points(lines: Sequence[str]) -> str:
    return "\n".join(f"- {paragraph(line, '  ')[2:]}" for line in lines)


def _attention(review: MonthReview) -> list[str]:
    """What needs attention, numbered: each thing, its evidence, the next step."""
    found = attention(review)
    return ["WHAT NEEDS ATTENTION", *map(_numbered, range(1, len(found) + 1), found)] if found else []


def _numbered(number: int, one: Attention) -> str:
    said = f"{number}. {paragraph(f'{one.what} {one.evidence}', '   ')[3:]}"
    return f"{said}\n{paragraph(f'Next: {one.next_step}', '   ')}" if one.next_step else said


def _breeders(review: MonthReview, rest: MonthRest) -> list[str]:
    """Which breeders, for the species of the month."""
    said = [paragraph(line) for line in breeders_lines(review, rest)]
    return ["WHICH BREEDERS", *said] if said else []


def table(heading: Sequence[str], rows: Sequence[Sequence[str]], left: int = 1) -> str:
    """Columns under their headings: the first `left` ones to the left, the others to the right."""
    widths = [max(len(row[i]) for row in (heading, *rows)) for i in range(len(heading))]
    lines = [heading, ["-" * width for width in widths], *rows]
    return "\n".join("  " + "  ".join(_cells(line, widths, left)).rstrip() for line in lines)


def _cells(line: Sequence[str], widths: Sequence[int], left: int) -> list[str]:
    return [
        cell.ljust(width) if i < left else cell.rjust(width)
        for i, (cell, width) in enumerate(zip(line, widths, strict=True))
    ]


def paragraph(sentence: str, indent: str = "") -> str:
    """Running text in lines of at most WIDTH."""
    return textwrap.fill(sentence, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _species(review: MonthReview, species: SpeciesMonth) -> list[str]:
    name = species_words(species.species).upper()
    eggs, batches = counted(species.eggs_set, "egg"), counted(species.batches, "batch", "batches")
    chicks = counted(species.chicks, "chick")
    uncounted = species.eggs_without_hatch
    without = f" ({uncounted:,} of the eggs without a hatch count, in no rate)" if uncounted else ""
    parts = [f"{name}: {eggs} set in {batches}, {chicks}{without}", _rates(review, species)]
    if note := fertility_note(species):
        parts.append(paragraph(note))
    if assumed := assumed_words(species.rates):
        parts.append(paragraph(assumed))
    if len(species.pens) > 1:
        parts += ["Pen by pen, hatch of set", _pens(review, species.pens)]
    return parts


def _beside(review: MonthReview) -> str:
    """Heading of what the rates are set beside."""
    against = review.against
    return f"{short_month(against)} {against.year}" if against else "year before"


def _rates(review: MonthReview, species: SpeciesMonth) -> str:
    heading = ("rate", "of", "eggs", "this month", "range", _beside(review), "range", "aim")
    rows = [
        (
            name,
            *_month_cells(species.rates[measure]),
            *_rate_cells(review.beside(species), measure),
            _aim(species, measure),
        )
        for measure, name in MEASURE_NAMES.items()
    ]
    return table(heading, rows, left=2)


def _month_cells(rate: Rate) -> tuple[str, str, str, str]:
    eggs = f"{rate.eggs:,.0f}" if rate.eggs is not None else "-"
    return (rate.base.removeprefix("of "), eggs, *_value_cells(rate))


def _rate_cells(rates: Rates, measure: str) -> tuple[str, str]:
    return _value_cells(rates[measure]) if rates else ("-", "-")


def _value_cells(rate: Rate) -> tuple[str, str]:
    value = f"{percent(rate.value)} %" if rate.value is not None else "-"
    return value, percent_range(rate.interval) if rate.interval else "-"


def _aim(species: SpeciesMonth, measure: str) -> str:
    aim = species.targets.get(measure)
    return f"{percent(aim)} %" if aim is not None else "-"


def _pens(review: MonthReview, pens: Sequence[PenMonth]) -> str:
    heading = ("pen", "eggs set", "no count", "chicks", "this month", "range", _beside(review), "range")
    rows = [
        (
            pen.pen,
            f"{pen.eggs_set:,}",
            f"{pen.eggs_without_hatch:,}" if pen.eggs_without_hatch else "-",
            f"{pen.chicks:,}",
            *_rate_cells(pen.rates, "hatch_of_set"),
            *_rate_cells(review.beside(pen), "hatch_of_set"),
        )
        for pen in pens
    ]
    return table(heading, rows)


def _open_batches(batches: Sequence[OpenBatch]) -> str:
    rows = [
        (b.batch, b.incubator, listed([species_words(key) for key in b.species]) or "-", f"{b.eggs_set:,}",
         short_day(b.set_on), due_words(b))
        for b in batches
    ]  # fmt: skip
    return table(("batch", "machine", "species", "eggs", "set on", "due"), rows, left=3)


def _gap(gap: DataGap) -> str:
    more = f" and {gap.how_many - len(gap.where)} more" if gap.how_many > len(gap.where) else ""
    where = f"Where: {', '.join(gap.where)}{more}."
    return "\n".join((paragraph(f"- {gap.what}"), paragraph(where, "  "), paragraph(gap.repair, "  ")))
