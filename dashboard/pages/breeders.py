"""Breeders: which pens, sires and dams to keep, to watch or to replace?"""

from __future__ import annotations

from dashboard import data, words_breeders
from dashboard.components import breeders, filters, frame, marks
from dashboard.components.question import Question, asked


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    asked_now = asked(
        which,
        Question(
            choose=breeders.choose,
            title=lambda chosen: words_breeders.TITLES[chosen.rank],
            answer=breeders.answer,
            lines=lambda both: (both[1].sentence,),
            too_thin=words_breeders.TOO_THIN,
        ),
    )
    if asked_now is None:
        return
    known, _, (found, answer) = asked_now
    if len(found.answers) > 1:
        filters.choose_bird([one.species for one in found.answers])
    breeders.answered(found, answer, known)
    for one in found.without:
        marks.note(one.why)
