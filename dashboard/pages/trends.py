"""Trends: does it go with the months, with storage, with the hens' age, with the males?"""

from __future__ import annotations

from dashboard import data, words_trends
from dashboard.components import along, filters, frame
from dashboard.components.question import Question, asked


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    found = asked(
        which,
        Question(
            choose=filters.choose_along,
            title=lambda chosen: words_trends.title(chosen.measure, chosen.along),
            answer=data.trends,
            lines=words_trends.answer_lines,
            too_thin=words_trends.TOO_THIN,
        ),
    )
    if found is None:
        return
    _, _, answer = found
    along.drawn(answer, frame.look())
    along.changes(answer)
    along.besides(answer)
    if answer.points:
        along.numbers(answer)
    along.tested(answer)
