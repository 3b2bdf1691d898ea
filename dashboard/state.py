"""Filters and the link: what is shown is written in the link, and a copied link shows the same again.

A link is a stranger's text. Only values that the records have are taken from it; for every other one there
is a sentence.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.studies.pen_records import By
from analytics.studies.trend_records import Along
from analytics.values import Month, Period
from dashboard import words, words_breeders

MONTH_FIELDS = ("month", "against", "species", "pen", "incubator", "measure")
"""Names in the link of the page of the month."""
PENS_FIELDS = ("from", "to", "species", "pen", "incubator", "measure", "by", "first", "second")
"""Names in the link of the page of pens."""
TRENDS_FIELDS = ("from", "to", "species", "pen", "incubator", "measure", "along")
"""Names in the link of the page of trends."""
LOSSES_FIELDS = ("from", "to", "species", "pen", "incubator", "bird", "target", "stripes")
"""Names in the link of the page of losses."""
BREEDERS_FIELDS = ("from", "to", "species", "pen", "incubator", "bird", "target", "rank")
"""Names in the link of the page of breeders."""
CHANGES_FIELDS = ("from", "to", "species", "pen", "incubator")
"""Names in the link of the page of changes."""
MACHINES_FIELDS = ("from", "to", "incubator", "species", "pen")
"""Names in the link of the page of incubators; no two pages have them alike, for by them a page knows that
another one was shown before it."""
FIELDS = (*MONTH_FIELDS, "from", "to", "by", "first", "second", "along", "bird", "target", "stripes", "rank")
"""All names in links."""
BY: tuple[By, ...] = ("pen", "line")
"""What can be set against one another."""
ALONG: tuple[Along, ...] = ("month", "storage", "hen_age", "males_per_female")
"""What a rate can go with, in the order in which it is offered."""
STRIPES = ("all", "fertile", "early", "mid", "late", "shell", "hatch")
"""What the stripes of the losses can be of: the whole way or one step; "hatch" where no others are known."""
RANKED = ("pen", "sire", "dam")
"""Breeders that can be ranked."""
YEAR_AGO = "year-ago"
"""Instead of a month to be set beside: the same one last year."""
LEAST_WANTED, MOST_WANTED = 1.0, 100.0
"""Chicks that may be wanted of 100 eggs."""
MOST = 60
"""Values read of one field; a link may hold any number."""
_LONGEST = 60
_NAMES = {
    "month": "month",
    "against": "against",
    "species": "species",
    "pen": "pens",
    "incubator": "incubators",
    "measure": "measure",
    "from": "start",
    "to": "end",
    "by": "by",
    "first": "first",
    "second": "second",
    "along": "along",
    "bird": "bird",
    "target": "target",
    "stripes": "stripes",
    "rank": "rank",
}
"""Name in the link -> name in the filters."""


@dataclass(frozen=True, slots=True)
class Known:
    """What may be chosen.

    Attributes:
        months: months with finished batches, oldest first.
        species: keys.
        pens: labels.
        incubators: labels.
        lines: labels.
    """

    months: tuple[Month, ...]
    species: tuple[str, ...]
    pens: tuple[str, ...]
    incubators: tuple[str, ...]
    lines: tuple[str, ...]

    def labels(self, by: By) -> tuple[str, ...]:
        """Pens, or lines."""
        return self.pens if by == "pen" else self.lines


@dataclass(frozen=True, slots=True)
class Filters:
    """What is chosen; empty means all, no month means the last one.

    Attributes:
        month: YYYY-MM or "".
        species: keys.
        pens: labels.
        incubators: labels.
        measure: the rate in the pictures.
        start: first month of a period, YYYY-MM or "".
        end: last month of it, likewise.
        by: whether pens or lines are set against one another.
        first: one of them to be asked about, or "".
        second: another to hold it against, or "".
        along: what a trend runs along.
        bird: key of the species whose losses are shown, or "" for that with the most eggs.
        target: chicks wanted of 100 eggs; None = the mark that the study finds.
        stripes: what the stripes are of, one of `STRIPES`.
        against: month to be set beside, YYYY-MM, or `YEAR_AGO`; "" = the twelve months before together.
        rank: which breeders are ranked, one of `RANKED`.
    """

    month: str = ""
    species: tuple[str, ...] = ()
    pens: tuple[str, ...] = ()
    incubators: tuple[str, ...] = ()
    measure: str = words.FIRST_MEASURE
    start: str = ""
    end: str = ""
    by: By = "pen"
    first: str = ""
    second: str = ""
    along: Along = "month"
    bird: str = ""
    target: float | None = None
    stripes: str = STRIPES[0]
    against: str = ""
    rank: str = RANKED[0]

    def beside(self, month: Month) -> Month | None:
        """The month that is set beside one; None where that is the twelve before."""
        if self.against == YEAR_AGO:
            return month.back(12)
        return Month.parse(self.against) if self.against and self.against != str(month) else None

    @property
    def pair(self) -> tuple[str, str] | None:
        """The two to be asked about, if two are chosen."""
        return (self.first, self.second) if self.first and self.second else None

    def selection(self) -> Selection:
        """The filters as the studies take them, whatever the period."""
        return Selection(species=self.species, pens=self.pens, incubators=self.incubators)

    def in_period(self) -> Selection:
        """The filters with their period."""
        first = Month.parse(self.start).period().start if self.start else None
        last = Month.parse(self.end).period().end if self.end else None
        return self.selection().during(Period(first, last))


def read(link: Mapping[str, Sequence[str]], known: Known) -> tuple[Filters, tuple[str, ...]]:
    """The filters of a link, and a sentence for everything in it that the records do not have."""
    said: list[str] = []
    by = _by(link.get("by", ()), known, said)
    chosen = Filters(
        month=_month(link.get("month", ()), known.months, said),
        species=_labels(link.get("species", ()), known.species, words.FILTER_SPECIES, said),
        pens=_labels(link.get("pen", ()), known.pens, words.FILTER_PENS, said),
        incubators=_labels(link.get("incubator", ()), known.incubators, words.FILTER_INCUBATORS, said),
        measure=_measure(link.get("measure", ()), said),
        start=_end(link.get("from", ()), words.FILTER_FROM, known, said),
        end=_end(link.get("to", ()), words.FILTER_TO, known, said),
        by=by,
        first=_label(link.get("first", ()), known.labels(by), words.FILTER_FIRST, said),
        second=_label(link.get("second", ()), known.labels(by), words.FILTER_SECOND, said),
        along=_along(link.get("along", ()), said),
        bird=_label(link.get("bird", ()), known.species, words.FILTER_SPECIES, said),
        target=_target(link.get("target", ()), said),
        stripes=_stripes(link.get("stripes", ()), said),
        against=_against(link.get("against", ()), known, said),
        rank=_ranked(link.get("rank", ()), said),
    )
    if chosen.first and chosen.first == chosen.second:
        said.append(words.twice_in_link(chosen.first))
        chosen = replace(chosen, second="")
    if chosen.start and chosen.end and chosen.end < chosen.start:
        said.append(words.backwards_in_link(chosen.start, chosen.end))
        chosen = replace(chosen, start="", end="")
    return chosen, tuple(said)


def write(filters: Filters, of: Sequence[str] = FIELDS) -> dict[str, list[str]]:
    """The filters as a link's fields, those of one page; what is not chosen is not written."""
    fields: dict[str, list[str]] = {
        "month": [filters.month] if filters.month else [],
        "species": list(filters.species),
        "pen": list(filters.pens),
        "incubator": list(filters.incubators),
        "measure": [filters.measure] if filters.measure != words.FIRST_MEASURE else [],
        "from": [filters.start] if filters.start else [],
        "to": [filters.end] if filters.end else [],
        "by": [filters.by] if filters.by != BY[0] else [],
        "first": [filters.first] if filters.first else [],
        "second": [filters.second] if filters.second else [],
        "along": [filters.along] if filters.along != ALONG[0] else [],
        "bird": [filters.bird] if filters.bird else [],
        "target": [f"{filters.target:g}"] if filters.target is not None else [],
        "stripes": [filters.stripes] if filters.stripes != STRIPES[0] else [],
        "against": [filters.against] if filters.against else [],
        "rank": [filters.rank] if filters.rank != RANKED[0] else [],
    }
    return {name: values for name, values in fields.items() if values and name in of}


def still_known(filters: Filters, known: Known) -> Filters:
    """The filters without what the records no longer have; no month becomes the last one."""
    months = [str(month) for month in known.months]
    last = months[-1] if months else ""
    by = filters.by if known.labels(filters.by) else BY[0]
    first, second = (one if one in known.labels(by) else "" for one in (filters.first, filters.second))
    start, end = (month if month in months else "" for month in (filters.start, filters.end))
    return Filters(
        month=filters.month if filters.month in months else last,
        species=tuple(key for key in filters.species if key in known.species),
        pens=tuple(label for label in filters.pens if label in known.pens),
        incubators=tuple(label for label in filters.incubators if label in known.incubators),
        measure=filters.measure,
        start=start,
        end=end if end >= start else "",
        by=by,
        first=first,
        second=second if second != first else "",
        along=filters.along,
        bird=filters.bird if filters.bird in known.species else "",
        target=filters.target,
        stripes=filters.stripes,
        against=filters.against if filters.against in (YEAR_AGO, *months) else "",
        rank=filters.rank,
    )


def merged(kept: Filters, read_now: Filters, of: Sequence[str]) -> Filters:
    """What a page's link says, and for all else what was chosen before."""
    return replace(kept, **{name: getattr(read_now, name) for name in (_NAMES[field] for field in of)})


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


def _against(given: Sequence[str], known: Known, said: list[str]) -> str:
    return YEAR_AGO if given and given[0] == YEAR_AGO else _month(given, known.months, said)


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


def _end(given: Sequence[str], field: str, known: Known, said: list[str]) -> str:
    """First or last month of a period."""
    unknown: list[str] = []
    month = _month(given, known.months, unknown)
    if unknown:
        said.append(words.bad_end_in_link(field, shortened(given[0])))
    return month


def _by(given: Sequence[str], known: Known, said: list[str]) -> By:
    for by in BY:
        if given and given[0] == by and known.labels(by):
            return by
    if given:
        said.append(words.unknown_in_link(words.FILTER_BY, [shortened(given[0])]))
    return BY[0]


def _ranked(given: Sequence[str], said: list[str]) -> str:
    if given and given[0] not in RANKED:
        said.append(words.unknown_in_link(words_breeders.FILTER_BY, [shortened(given[0])]))
    return given[0] if given and given[0] in RANKED else RANKED[0]


def _label(given: Sequence[str], known: Sequence[str], field: str, said: list[str]) -> str:
    return next(iter(_labels(given[:1], known, field, said)), "")


def _along(given: Sequence[str], said: list[str]) -> Along:
    for along in ALONG:
        if given and given[0] == along:
            return along
    if given:
        said.append(words.unknown_in_link(words.FILTER_ALONG, [shortened(given[0])]))
    return ALONG[0]


def _target(given: Sequence[str], said: list[str]) -> float | None:
    if not given or not given[0].strip():
        return None
    try:
        wanted = round(float(given[0]), 1)
    except ValueError:
        wanted = math.nan
    if LEAST_WANTED <= wanted <= MOST_WANTED:
        return wanted
    said.append(words.bad_target_in_link(shortened(given[0])))
    return None


def _stripes(given: Sequence[str], said: list[str]) -> str:
    for step in STRIPES:
        if given and given[0] == step:
            return step
    if given:
        said.append(words.unknown_in_link(words.FILTER_STRIPES, [shortened(given[0])]))
    return STRIPES[0]
