"""How a review was worked out, part by part, and the published figures behind it."""

from __future__ import annotations

from collections.abc import Iterator

from analytics.reference.catalogue import ANY_BIRD, Entry, catalogue
from analytics.reference.species import species_table
from analytics.studies.month_attention import LEAST_OF_SET
from analytics.studies.outlook_words import AS_BEFORE
from analytics.studies.records import MonthReview
from analytics.studies.wording import species_title

BATCHES = (
    "A batch belongs to the month in which it hatched. Nothing that hatched after the month is in its review."
)
BLANKS = (
    "A blank count is not a zero: a tray enters a rate only where the counts it needs are written down. "
    "Unhatched eggs that nobody opened widen the range; they are never dropped."
)
WORTH = (
    "A loss is named where it stands out from chance and costs at least "
    f"{LEAST_OF_SET * 100:g} chick of 100 eggs set (our own choice, no source); every cause is a candidate."
)
LEARNT = (
    "What pens, machines, storage, feed and season do is learnt from all batches up to the month's end; "
    "counted are the eggs of the month."
)


def method_lines(review: MonthReview) -> tuple[tuple[str, str], ...]:
    """What a part rests on: its name and a sentence, in the order of the review."""
    return tuple(dict.fromkeys(_lines(review)))


def _lines(review: MonthReview) -> Iterator[tuple[str, str]]:
    yield "rates", BATCHES
    yield "rates", BLANKS
    for species in review.species:
        for rate in species.rates.values():
            if rate.interval:
                yield "rates", f"Range: {rate.interval.method}."
    yield from (("attention", LEARNT), ("attention", WORTH))
    if review.signals:
        yield from (("signals", line) for line in review.signals.how)
    rest = review.rest
    if rest and rest.changes:
        yield from (("changes", line) for line in rest.changes.notes)
    if rest and rest.breeders:
        for one in rest.breeders.answers:
            yield from (("breeders", f"{species_title(one.species)}: {line}") for line in one.notes)
            yield "breeders", one.how
    yield "outlook", f"Chicks to expect: {AS_BEFORE[0].lower()}{AS_BEFORE[1:]}"


def sources(review: MonthReview) -> tuple[Entry, ...]:
    """The published figures about the birds of the review, and those about any bird."""
    known = species_table()
    names = {known[one.species].name for one in review.species if one.species in known}
    return tuple(
        entry for entry in catalogue() if entry.bird == ANY_BIRD or any(name in entry.bird for name in names)
    )
