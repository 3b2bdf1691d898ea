"""What the records cannot tell apart, and the least that would: who must meet whom at the next sets."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analytics.attribution.ledger import TAIL, Account, Inseparable, LossLedger
from analytics.attribution.shares import JOINED
from analytics.attribution.terms import Terms
from analytics.measures.clustering import TYPICAL_TRAY
from analytics.store.ladder import LadderTrays
from analytics.studies.causes_findings import names_words
from analytics.studies.causes_records import NotApart
from analytics.studies.wording import listed, month_name
from analytics.values import Month, label_order

EACH = 12
"""Eggs of each pen that change machines at a set (our own choice: half a tray)."""
SETS = 2
STILL_LAYING = 60
"""A pen whose eggs were set within so many days of the last set is taken to lay still (our own choice)."""
_NEXT = {
    ("batch", "pen"): "Set eggs of two pens or more in the same batch, three times.",
    ("month", "incubator"): "Let two machines run in the same month, in three months.",
    ("month", "hatcher"): "Let two machines hatch in the same month, in three months.",
    ("month", "pen"): "Set eggs of two pens or more in the same month, in three months.",
    ("storage", "pen"): "Of one pen, store half the eggs two days and half a week, and set them together.",
    ("storage", "incubator"): "Set long and freshly stored eggs in each machine, at the same set.",
    ("storage", "hatcher"): "Set long and freshly stored eggs in each machine, at the same set.",
    ("storage", "month"): "At one set, set eggs that were stored long beside fresh ones of the same pen.",
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


Camp = tuple[tuple[str, ...], tuple[str, ...]]
"""Labels of two factors that met only each other."""


@dataclass(frozen=True, slots=True)
class _Total:
    """Chicks lost, with the 95 % interval."""

    eggs: float
    low: float
    high: float


def not_apart(
    ladder: LadderTrays, book: LossLedger, terms: Sequence[Terms], found: Account
) -> tuple[NotApart, ...]:
    """Everything that is shared, each once, what costs most first.

    Args:
        ladder: the trays learnt from.
        book: the ledger.
        terms: what each step is explained by.
        found: the ledger draw by draw.
    """
    made = [*_islands(ladder, book, found), *_beside(terms, found)]
    # what no counted tray belongs to lost nothing here, and is not asked about
    asked = [one for one in made if one.eggs is None or (one.low, one.high) != (0, 0)]
    return tuple(sorted(asked, key=lambda one: -abs(one.eggs or 0.0)))


def _islands(ladder: LadderTrays, book: LossLedger, found: Account) -> list[NotApart]:
    """Pairs of factors that fall into camps; setter and hatcher are one where the camps are the same."""
    same: dict[tuple[str, tuple[Camp, ...]], list[Inseparable]] = {}
    for pair in book.inseparable:
        same.setdefault((pair.factors[0], pair.islands), []).append(pair)
    made = []
    for (_, islands), pairs in same.items():
        main = max(islands, key=lambda camp: _eggs(ladder, pairs[0].factors[0], camp[0]))
        for camp in islands:
            if camp != main:
                made.append(_of_camp(ladder, pairs, main, camp, found))
    return made


def _labels(ladder: LadderTrays, factor: str) -> np.ndarray:
    if factor == "month":
        return ladder.hatch_on.astype("datetime64[M]").astype(str)
    return ladder.labels["setter" if factor == "incubator" else factor]


def _eggs(ladder: LadderTrays, factor: str, levels: Sequence[str]) -> float:
    return float(ladder.eggs[np.isin(_labels(ladder, factor), levels)].sum())


def _of_camp(
    ladder: LadderTrays, pairs: Sequence[Inseparable], main: Camp, camp: Camp, found: Account
) -> NotApart:
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
        next_step=_next_camp(ladder, first, second, main, camp),
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


def _next_camp(ladder: LadderTrays, first: str, second: str, main: Camp, camp: Camp) -> str:
    """Which eggs in which machine, or what in which month."""
    if second == "month":
        mine, other = (_present(ladder, first, levels) for levels in (camp[0], main[0]))
        what = "Set eggs of" if first == "pen" else "Run"
        gone = "" if mine and other else " They can only be told apart if both are still there."
        one, two = (mine or camp[0])[0], (other or main[0])[0]
        return f"{what} {one} and {two} in the same month, in three months.{gone}"
    pens, others = (_present(ladder, "pen", levels) for levels in (camp[0], main[0]))
    if not pens:
        return f"{listed(list(camp[0]))} had no eggs lately: without new ones this stays open."
    machine, back = (_present(ladder, second, levels) or levels for levels in (camp[1], main[1]))
    said = f"Set {EACH} of {pens[0]}'s eggs in {back[0]}"
    if others:
        said += f" and as many of {others[0]}'s in {machine[0]}"
    ways = 2 if others else 1
    within, moved = _points(ladder, ways), EACH * SETS * ways
    return (
        f"{said} at the next {SETS} sets. How many of these {moved} eggs hatch then tells pen from machine, "
        f"give or take {within:.0f} chicks of 100 eggs. To know it to {within / 2:.0f} takes "
        f"{4 * moved} such eggs. This is one way: Plan looks for the fewest eggs that fit your machines, and "
        "may name others."
    )


def _points(ladder: LadderTrays, ways: int) -> float:
    """Half a 95 % interval of the share that hatches, of the eggs that change machines, in points."""
    rate = float(ladder.passed[:, -1].sum() / ladder.eggs.sum())
    alike = 1 + (EACH - 1) * TYPICAL_TRAY
    return 100 * 1.96 * math.sqrt(rate * (1 - rate) * alike / (EACH * SETS * ways))


def _present(ladder: LadderTrays, factor: str, levels: Sequence[str]) -> list[str]:
    """Those of the labels with eggs in the last sets, most eggs first."""
    labels = _labels(ladder, factor)
    late = ladder.set_on >= ladder.set_on.max() - np.timedelta64(STILL_LAYING, "D")
    eggs = {level: float(ladder.eggs[late & (labels == level)].sum()) for level in levels}
    return sorted(
        (level for level in levels if eggs[level] > 0), key=lambda level: (-eggs[level], label_order(level))
    )


def _beside(terms: Sequence[Terms], found: Account) -> list[NotApart]:
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
    return [_of_names(key, names, found) for key, names in sorted(merged.items())]


def _of_names(factors: tuple[str, ...], names: set[str], found: Account) -> NotApart:
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
        next_step=_NEXT.get((what, factors[1]), _ANY_NEXT),
    )
