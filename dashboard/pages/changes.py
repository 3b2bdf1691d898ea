"""Changes: did each change work, against the pens and machines it did not touch?"""

from __future__ import annotations

from dashboard import data, data_changes, words_changes
from dashboard.components import changes, filters, frame
from dashboard.components.question import Question, asked


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    found = asked(
        which,
        Question(
            choose=filters.choose_changes,
            title=lambda _: words_changes.TITLE,
            answer=data_changes.answer,
            lines=words_changes.answer_lines,
            too_thin=words_changes.TOO_THIN,
        ),
    )
    if found is None:
        return
    _, _, answer = found
    one = changes.one_of(answer)
    changes.shown(one, frame.look())
    changes.numbers(one)
    changes.tested(answer)
