"""Which breeders to keep, in words: the answer, a reason for each, what cannot be told, how it was made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from analytics.breeders.fathers import OPEN, UNDATED
from analytics.breeders.ranking import KNOWN, SURE, CostRule, Standing, eggs_to_know
from analytics.reference.sources import source_table
from analytics.studies.breeders_made import Made
from analytics.studies.breeders_records import BreederRow, LeftOut, OnePen, ParentsTold
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
    few_rows = [row for row in rows if row.standing.advice == "too_few_eggs"]
    thin = [row.standing.name for row in few_rows if not row.is_alone]
    few = f" Of {listed(thin)} there are too few eggs to say." if thin else ""
    alone = [row.standing.name for row in few_rows if row.is_alone]
    few += f" Of {listed(alone)} nothing can be told yet." if alone else ""
    return f"{days}these records advise to replace no {by}.{rest}{few}"


def advice_words(row: BreederRow) -> str:
    """The advice; of who met no other, that nothing can be told."""
    return "cannot tell yet" if row.is_alone else ADVICE[row.standing.advice]


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


def together_words(name: str, by: str, made: Made) -> str:
    """What a sire or dam is told from, or with."""
    pens = listed(made.pens)
    if not made.one_with:
        return f"It served in {pens} and is told from its {'pens' if len(made.pens) > 1 else 'pen'}."
    if any(one not in made.pens for one in made.one_with):
        mate = next(one for one in made.one_with if one not in made.pens)
        return f"It was with {mate} only: what is said is said of both."
    if len(made.pens) > 1:
        return f"It was the only {by} of {pens}: what these pens have in common is in it."
    if len(made.parts) > 1:
        return f"It stood in no pen but {pens}: it is told from the other {by}s there, and {pens} is in it."
    return f"Pen, sire and dams are one here: what is said is said of {pens} with all its birds."


def parents_told(data: LossData) -> ParentsTold:
    """Who could be told from their pens, and how many eggs have no certain sire."""
    known, period = data.parents, data.parents.period
    pens = np.unique(data.ladder.labels["pen"][data.ladder.wanted]).tolist()
    sires, dams = (known.told_apart(one) for one in ("sire", "dam"))
    return ParentsTold(
        one=tuple(one for pen in pens if (one := _one_pen(data, pen))),
        sires=sires,
        dams=dams,
        left_out=_left_out(data),
        open_days=period.days if period else 0,
        source_id=period.source_id if period else "",
    )


def _one_pen(data: LossData, pen: str) -> OnePen | None:
    """A pen with the birds that stood in no other one; None where a sire or dam is told from it."""
    camps = {parent: data.parents.camp_with(parent, pen) for parent in ("sire", "dam")}
    if any(camp and not camp.one_pen for camp in camps.values()):
        return None
    sires, dams = (camp.birds if camp else () for camp in camps.values())
    return OnePen(pen, sires, dams)


def _left_out(data: LossData) -> tuple[LeftOut, ...]:
    if "sire" not in data.parents.known:
        return ()
    ladder = data.ladder
    reasons = data.parents.left_out(ladder)
    blank = ladder.wanted & (data.parents.known["sire"] == "") & (data.parents.why == "")
    every = (
        ("after_change", *reasons[OPEN]),
        ("no_lay_days", *reasons[UNDATED]),
        ("not_written", int(blank.sum()), float(ladder.numbers["eggs_set"][blank].sum())),
    )
    return tuple(LeftOut(*one) for one in every if one[1])


def notes_words(
    data: LossData, by: str, homes: Mapping[str, tuple[str, ...]], doubts: Iterable[str]
) -> tuple[str, ...]:
    """What cannot be told, and what the reader must know."""
    told = parents_told(data)
    notes = [*_one_words(told), *_apart_words(told, by)]
    if by == "sire" or told.sires:
        notes += _left_out_words(told, data.counted().eggs)
    if homes and by == "pen":
        notes.append(
            f"The eggs of {listed(list(homes))} met those of the other pens in no machine, so pen and "
            "machine cannot be told apart there. Losses names the split that would tell; Plan lays it out."
        )
    return (*notes, *doubts)


def _one_words(told: ParentsTold) -> list[str]:
    """Pens that are one with their birds, by name where birds are written down."""
    if not told.one:
        return []
    named = [_pen_words(one) for one in told.one if one.sires or one.dams]
    some = told.sires or told.dams
    where = f"in {listed([_pen_words(one) for one in told.one])}" if some else "here"
    said = (
        f"Pen, sire and dams are one {where}: no tray names a bird of theirs that served in two pens, so "
        "what is said of such a pen is said of its birds together, of their keeping and their place."
    )
    if named and not some:
        said += f" By name: {listed(named)}."
    return [said]


def _pen_words(one: OnePen) -> str:
    """`Alder (sire A1)`."""
    birds = [
        f"{name if len(labels) == 1 else name + 's'} {listed(labels)}"
        for name, labels in (("sire", one.sires), ("dam", one.dams))
        if labels
    ]
    return f"{one.pen} ({'; '.join(birds)})" if birds else one.pen


def _apart_words(told: ParentsTold, by: str) -> list[str]:
    said = []
    for name, labels in (("sire", told.sires), ("dam", told.dams)):
        if labels:
            who = f"the {name}{'s' if len(labels) > 1 else ''} {listed(labels)}"
            ask = f" What is said of their pens is without them: ask by {name} too." if by == "pen" else ""
            said.append(f"Told from their pens: {who}.{ask}")
    return said


def _left_out_words(told: ParentsTold, eggs: float) -> list[str]:
    """Whose eggs count for no sire, and why."""
    count = {
        one.why: f"{counted(round(one.eggs), 'egg')} ({counted(one.trays, 'tray')})" for one in told.left_out
    }
    said = []
    if "after_change" in count:
        source = source_table()[told.source_id]
        who = f"{source.author}{f' {source.year}' if source.year else ''}"
        said.append(
            f"{count['after_change']} were laid in the days of a change of males or up to {told.open_days} "
            f"days after it, when the sire may be the old or the new one ({who})"
        )
    if "no_lay_days" in count:
        said.append(f"{count['no_lay_days']} have no day of lay, in pens whose males were changed")
    if "not_written" in count:
        said.append(f"of {count['not_written']} no sire is known")
    if not said:
        return []
    return [
        f"Left out of the sires, of {counted(round(eggs), 'egg')}: {'; '.join(said)}. These eggs count for "
        "their pens and machines."
    ]


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
