"""Losses: whose loss is it, the flock's, the handling's or the incubator's?"""

from __future__ import annotations

from analytics.studies.causes_records import Causes, CausesAnswer
from dashboard import data, words_losses
from dashboard.components import filters, frame, losses, losses_map, losses_trays
from dashboard.components.question import Question, asked
from dashboard.state import Filters


def show() -> None:
    """The page."""
    frame.within(_page)


def _page(which: data.Shown) -> None:
    asked_now = asked(
        which,
        Question(
            choose=filters.choose_losses,
            title=lambda _: words_losses.TITLE,
            answer=_answer,
            lines=lambda both: (both[1].words.sentence,),
            points=lambda both: both[1].words.points,
            too_thin=words_losses.TOO_THIN,
        ),
    )
    if asked_now is None:
        return
    _, chosen, (found, answer) = asked_now
    if len(found.answers) > 1:
        filters.choose_bird([one.species for one in found.answers])
    _answered(which, chosen, found, answer)


def _answer(which: data.Shown, chosen: Filters) -> tuple[Causes, CausesAnswer]:
    found = losses.worked_out(which, chosen)
    return found, losses.answer_of(found, chosen.bird)


def _answered(which: data.Shown, chosen: Filters, found: Causes, answer: CausesAnswer) -> None:
    look = frame.look()
    losses.steps(answer, look)
    losses.shares(answer, look)
    losses_map.stripes(answer)
    losses.findings(answer)
    losses.apart(answer)
    losses.clears(answer, found.clears.of(answer.species))
    losses.numbers(answer)
    losses.made(answer, found.without)
    losses_trays.asked(which, chosen, answer)
