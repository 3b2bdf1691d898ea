"""The words of the page of breeders, in one place."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.studies.breeders_records import BreederRow, BreedersAnswer
from analytics.studies.breeders_words import advice_words, chance_words
from analytics.studies.wording import counted, minus, percent, species_words
from dashboard.words import NOT_KNOWN, count

PAGE = "Breeders"
TITLES = {
    "pen": "Which pens to keep?",
    "sire": "Which sires to keep?",
    "dam": "Which dams to keep?",
}
BY_NAMES = {"pen": "pens", "sire": "sires", "dam": "dams"}
FILTER_BY = "Rank"
COSTS = "What a chick is worth"
COSTS_LEDE = (
    "In any one unit of money. The figures to start with are our own choice, without a source: put in yours."
)
CHICK_VALUE = "A chick is worth"
EGG_COST = "An egg would sell for"
REPLACEMENT_COST = "Replacing costs in all"
TARGET_BLANK = "the others' middle"
FROM_BLANK = "last 6 months"
TOO_THIN = "These records cannot rank breeders yet"
WORKING = "Working out each one's own share …"
RANKED_HEADING = "Each one's own rate"
RANKED_KEY = (
    "Chicks of 100 eggs set that each would give in a typical machine, storage, age, feed and season, with "
    "the 95 % range; pale where eggs are few. The dashed line is the typical one. The word beneath the name "
    "is the advice, and the mark's shape too: a cross is to be replaced, a ring to be watched, a dot stays, "
    "a square has too few eggs, or cannot be told yet."
)
TABLE_HEADING = "The numbers"
WHY_HEADING = "Why"
NOTES_HEADING = "What these records cannot tell"
HOW_HEADING = "How this was worked out"
CARE = (
    "The advice weighs eggs and chicks only. A bird that is ill, lame or closely related is a matter of its "
    "own; ask a veterinarian where birds fall ill."
)
COL_ADVICE = "Advice"
COL_EGGS = "Eggs, hatched"
COL_RATE = "Own rate, of set"
COL_RANGE = "Range, 95 %"
COL_BELOW = "Chance below others"
COL_PAYS = "Chance it pays"
COL_LOST = "Chicks fewer of 100"
COL_HEN = "Chicks a hen, month"
DOWNLOAD = "Take the numbers"
AXIS = "chicks of 100 eggs set"


def heading(answer: BreedersAnswer) -> str:
    """The species, as a heading."""
    name = species_words(answer.species)
    return name[:1].upper() + name[1:]


def advice(row: BreederRow) -> str:
    """The advice in words."""
    return advice_words(row).capitalize()


def beneath(row: BreederRow) -> str:
    """What stands beneath a name in the picture."""
    return f"{advice_words(row)} · {counted(round(row.standing.eggs), 'egg')}"


def ranked_alt(answer: BreedersAnswer) -> str:
    """The picture in a sentence."""
    told = [f"{row.standing.name} {percent(row.standing.rate)} %, {advice_words(row)}" for row in answer.rows]
    return f"Own rates of {heading(answer)}, of set: {'; '.join(told)}. Typical: {percent(answer.typical)} %."


def cells(row: BreederRow) -> tuple[str, ...]:
    """A row of the table."""
    one = row.standing
    hen = row.chicks_per_hen_month
    return (
        one.name,
        advice(row),
        f"{count(one.eggs)}, {percent(one.chicks / one.eggs)} %",
        f"{percent(one.rate)} %",
        f"{percent(one.low)}–{percent(one.high)} %",
        NOT_KNOWN if row.is_alone else chance_words(one.probability_below_target),
        NOT_KNOWN if row.is_alone else chance_words(one.probability_pays),
        NOT_KNOWN if row.is_alone else minus(f"{one.chicks_lost_per_100:.1f}"),
        NOT_KNOWN if hen is None else f"{hen:.1f}",
    )


def reasons(rows: Sequence[BreederRow]) -> list[tuple[str, str]]:
    """Name with advice, and why; of who simply stays none."""
    return [
        (f"{row.standing.name}: {advice_words(row)}", row.why)
        for row in rows
        if row.standing.advice != "keep"
    ]
