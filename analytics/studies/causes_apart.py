"""What the records cannot tell apart, and the least that would: who must meet whom at the next sets."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from analytics.attribution.ledger import TAIL, Account, Inseparable, LossLedger
from analytics.attribution.shares import JOINED
from analytics.attribution.terms import Terms
from analytics.store.ladder import LadderTrays
from analytics.studies.causes_findings import names_words
from analytics.studies.causes_records import NotApart
from analytics.studies.plan_records import SplitAnswer
from analytics.studies.plan_split_words import moves, storage_lots_words
from analytics.studies.wording import counted, listed, month_name
from analytics.values import Month, label_order

STILL_LAYING = 60
"""A pen whose eggs were set within so many days of the last set is taken to lay still (our own choice)."""
_NEXT = {
    ("batch", "pen"): "Set eggs of two pens or more in the same batch, three times.",
    ("month", "incubator"): "Let two machines run in the same month, in three months.",
    ("month", "hatcher"): "Let two machines hatch in the same month, in three months.",
    ("month", "pen"): "Set eggs of two pens or more in the same month, in three months.",
    ("hen_age", "pen"): "Time tells: as the pens grow older side by side, age and pen come apart.",
    ("hen_age", "month"): "Keep young and old hens side by side: hatch new hens for one pen.",
    (
        "diet",
        "pen",
    ): "Give this diet to another pen as well, or take it from the one that has it for a month.",
    ("diet", "month"): "Change a diet in some of the pens only, and leave the others as they were.",
}
"""(what, beside) -> the least that would tell."""
_ANY_NEXT = "Change one of them while the other stays as it is."


Planned = Callable[[], SplitAnswer | str]
"""Asks for the plan of the next set; a sentence where there is none."""
Camp = tuple[tuple[str, ...], tuple[str, ...]]
"""Labels of two factors that met only each other."""


@dataclass(frozen=True, slots=True)
class _Total:
    """Chicks lost, with the 95 % interval."""

    eggs: float
    low: float
    high: float


def not_apart(
    ladder: LadderTrays, book: LossLedger, terms: Sequence[Terms], found: Account, plan: Planned
) -> tuple[NotApart, ...]:
    """Everything that is shared, each once, what costs most first.

    Args:
        ladder: the trays learnt from.
        book: the ledger.
        terms: what each step is explained by.
        found: the ledger draw by draw.
        plan: asks for the split of the next set, as `plan_split` lays it out.
    """
    made = [*_islands(ladder, book, found, plan), *_beside(terms, found, plan)]
    # what no counted tray belongs to lost nothing here, and is not asked about
    asked = [one for one in made if one.eggs is None or (one.low, one.high) != (0, 0)]
    return tuple(sorted(asked, key=lambda one: -abs(one.eggs or 0.0)))


def _islands(ladder: LadderTrays, book: LossLedger, found: Account, plan: Planned) -> list[NotApart]:
    """Pairs of factors that fall into camps; setter and hatcher are one where the camps are the same."""
    same: dict[tuple[str, tuple[Camp, ...]], list[Inseparable]] = {}
    for pair in book.inseparable:
        same.setdefault((pair.factors[0], pair.islands), []).append(pair)
    made = []
    for (_, islands), pairs in same.items():
        main = max(islands, key=lambda camp: _eggs(ladder, pairs[0].factors[0], camp[0]))
        for camp in islands:
            if camp != main:
                made.append(_of_camp(ladder, pairs, (main, camp), found, plan))
    return made


def _labels(ladder: LadderTrays, factor: str) -> np.ndarray:
    if factor == "month":
        return ladder.hatch_on.astype("datetime64[M]").astype(str)
    return ladder.labels["setter" if factor == "incubator" else factor]


def _eggs(ladder: LadderTrays, factor: str, levels: Sequence[str]) -> float:
    return float(ladder.eggs[np.isin(_labels(ladder, factor), levels)].sum())


def _of_camp(
    ladder: LadderTrays,
    pairs: Sequence[Inseparable],
    camps: tuple[Camp, Camp],
    found: Account,
    plan: Planned,
) -> NotApart:
    """A camp beside the main one, which is the first of the two."""
    camp = camps[1]
    factors = (pairs[0].factors[0], *(pair.factors[1] for pair in pairs))
    total = _total(found, {JOINED.join(pair.factors) for pair in pairs}, ", ".join((*camp[0], *camp[1])))
    first, second = factors[0], factors[1]
    return NotApart(
        factors=factors,
        levels=(*camp[0], *camp[1]),
        eggs=total.eggs if total else None,
        low=total.low if total else None,
        high=total.high if total else None,
        why=_why_camp(first, second, camp),
        next_step=_next_camp(ladder, first, second, camps, plan),
    )


def _total(found: Account, names: set[str], level: str) -> _Total | None:
    """Chicks of one level of shared factors ("" = all), all steps together; None where there is none."""
    columns = [
        values[:, levels.index(level)] if level else values.sum(axis=1)
        for (group, factor), (levels, by_step) in found.items.items()
        if group == "shared" and factor in names and level in ("", *levels)
        for values in by_step.values()
    ]
    if not columns:
        return None
    whole = np.sum(columns, axis=0)
    low, high = np.quantile(whole, [TAIL, 1 - TAIL])
    return _Total(float(whole.mean()), float(low), float(high))


def _why_camp(first: str, second: str, camp: Camp) -> str:
    one, two = _listed(first, camp[0]), _listed(second, camp[1])
    if second == "month":
        stood = "had eggs" if first == "pen" else "ran"
        said = (
            f"Only {one} {stood} in {two}, and in no other month: a loss there may be theirs or the season's."
        )
    else:
        said = (
            f"{one}'s eggs went only into {two}, and no others did: "
            "a loss there may be the pen's or the machine's."
        )
    return f"{said} Among {one} differences are told." if len(camp[0]) > 1 else said


def _listed(factor: str, levels: Sequence[str]) -> str:
    if factor == "month":
        names = [month_name(Month.parse(level)) for level in levels]
        return listed(names) if len(names) < 4 else f"{len(names)} months from {names[0]} to {names[-1]}"
    return listed(list(levels))


def _next_camp(ladder: LadderTrays, first: str, second: str, camps: tuple[Camp, Camp], plan: Planned) -> str:
    """Which eggs in which machine, or what in which month."""
    main, camp = camps
    if second == "month":
        mine, other = (_present(ladder, first, levels) for levels in (camp[0], main[0]))
        what = "Set eggs of" if first == "pen" else "Run"
        gone = "" if mine and other else " They can only be told apart if both are still there."
        one, two = (mine or camp[0])[0], (other or main[0])[0]
        return f"{what} {one} and {two} in the same month, in three months.{gone}"
    if not _present(ladder, "pen", camp[0]):
        return f"{listed(list(camp[0]))} had no eggs lately: without new ones this stays open."
    return _by_plan(plan(), camp)


def _by_plan(plan: SplitAnswer | str, camp: Camp) -> str:
    """What the plan of the next set moves for a camp, and how well that tells."""
    if isinstance(plan, str):
        return f"Plan cannot lay out a split yet. {plan}"
    pens, machines = set(camp[0]), set(camp[1])
    joins = [one for one in plan.narrowing if pens & set(one.pens) or machines & set(one.between)]
    joins = [one for one in joins if one.kind != "storage"]
    if not joins:
        if plan.plan.all_joined:
            return "Eggs that tell them apart are in the machines already: wait for their hatch."
        return f"Plan finds no split for the next set. {plan.plan.why}"
    moved = listed(moves(plan, [pen for one in joins for pen in one.pens]))
    within = max(one.within for one in joins)
    return (
        f"Put {moved} at the next {counted(plan.asked.sets, 'set')}. That tells pen from machine, give or "
        f"take {100 * within:.0f} chicks of 100 eggs; four times the sets halve it. Plan has the trays to "
        "print."
    )


def _present(ladder: LadderTrays, factor: str, levels: Sequence[str]) -> list[str]:
    """Those of the labels with eggs in the last sets, most eggs first."""
    labels = _labels(ladder, factor)
    late = ladder.set_on >= ladder.set_on.max() - np.timedelta64(STILL_LAYING, "D")
    eggs = {level: float(ladder.eggs[late & (labels == level)].sum()) for level in levels}
    return sorted(
        (level for level in levels if eggs[level] > 0), key=lambda level: (-eggs[level], label_order(level))
    )


def _beside(terms: Sequence[Terms], found: Account, plan: Planned) -> list[NotApart]:
    """Factors and numbers of trays that go with another one."""
    shared = {
        (each.factor.name, each.beside) for term in terms for each in term.groupings if each.group == "shared"
    }
    shared |= {
        (each.name, each.beside) for term in terms for each in term.covariates if each.group == "shared"
    }
    merged: dict[tuple[str, ...], set[str]] = {}
    for name, beside in shared:
        key = (name, *("incubator" if other == "hatcher" else other for other in beside))
        merged.setdefault(tuple(dict.fromkeys(key)), set()).add(JOINED.join((name, *beside)))
    return [_of_names(key, names, found, plan) for key, names in sorted(merged.items())]


def _of_names(factors: tuple[str, ...], names: set[str], found: Account, plan: Planned) -> NotApart:
    total = _total(found, names, "")
    what = "diet" if factors[0].startswith("diet ") else factors[0]
    said = names_words([one.removeprefix("diet ") for one in factors])
    return NotApart(
        factors=(what, *factors[1:]),
        levels=(factors[0].removeprefix("diet "),) if what == "diet" else (),
        eggs=total.eggs if total else None,
        low=total.low if total else None,
        high=total.high if total else None,
        why=f"{said[0].upper()}{said[1:]} go together here: what either costs belongs to both.",
        next_step=_next_storage(plan()) if what == "storage" else _NEXT.get((what, factors[1]), _ANY_NEXT),
    )


def _next_storage(plan: SplitAnswer | str) -> str:
    """Whose eggs the plan of the next set keeps for long."""
    if isinstance(plan, str):
        return f"Plan cannot lay out two lots yet. {plan}"
    if not plan.storage.beside:
        return "Eggs that tell them apart are in the machines already: wait for their hatch."
    if not plan.storage.pens:
        return f"Plan finds no two lots for the next set. {plan.storage.why}"
    return f"{storage_lots_words(plan)} Plan has the trays to print."
