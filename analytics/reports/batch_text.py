"""One batch as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analytics.reports.month_text import paragraph as filled
from analytics.reports.month_text import table
from analytics.studies.batch_records import (
    Advice,
    BatchAnswer,
    BatchCandidate,
    BatchFate,
    BatchPen,
    BatchSign,
    BatchSpecies,
    PublishedBeside,
)
from analytics.studies.batch_signs import share_words
from analytics.studies.batch_words import other_words
from analytics.studies.wording import listed, percent, percent_range, species_words
from analytics.values import Interval

_PUBLISHED = "PUBLISHED, EACH ON ITS OWN BASE"
MOST_SIGNS = 4
"""Signs whose candidates are printed; --json has all."""
MOST_CANDIDATES = 4
SUPPORT = {
    "measured": "measured in a study",
    "sheet": "named in extension sheets",
    "contested": "contested",
    "memory": "from memory, no source",
}
"""What speaks for a candidate before these records -> the words for it."""


def batch_text(answer: BatchAnswer) -> str:
    """The answer, the eggs, the hours, candidates, what to look at, what to write down, what stays open."""
    return "\n\n".join(part for part in _parts(answer) if part) + "\n"


def _parts(answer: BatchAnswer) -> Iterator[str]:
    words = answer.words
    yield f"Batch {answer.head.batch}"
    yield from (paragraph(line) for line in (*words.sentences, *words.warnings))
    for one in answer.species:
        yield from _eggs(one)
    yield _titled("WHEN IT HATCHED, IN HOURS", answer.hours.sentences)
    yield from _signs(answer.signs)
    yield _advised("WHAT TO LOOK AT NOW", answer.look_now)
    yield _advised("WHAT TO WRITE DOWN, OR DO, NEXT TIME", answer.record_next)
    yield _titled("WHAT THIS HATCH CANNOT TELL", [f"- {line}" for line in words.cannot_tell])
    yield _titled("YOUR OTHER BATCHES, as counted", [other_words(other) for other in answer.others])
    if answer.others:
        yield paragraph("What many batches tell of causes: penwise causes.")
    yield _titled("HOW THIS WAS WORKED OUT", words.made)
    yield _titled("WITH CARE", words.cautions)


def paragraph(sentence: str, indent: str = "") -> str:
    """Running text; a number and its % stay on one line."""
    return filled(sentence.replace(" %", "\N{NO-BREAK SPACE}%"), indent).replace("\N{NO-BREAK SPACE}%", " %")


def _titled(title: str, lines: Sequence[str]) -> str:
    if not lines:
        return ""
    body = "\n".join(paragraph(line, "  ") for line in lines)
    return f"{title}\n{body}"


def _eggs(one: BatchSpecies) -> Iterator[str]:
    if not one.eggs:
        return
    yield f"WHERE THE EGGS WENT: {one.eggs} {species_words(one.species)} eggs set"
    yield table(("", "eggs", "of set", "range"), [_fate(fate) for fate in one.fates])
    if len(one.pens) > 1:
        yield "Pen by pen, of set; as counted, not compared"
        yield table(("pen", "eggs set", "hatched", "without development"), [_pen(pen) for pen in one.pens])
    yield _titled(_PUBLISHED, [one.published_note] if one.published_note else list(_published(one.published)))


def _fate(fate: BatchFate) -> tuple[str, ...]:
    share = fate.share
    return fate.name, f"{share.count}", f"{percent(share.share)} %", percent_range(share.interval)


def _pen(pen: BatchPen) -> tuple[str, ...]:
    shares = (share_words(share) if share else "-" for share in (pen.hatch, pen.without))
    return pen.pen, f"{pen.eggs_set}", *shares


def _published(rows: Sequence[PublishedBeside]) -> Iterator[str]:
    """A line for each figure that this batch has one for, then each source once."""
    told = [row for row in rows if row.own_low is not None]
    sources = list(dict.fromkeys(row.source for row in told))
    for row in told:
        yield f"- {row.name}: {printed_words(row)} [{sources.index(row.source) + 1}]; here {own_words(row)}."
    for number, source in enumerate(sources, start=1):
        notes = [row.note.split("; ") for row in told if row.source == source and row.note]
        once = "; ".join(dict.fromkeys(part for note in notes for part in note))
        yield f"[{number}] {source} ({once})" if once else f"[{number}] {source}"
    if len(told) < len(rows):
        names = listed(list(dict.fromkeys(row.name.lower() for row in rows if row.own_low is None)))
        yield f"Also published, for when eggs are counted by stage: {names}."


def printed_words(row: PublishedBeside) -> str:
    """A published figure with what it is a share of."""
    return row.as_printed if row.base in row.as_printed else f"{row.as_printed}, {row.base}"


def own_words(row: PublishedBeside) -> str:
    """This batch's share on the base of a published figure."""
    if row.own_low is None or row.own_high is None:
        return "not known"
    within = percent_range(Interval(row.own_low, row.own_high, 0.95, ""))
    return f"only a range, {within}" if row.own is None else f"{percent(row.own)} % ({within})"


def _signs(signs: Sequence[BatchSign]) -> Iterator[str]:
    if signs:
        yield "WHAT WAS SEEN, AND WHAT IT MAY COME FROM (candidates; what your records speak for first)"
    for sign in signs[:MOST_SIGNS]:
        lines = [paragraph(sign.sentence)]
        lines += [line for one in sign.candidates[:MOST_CANDIDATES] for line in _candidate(one)]
        more = len(sign.candidates) - MOST_CANDIDATES
        yield "\n".join([*lines, *([f"  and {more} more"] if more > 0 else [])])
    if len(signs) > MOST_SIGNS:
        yield paragraph(" ".join(sign.sentence for sign in signs[MOST_SIGNS:]))


def _candidate(one: BatchCandidate) -> Iterator[str]:
    yield paragraph(f"- {one.cause} ({one.group}; {SUPPORT[one.support]}). {one.next_check}.", "  ")
    missing = [f"Not written down: {listed(one.missing)}."] if one.missing else []
    for name, lines in (("For", one.for_), ("Against", one.against), ("", [one.note, *missing])):
        said = " ".join(line for line in lines if line)
        if said:
            yield paragraph(f"{name}: {said}" if name else said, "    ")


def _advised(title: str, advice: Sequence[Advice]) -> str:
    if not advice:
        return ""
    parts = []
    for number, one in enumerate(advice, start=1):
        where = [paragraph(f"Write it into {one.where}.", "   ")] if one.where else []
        parts.append("\n".join([paragraph(f"{number}. {one.what}"), paragraph(one.why, "   "), *where]))
    return f"{title}\n" + "\n".join(parts)
