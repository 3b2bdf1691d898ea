"""Filters and the link: what is shown is written in the link, and a copied link shows the same again.

A link is a stranger's text. Only values that the records have are taken from it; for every other one there
is a sentence.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.values import Month
from dashboard import words

FIELDS = ("month", "species", "pen", "incubator", "measure")
"""Names in the link."""
MOST = 60
"""Values read of one field; a link may hold any number."""
_LONGEST = 60


@dataclass(frozen=True, slots=True)
class Known:
    """What may be chosen.

    Attributes:
        months: months with finished batches, oldest first.
        species: keys.
        pens: labels.
        incubators: labels.
    """

    months: tuple[Month, ...]
    species: tuple[str, ...]
    pens: tuple[str, ...]
    incubators: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Filters:
    """What is chosen; empty means all, no month means the last one.

    Attributes:
        month: YYYY-MM or "".
        species: keys.
        pens: labels.
        incubators: labels.
        measure: the rate in the pictures.
    """

    month: str = ""
    species: tuple[str, ...] = ()
    pens: tuple[str, ...] = ()
    incubators: tuple[str, ...] = ()
    measure: str = words.FIRST_MEASURE

    def selection(self) -> Selection:
        """The filters as the studies take them."""
        return Selection(species=self.species, pens=self.pens, incubators=self.incubators)


def read(link: Mapping[str, Sequence[str]], known: Known) -> tuple[Filters, tuple[str, ...]]:
    """The filters of a link, and a sentence for everything in it that the records do not have."""
    said: list[str] = []
    chosen = Filters(
        month=_month(link.get("month", ()), known.months, said),
        species=_labels(link.get("species", ()), known.species, words.FILTER_SPECIES, said),
        pens=_labels(link.get("pen", ()), known.pens, words.FILTER_PENS, said),
        incubators=_labels(link.get("incubator", ()), known.incubators, words.FILTER_INCUBATORS, said),
        measure=_measure(link.get("measure", ()), said),
    )
    return chosen, tuple(said)


def write(filters: Filters) -> dict[str, list[str]]:
    """The filters as a link's fields; what is not chosen is not written."""
    fields = {
        "month": [filters.month] if filters.month else [],
        "species": list(filters.species),
        "pen": list(filters.pens),
        "incubator": list(filters.incubators),
        "measure": [filters.measure] if filters.measure != words.FIRST_MEASURE else [],
    }
    return {name: values for name, values in fields.items() if values}


def still_known(filters: Filters, known: Known) -> Filters:
    """The filters without what the records no longer have; no month becomes the last one."""
    last = str(known.months[-1]) if known.months else ""
    return Filters(
        month=filters.month if filters.month in map(str, known.months) else last,
        species=tuple(key for key in filters.species if key in known.species),
        pens=tuple(label for label in filters.pens if label in known.pens),
        incubators=tuple(label for label in filters.incubators if label in known.incubators),
        measure=filters.measure,
    )


def shortened(given: str) -> str:
    """A stranger's text, fit to be shown: no line breaks, not long."""
    plain = "".join(letter if letter.isprintable() else " " for letter in given).strip()
    return plain if len(plain) <= _LONGEST else plain[: _LONGEST - 1] + "…"


def _month(given: Sequence[str], known: Sequence[Month], said: list[str]) -> str:
    if not given or not given[0].strip():
        return ""
    try:
        month = Month.parse(given[0])
    except WrongUsage:
        month = None
    if month is None or month not in known:
        said.append(words.bad_month_in_link(shortened(given[0])))
        return ""
    return str(month)


def _labels(given: Sequence[str], known: Sequence[str], field: str, said: list[str]) -> tuple[str, ...]:
    by_key = {label.strip().lower(): label for label in known}
    read_now = [(text, by_key.get(text.strip().lower())) for text in given[:MOST]]
    unknown = [shortened(text) for text, label in read_now if label is None]
    if unknown:
        said.append(words.unknown_in_link(field, unknown))
    if len(given) > MOST:
        said.append(words.too_many_in_link(field, MOST))
    return tuple(dict.fromkeys(label for _, label in read_now if label is not None))


def _measure(given: Sequence[str], said: list[str]) -> str:
    if not given or given[0] in words.MEANINGS:
        return given[0] if given else words.FIRST_MEASURE
    said.append(words.unknown_in_link(words.FILTER_MEASURE, [shortened(given[0])]))
    return words.FIRST_MEASURE
