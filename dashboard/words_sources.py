"""What the page of sources says; goes with words.py into another language."""

from __future__ import annotations

import re
from collections.abc import Sequence

from analytics.reference.catalogue import HYGIENE, Entry
from analytics.reference.sources import Status
from analytics.studies.wording import counted

PAGE = "Sources"
LEDE = "Where each figure comes from that is not your own, and how it was read."
LEDE_MORE = (
    "Each stands here with its book, paper or page. Where sources disagree, all stand here and none is "
    "averaged. Company and extension figures are mostly of chickens: other birds may differ."
)
FIND = "Find"
FIND_HINT = "such as quail humidity"
HOW_READ = "How it was read"
ANY_WAY = "any way"
READ: dict[Status, str] = {
    Status.SEEN: "seen",
    Status.SEEN_SECOND_HAND: "seen quoted",
    Status.MEMORY: "from memory",
}
"""How a figure was come by -> the words for it."""
READ_MEANS = (
    "Seen: the figure was read in the source itself, often only in its abstract or opening.",
    "Seen quoted: it was read in a page that quotes the source.",
    "From memory: it was not looked up. Take it as common practice without a source.",
)
NONE_FOUND = "No figure here has all of these words."
NONE_FOUND_DO = "Try fewer words, or one of: temperature, humidity, storage, turning, late, pheasant."
HEADINGS = ("Bird", "What it says", "Source", "Read")
WIDE = ("What it says", "Source")
CAUTION = "Usual cautions, no more"
CAUTION_LINES = (
    "Local rules, the label on the product and your veterinarian come before anything written here.",
    "penwise gives no recipe for a disinfectant or for fumigation.",
)
CAUSES_NOTE = (
    "Each is a candidate, never a finding. They stand in the order in which to look. Which is likely, only "
    "your own records can tell."
)
CAUSES = "signs and candidate causes"


def topic_label(topic: str, entries: int) -> str:
    """A topic with how many rows it has."""
    return f"{topic[0].upper()}{topic[1:]} ({entries})"


def found_line(shown: int, known: int) -> str:
    """How many rows are shown."""
    if shown == known:
        return f"{counted(known, 'figure or sentence', 'figures and sentences')}, each with its source."
    return f"{shown} of {known} are shown."


def row(entry: Entry) -> tuple[str, ...]:
    """An entry as a row of the table."""
    return (
        _sentence(entry.bird),
        _dashed(_sentence(f"{entry.says}. {entry.note}" if entry.note else entry.says)),
        _sentence(entry.source),
        READ[entry.status],
    )


def beneath(topic: str) -> Sequence[str]:
    """What stands above the table of a topic."""
    return (CAUSES_NOTE,) if topic == CAUSES else ()


def is_hazard(topic: str) -> bool:
    """Whether the cautions stand above a topic."""
    return topic == HYGIENE


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}"


def _dashed(text: str) -> str:
    return re.sub(r"(?<=\d)-(?=\d)", "–", text)
