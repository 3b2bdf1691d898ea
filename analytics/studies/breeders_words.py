"""Which breeders to keep, in words: the answer, a reason for each, what cannot be told, how it was made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from analytics.breeders.ranking import KNOWN, SURE, CostRule, Standing, eggs_to_know
from analytics.studies.breeders_records import BreederRow
from analytics.studies.causes_data import LossData
from analytics.studies.causes_records import Scope
from analytics.studies.wording import counted, day_range, listed, minus, percent

if TYPE_CHECKING:
    from collections.abc import Iterable

ADVICE = {
    "replace": "replace",
    "watch": "watch",
    "keep": "keep",
    "too_few_eggs": "too few eggs to say",
}
LOST_IN = {
    "fertile": "infertile or clear eggs",
    "early": "early deaths",
    "mid": "deaths in the middle",
    "late": "late deaths",
    "shell": "deaths in the shell",
    "hatch": "eggs that did not hatch",
}
MOSTLY = 0.6
"""Share of a loss from which a step is said to hold most of it."""


def sentence_words(rows: Sequence[BreederRow], by: str, scope: Scope, beside: str) -> str:
    """The answer in a sentence or two."""
    days = f"Hatches of {day_range(scope.first_day, scope.last_day)}: "
    told = [row.standing for row in rows if row.standing.advice == "replace"]
    if told:
        worst = told[0]
        also = f" Likewise {listed([one.name for one in told[1:]])}." if told[1:] else ""
        return (
            f"{days}replacing {worst.name} most likely pays. Of 100 eggs set it gives "
            f"{_chicks(worst.chicks_lost_per_100)} fewer than {beside}.{also}"
        )
    watched = [row.standing.name for row in rows if row.standing.advice == "watch"]
    rest = f" Watch {listed(watched)}." if watched else ""
    thin = [row.standing.name for row in rows if row.standing.advice == "too_few_eggs"]
    few = f" Of {listed(thin)} there are too few eggs to say." if thin else ""
    return f"{days}these records advise to replace no {by}.{rest}{few}"


def why_words(one: Standing, lost: Mapping[str, float], home: Sequence[str], beside: str) -> str:
    """Why a breeder is advised as it is.

    Args:
        one: its numbers.
        lost: step -> chicks it lost there of 100 eggs.
        home: the machines within which alone it can be compared; () = all.
        beside: what it is held against, in words.
    """
    way = "fewer" if one.chicks_lost_per_100 >= 0 else "more"
    said = [
        f"Of 100 eggs set it gives {_chicks(abs(one.chicks_lost_per_100))} {way} than {beside}"
        f"{_mostly(one, lost)}.",
        f"Chance that replacing it pays: {chance_words(one.probability_pays)}.",
    ]
    if one.advice == "replace" and _worst(lost) == "fertile":
        said.append("Look at the male first: eggs that stay infertile point to him before the hens.")
    if one.advice == "too_few_eggs":
        said.append(_more(one))
    if home:
        said.append(f"Compared within {listed(list(home))} only: it met no pen in the other machines.")
    return " ".join(said)


def alone_words(home: Sequence[str]) -> str:
    """Why a pen that met no other one is neither kept nor replaced by these numbers."""
    where = f"in {listed(list(home))}" if home else "by themselves"
    return (
        f"Cannot tell: its eggs were set {where} without those of any other pen, so what is the pen's and "
        "what the machine's is not known, and its own rate here is the usual one. Plan lays out the next set "
        "that would tell."
    )


def chance_words(chance: float) -> str:
    """`12 %`, `over 99 %`: draws tell no chance exactly."""
    if chance > 0.99:
        return "over 99 %"
    return "under 1 %" if chance < 0.01 else f"{100 * chance:.0f} %"


def beside_words(target: float | None) -> str:
    """What a breeder is held against."""
    return "the middle one of the others" if target is None else f"your target of {percent(target)} % of set"


def _worst(lost: Mapping[str, float]) -> str:
    return max(lost, key=lambda name: lost[name])


def _mostly(one: Standing, lost: Mapping[str, float]) -> str:
    step = _worst(lost)
    if one.chicks_lost_per_100 < 1 or lost[step] < MOSTLY * one.chicks_lost_per_100:
        return ""
    return f", mostly by {LOST_IN[step]}"


def _more(one: Standing) -> str:
    more = eggs_to_know(one)
    known = f"Its {counted(round(one.eggs), 'egg')} tell {percent(one.reliability)} % of what sets it apart"
    if more > 20 * one.eggs:
        return f"{known}: the pens hardly differ, and more eggs would hardly tell."
    return f"{known}; about {counted(int(round(more, -1)) or 10, 'egg')} more would tell half."


def notes_words(
    data: LossData, by: str, homes: Mapping[str, tuple[str, ...]], doubts: Iterable[str]
) -> tuple[str, ...]:
    """What cannot be told, and what the reader must know."""
    notes = []
    if by == "pen":
        one = [parent for parent in ("sire", "dam") if data.parents_left.get(parent)]
        if one or not data.parents:
            notes.append(
                "Pen, sire and dams are one here: no bird served in two pens, so what is said of a pen is "
                "said of its birds together, of their keeping and their place."
            )
        else:
            notes.append(
                "Some birds served in more than one pen: what is said of a pen is without them. Ask by sire "
                "or dam too."
            )
    if homes:
        notes.append(
            f"The eggs of {listed(list(homes))} met those of the other pens in no machine, so pen and "
            "machine cannot be told apart there. Losses names the split that would tell; Plan lays it out."
        )
    return (*notes, *doubts)


def how_words(rule: CostRule, target: float | None, by: str) -> str:
    """How it was worked out, with the costs."""
    ahead = "as many eggs as it set in this time"
    if rule.eggs_ahead is not None:
        ahead = counted(round(rule.eggs_ahead), "egg")
    return (
        f"A {by}'s own rate is the typical one less what the ledger of losses counts to the {by} itself: its "
        "machine, storage, hens' age, feed and season are taken out, and few eggs lean to the typical one. "
        f"It is held against {beside_words(target)}. Replacing pays where {ahead} at that rate instead bring "
        f"more than the replacement costs: a chick is worth {rule.chick_value:g}, an egg {rule.egg_cost:g}, "
        f"a replacement {rule.replacement_cost:g} (our own start, no source: give your own). "
        f"Replace is said from a chance of {percent(SURE)} % on, keep below {percent(1 - SURE)} %; between "
        "them it is watch, or too few eggs where less than "
        f"{percent(KNOWN)} % of what sets it apart is known. Where no first day is asked for, "
        "the eggs of the latest six months count."
    )


def _chicks(number: float) -> str:
    return minus(f"{number:.0f}") + (" chick" if round(number) == 1 else " chicks")
