"""The split in sentences: what is moved and kept, why, and how well it tells."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from analytics.planning.split import Lot, Room
from analytics.studies.plan_records import Camp, Narrowing, SplitAnswer
from analytics.studies.wording import counted, listed

_BESIDE = {"pen": "the pens", "incubator": "the machines", "hatcher": "the hatchers", "month": "the months"}


def split_sentence(answer: SplitAnswer) -> str:
    """What is moved and kept, and why."""
    plan, moved = answer.plan, moves(answer)
    apart = [
        (what, len(camps), [camp for camp in camps if camp.island in left])
        for what, camps, left in (
            ("machines", answer.camps, plan.left_apart),
            ("hatchers", answer.hatcher_camps, plan.hatchers_apart),
        )
        if len(camps) > 1
    ]
    if not apart:
        return f"{_nothing_apart(answer)} {storage_sentence(answer)}".strip()
    said = " ".join(
        f"{number} groups of pens and {what} never met, so what sets them apart may be either's."
        for what, number, _ in apart
    )
    if len(apart) > 1 and _pens(answer.camps) == _pens(answer.hatcher_camps):
        said = (
            f"{apart[0][1]} groups of pens and machines never met, in setting or in hatching, so what sets "
            "them apart may be either's."
        )
    left = [camp for _, _, camps in apart for camp in camps]
    if not moved:
        said = f"{said} No split helps now: {plan.why[:1].lower()}{plan.why[1:]}"
    elif left:
        rest = "; ".join(_camp_words(camp) for camp in left)
        said = f"{said} Put {listed(moved)}. Still apart: {rest}. {plan.why}"
    else:
        said = f"{said} Put {listed(moved)}: then they are told apart."
    return f"{said} {storage_sentence(answer)}".strip()


def _pens(camps: Sequence[Camp]) -> set[tuple[str, ...]]:
    return {camp.pens for camp in camps}


def moves(answer: SplitAnswer, pens: Sequence[str] | None = None) -> list[str]:
    """`12 eggs of Ash into North`, for every lot that leaves its usual way; of all pens, or of some."""
    homes = {lot.pen: lot for lot in answer.plan.lots if not lot.moved}
    return [
        _move(lot, homes.get(lot.pen))
        for lot in answer.plan.lots
        if lot.moved and (pens is None or lot.pen in pens)
    ]


def _move(lot: Lot, home: Lot | None) -> str:
    eggs = f"{counted(lot.eggs, 'egg')} of {lot.pen}"
    if not lot.hatcher or (home and home.hatcher == lot.hatcher):
        return f"{eggs} into {lot.machine}"
    if home and home.machine == lot.machine:
        return f"{eggs} into the hatcher {lot.hatcher} at the transfer"
    return f"{eggs} into {lot.machine} and at the transfer into {lot.hatcher}"


def storage_sentence(answer: SplitAnswer) -> str:
    """Whose eggs are kept for long beside fresh ones; "" where storage is told already."""
    found = answer.storage
    if not found.beside:
        return ""
    beside = listed([_BESIDE[name] for name in found.beside])
    said = f"Storage goes with {beside} in these records, so what it costs may be theirs."
    if not found.pens:
        return f"{said} {found.why}"
    return f"{said} {storage_lots_words(answer)}"


def storage_lots_words(answer: SplitAnswer) -> str:
    """`Keep 12 of Ash's eggs for about 7 days and set them beside ...`"""
    found, asked = answer.storage, answer.asked
    kept = [lot for lot in answer.plan.lots if lot.stored]
    what = listed([f"{lot.eggs} of {lot.pen}'s eggs" for lot in kept])
    after = f"after {counted(found.sets, 'set')} like this" if found.sets > 1 else "after this set"
    return (
        f"Keep {what} for about {asked.stored_days:g} days and set them beside "
        f"{'its' if len(kept) == 1 else 'their'} eggs of about {asked.fresh_days:g} days: {after} storage is "
        "told apart."
    )


def _nothing_apart(answer: SplitAnswer) -> str:
    camp, moved = answer.camps[0], answer.plan.moved
    if len(camp.machines) == 1 and not answer.hatcher_camps:
        return (
            f"{camp.machines[0]} is the only machine for these birds, so nothing can be moved: what it does "
            "to all eggs alike shows only beside a second one."
        )
    if not moved:
        return "Pens and machines have met already: nothing needs to be moved to tell them apart."
    return f"Pens and machines have met already. {counted(moved, 'egg')} move for room alone."


def _camp_words(camp: Camp) -> str:
    return listed([*camp.pens, *camp.machines])


def split_notes(answer: SplitAnswer, setters: Sequence[Room], hatchers: Sequence[Room]) -> Iterator[str]:
    """How well that tells, what to keep, and the room that was reckoned with."""
    if answer.narrowing:
        yield " ".join(narrowing_words(one) for one in answer.narrowing)
        yield "Nothing tells these differences so far. Four times the sets halve what is left open."
    if any(lot.numbers for lot in answer.plan.lots):
        yield (
            "Number the eggs of a split pen in the order laid and take those listed: they were drawn by lot, "
            "so that the best do not all go one way. Put the trays in the order shown."
        )
    if answer.storage.pens:
        yield (
            "Of eggs that are kept for long the first laid ones are taken. Write the true days of each lot "
            "into its row when you set it."
        )
    after = f"; as hatchers, then empty, {_room(hatchers)}" if hatchers else ""
    yield (
        f"Room for eggs reckoned with: {_room(setters)}{after}. Where that is not so, say it: "
        "--room NAME=EGGS."
    )
    yield f"Seed {answer.plan.seed}: the same seed gives the same plan."


def _room(rooms: Sequence[Room]) -> str:
    return listed([f"{one.machine} {'for all' if one.room is None else one.room}" for one in rooms])


def narrowing_words(one: Narrowing) -> str:
    """`After 2 sets like this North beside South is known, from eggs of Ash, give or take 32 chicks ...`"""
    sets, within = counted(one.sets, "set"), f"{100 * one.within:.0f}"
    what = f"{one.between[0]} beside {one.between[1]}"
    if one.kind == "storage":
        what = f"what {one.between[0]} days of storage cost beside {one.between[1]}"
    elif one.kind == "hatcher":
        what = f"the hatcher {what}"
    return (
        f"After {sets} like this {what} is known, from eggs of {listed(one.pens)}, give or take {within} "
        "chicks of 100 eggs."
    )
