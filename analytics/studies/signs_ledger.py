"""What the ledger of losses says of the step and place of a sign."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from analytics.attribution.findings import HINT
from analytics.incubation.signs_causes import STEP_OF
from analytics.incubation.signs_farm import FED, Farm, conditions_of
from analytics.incubation.signs_records import LedgerSays, Placed
from analytics.studies.causes_findings import factor_of, level_of
from analytics.studies.causes_records import CauseFinding, Causes, CausesAnswer
from analytics.studies.signs_data import SignData

SHARED = "shared"


def ledger_says(
    book: Causes | None, data: SignData, sign: str, placed: Placed, level: str
) -> tuple[LedgerSays, ...]:
    """What the ledger finds clear or likely in the step of a sign, and what it cannot tell apart there.

    Args:
        book: the ledger of the period, or None.
        data: the species' records.
        sign: word of the sign.
        placed: what the place is.
        level: its label.
    """
    step = STEP_OF.get(sign, "")
    answers = book.answers if book else ()
    answer = next((one for one in answers if one.species == data.species), None)
    if answer is None or not step:
        return ()
    found = [
        _says(one, data, sign, placed, level)
        for one in answer.findings
        if one.strength != HINT and one.item.step == step
    ]
    return (*found, *_not_apart(answer, placed, level))


def _says(one: CauseFinding, data: SignData, sign: str, placed: Placed, level: str) -> LedgerSays:
    item, factor, named = one.item, factor_of(one.item), level_of(one.item)
    here = data.farm.labels(placed, sign) == level
    return LedgerSays(
        group=item.group,
        factor=factor,
        level=named,
        step=item.step,
        strength=one.strength,
        is_here=_is_here(factor, named, data.farm, here, placed, level),
        is_place=_is_place(factor, named, data.farm, here, placed, level),
        sentence=one.sentence,
    )


def _is_place(factor: str, named: str, farm: Farm, here: np.ndarray, placed: Placed, level: str) -> bool:
    if placed is Placed.PEN:
        return (factor == "pen" and named == level) or (factor == "diet" and _is_fed(farm, named, here))
    if placed is Placed.INCUBATOR:
        return factor in ("incubator", "hatcher") and named == level
    return factor == "batch" and named == level


def _is_here(factor: str, named: str, farm: Farm, here: np.ndarray, placed: Placed, level: str) -> bool:
    """Whether a finding has to do with a place: the place itself, or what its eggs share with it."""
    if factor == "pen":
        return named in farm.pen[here].tolist()
    if factor in ("incubator", "hatcher"):
        machines = farm.hatcher if factor == "hatcher" else farm.setter
        return placed is not Placed.PEN and named in machines[here].tolist()
    if factor == "diet":
        return _is_fed(farm, named, here)
    if factor in ("storage", "hen_age"):
        word = "storage_days" if factor == "storage" else "hen_weeks"
        known = conditions_of(farm, placed, level, here).get(word)
        return known is not None and (known.is_more or (factor == "hen_age" and known.is_less))
    return factor == "batch" and named in farm.batch[here].tolist()


def _is_fed(farm: Farm, named: str, here: np.ndarray) -> bool:
    share = farm.feeds.get(named)
    return share is not None and bool((share[here] > FED).any())


def _not_apart(answer: CausesAnswer, placed: Placed, level: str) -> Iterator[LedgerSays]:
    """Pen and machine that the records cannot tell apart, where the place is one of them."""
    kinds = {"pen", "incubator", "hatcher"}
    for one in answer.cannot_separate:
        if level in one.levels and placed is not Placed.BATCH and len(kinds & set(one.factors)) > 1:
            factor, named = " and ".join(one.factors), ", ".join(one.levels)
            yield LedgerSays(SHARED, factor, named, "", "", is_here=True, sentence=one.why)
