"""Which eggs go into which machine and hatcher next, and which are kept for long, so that records tell."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.planning.split import Lot, SplitPlan, split_plan, with_stored
from analytics.planning.storage_lots import NextTray, StorageLots, StorageTold, storage_lots
from analytics.planning.two_pens import TwoPens, precision
from analytics.studies.plan_ground import Ground, Known, camps_of, ground_of, known_of
from analytics.studies.plan_records import NO_STORAGE, Narrowing, SplitAnswer, SplitAsked
from analytics.studies.plan_split_words import split_notes, split_sentence

EACH = (12, 9, 6)
"""Eggs of a pen in a foreign machine, and as many left at home: the first that joins all (our own choice)."""
_TWO_SIDED = 1.96


def plan_split(store: Path, asked: SplitAsked, selection: Selection) -> SplitAnswer:
    """Who goes where at the next set.

    Args:
        store: the store's file.
        asked: eggs, room, days of storage and seed.
        selection: which records count as having met.

    Raises:
        WrongUsage: an unknown pen or machine, less room than eggs, or days that are no two lots.
        DataTooThin: no pen has eggs, or there is no machine.
        StoreError and its kinds: as `reading`.
    """
    if not 0 <= asked.fresh_days < asked.stored_days:
        raise WrongUsage(
            f"Lots of {asked.fresh_days:g} and {asked.stored_days:g} days",
            "The lot kept for long is older than the fresh one",
            "Give more days to it",
        )
    known = known_of(store, selection)
    ground = ground_of(asked, known)
    each, plan = _plan(ground, asked)
    storage = _storage(known, plan, asked)
    plan = with_stored(plan, storage.pens, each)
    answer = SplitAnswer(
        asked=asked,
        each=each,
        plan=plan,
        camps=camps_of(ground.waiting, ground.setters, 0),
        within=None,
        species=known.species,
        sentence="",
        notes=(),
        hatcher_camps=camps_of(ground.waiting, ground.hatchers, 1),
        storage=storage,
        narrowing=tuple(_narrowing(known, ground, plan, asked)),
    )
    return answer.told(split_sentence(answer), tuple(split_notes(answer, ground.setters, ground.hatchers)))


def _plan(ground: Ground, asked: SplitAsked) -> tuple[int, SplitPlan]:
    """With the most eggs each that joins all; with the fewest where none does."""
    tried = (asked.each,) if asked.each else EACH
    for each in tried:
        plan = split_plan(ground.waiting, ground.setters, each, asked.seed, ground.hatchers, ground.ways)
        if plan.all_joined:
            break
    return each, plan


def _storage(known: Known, plan: SplitPlan, asked: SplitAsked) -> StorageLots:
    """Whose eggs are set as two lots; those of pens that are not split between machines first."""
    trays = known.trays
    told = np.isfinite(trays.storage_days)
    if not asked.storage or not told.any():
        return NO_STORAGE
    beside = {"pen": trays.pen, "incubator": trays.setter, "month": trays.month.astype(str)}
    if known.has_hatchers:
        beside["hatcher"] = trays.hatcher
    records = StorageTold(trays.storage_days[told], {name: own[told] for name, own in beside.items()})
    split = {lot.pen for lot in plan.lots if lot.moved}
    lots = sorted(plan.lots, key=lambda lot: (lot.pen in split, -lot.eggs, lot.pen))
    usual = {lot.pen: records.days[records.beside["pen"] == lot.pen] for lot in lots}
    return storage_lots(
        records,
        [
            NextTray(
                pen=lot.pen,
                days=float(np.median(usual[lot.pen] if len(usual[lot.pen]) else records.days)),
                beside={
                    "pen": lot.pen,
                    "incubator": lot.machine,
                    "hatcher": lot.hatcher or lot.machine,
                },
                can_split=not lot.moved and lot.eggs >= 2 * EACH[-1],
            )
            for lot in lots
        ],
        (asked.fresh_days, asked.stored_days),
        asked.sets,
    )


def _narrowing(known: Known, ground: Ground, plan: SplitPlan, asked: SplitAsked) -> Iterator[Narrowing]:
    """How well each join is known after the sets asked about; nothing tells it before.

    A pen's eggs in two machines lie in two batches, so what a batch does is in it; its two lots lie in one.
    """
    if not known.trays.eggs.sum():
        return
    homes = {one.pen: one for one in ground.waiting}
    own_island = {
        "setter": {one.machine: one.island for one in ground.setters},
        "hatcher": {one.machine: one.island for one in ground.hatchers},
    }
    for lot in plan.lots:
        home = homes[lot.pen]
        for kind, here, usual, island in (
            ("setter", lot.machine, home.home, home.island),
            ("hatcher", lot.hatcher, home.hatcher, home.hatcher_island),
        ):
            if here and here != usual and own_island[kind][here] != island:
                left = sum(one.eggs for one in plan.lots if one.pen == lot.pen and _at(one, kind) == usual)
                if left:
                    trays = TwoPens.of(
                        [lot.eggs, left] * asked.sets, [0, 1] * asked.sets, np.arange(2 * asked.sets)
                    )
                    yield _known_then(known, trays, kind, (here, usual), (lot.pen,), asked.sets)
    yield from _storage_narrowing(known, plan, asked)


def _at(lot: Lot, kind: str) -> str:
    return lot.machine if kind == "setter" else lot.hatcher


def _storage_narrowing(known: Known, plan: SplitPlan, asked: SplitAsked) -> Iterator[Narrowing]:
    lots = [lot for lot in plan.lots if lot.stored is not None]
    if not lots:
        return
    batch = {way: at for at, way in enumerate(dict.fromkeys(lot.way for lot in lots))}
    trays = TwoPens.of(
        [lot.eggs for lot in lots] * asked.sets,
        [int(bool(lot.stored)) for lot in lots] * asked.sets,
        [batch[lot.way] + at * len(batch) for at in range(asked.sets) for lot in lots],
    )
    days = (f"{asked.stored_days:g}", f"{asked.fresh_days:g}")
    pens = tuple(dict.fromkeys(lot.pen for lot in lots))
    yield _known_then(known, trays, "storage", days, pens, asked.sets)


def _known_then(
    known: Known, trays: TwoPens, kind: str, between: tuple[str, str], pens: tuple[str, ...], sets: int
) -> Narrowing:
    rate = float(known.trays.passed.sum() / known.trays.eggs.sum())
    error = precision(trays, (rate, rate), known.clustering).error
    return Narrowing(kind, between, pens, sets, _TWO_SIDED * error)
