"""Signs as plain text for a terminal: what is seen, and for each candidate what speaks for and against it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from analytics.reports.month_text import paragraph
from analytics.reports.signs_hygiene import hygiene_lines
from analytics.reports.signs_shells import shells_lines
from analytics.studies.signs_records import Sign, SignCandidate, SignsAnswer
from analytics.studies.signs_words import ONE_BATCH, group_lines
from analytics.studies.wording import counted

NONE = "No sign stands out beside this farm's own others."
GROUPS = {"flock": "The flock's causes", "handling": "Handling", "incubator": "The machine's causes"}
_IN = "    "


def signs_lines(answer: SignsAnswer) -> list[str]:
    """Paragraphs of the part on signs, its heading first; to be joined by blank lines."""
    parts = ["SIGNS, with candidate causes; none of them is a finding"]
    cited = {
        text: number
        for number, text in enumerate(
            dict.fromkeys(each.source for one in answer.signs for each in one.candidates), start=1
        )
    }
    parts += [_sign(one, cited) for one in answer.signs] or [paragraph(NONE)]
    if answer.more:
        parts.append(paragraph(f"{counted(answer.more, 'further sign')} not shown."))
    parts += [paragraph(f"[{number}] {text}") for text, number in cited.items()]
    parts += [paragraph(f"- {text}") for text in (answer.rule, *answer.not_recorded)]
    parts += shells_lines(answer.shells) if answer.shells else []
    parts += hygiene_lines(answer.cleaning) if answer.cleaning else []
    said = {text for one in answer.cleaning for text in one.cautions}
    return parts + [paragraph(text) for text in answer.cautions if text not in said]


def _sign(one: Sign, cited: Mapping[str, int]) -> str:
    lines = [paragraph(f"- {one.name}. {one.sentence}")]
    if one.standing == "one_batch":
        lines.append(paragraph(ONE_BATCH, "  "))
    lines += [paragraph(text, "  ") for group in one.groups for text in group_lines(one, group)]
    for each in one.candidates:
        lines += _candidate(each, cited[each.source])
    if one.left:
        lines.append(paragraph(f"{counted(one.left, 'candidate')} less likely not shown.", "  "))
    return "\n".join(lines)


def _candidate(one: SignCandidate, source: int) -> Iterator[str]:
    """A candidate with what is its own."""
    yield paragraph(f"? {one.cause} ({one.group})", "  ")
    for word, texts in (("for", one.for_), ("against", one.against)):
        for text in texts:
            yield paragraph(f"{word}: {text}", _IN)
    if one.note:
        yield paragraph(one.note, _IN)
    if one.missing:
        yield paragraph(f"Not written down: {'; '.join(one.missing)}.", _IN)
    yield paragraph(f"Next: {one.next_check}. [{source}]", _IN)
