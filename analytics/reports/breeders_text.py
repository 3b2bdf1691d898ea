"""Which breeders to keep, as plain text for a terminal."""

from __future__ import annotations

from analytics.reports.month_text import paragraph, table
from analytics.studies.breeders_records import BreederRow, Breeders, BreedersAnswer
from analytics.studies.breeders_words import advice_words, chance_words
from analytics.studies.wording import minus, percent, selection_words, species_words, whole

HEADS = (
    "Hatched: as counted. Own rate: chicks of 100 eggs set, all else being typical. Below: chance that it is "
    "below what it is held against. Pays: chance that replacing pays. Lost: chicks of 100 eggs. Hen, month: "
    "chicks a hen would give in a month."
)


def breeders_text(found: Breeders) -> str:
    """Everything, species by species."""
    said = selection_words(found.selection)
    parts = [paragraph(said)] if said else []
    for answer in found.answers:
        parts += _answer(answer, found.by)
    parts += [paragraph(f"{species_words(one.species).upper()}: {one.why}") for one in found.without]
    return "\n\n".join(parts) + "\n"


def _answer(answer: BreedersAnswer, by: str) -> list[str]:
    heads = (
        by,
        "advice",
        "eggs",
        "hatched",
        "own rate",
        "95 % range",
        "below",
        "pays",
        "lost of 100",
        "hen, month",
    )
    lines = [_line(row) for row in answer.rows]
    told = [row for row in answer.rows if row.standing.advice != "keep"]
    reasons = [paragraph(f"{row.standing.name}: {row.why}") for row in told]
    return [
        species_words(answer.species).upper(),
        paragraph(answer.sentence),
        table(heads, lines),
        paragraph(HEADS),
        *reasons,
        *(paragraph(f"- {note}") for note in answer.notes),
        "HOW THIS WAS MADE",
        paragraph(answer.how),
    ]


def _line(row: BreederRow) -> tuple[str, ...]:
    one = row.standing
    return (
        one.name,
        advice_words(row),
        whole(one.eggs),
        f"{percent(one.chicks / one.eggs)} %",
        percent(one.rate),
        f"{percent(one.low)}–{percent(one.high)}",
        "" if row.is_alone else chance_words(one.probability_below_target),
        "" if row.is_alone else chance_words(one.probability_pays),
        "" if row.is_alone else minus(f"{one.chicks_lost_per_100:.1f}"),
        "" if row.chicks_per_hen_month is None else f"{row.chicks_per_hen_month:.1f}",
    )
