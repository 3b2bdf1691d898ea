"""What do opened eggs and hatches show, and what may it come from: with what speaks for it and against it.

A sign stands at a machine, a pen or a batch. Its candidates are ordered by `analytics/incubation/signs.py`;
the ledger of losses of the same period goes before it. Whether a machine hatches early or late is told by
`analytics/studies/incubators.py` alone; here only a batch is early or late.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import numpy as np

from analytics.errors import DataTooThin
from analytics.incubation.signs import MOST_CANDIDATES, candidates
from analytics.incubation.signs_causes import OWN
from analytics.incubation.signs_farm import (
    ASSUMED,
    FED,
    MARKS,
    Farm,
    beside_others,
    facts_of,
    rests_on_one_batch,
    usual_of,
)
from analytics.incubation.signs_hours import EARLY_OR_LATE, HOUR_SIGNS, WORD_OF, hour_facts
from analytics.incubation.signs_records import Facts, Placed, Share
from analytics.incubation.signs_shares import is_seen
from analytics.options import Selection
from analytics.store.counts import counting
from analytics.store.sign_records import SignRecords, sign_records
from analytics.studies.causes import causes
from analytics.studies.causes_records import Causes
from analytics.studies.cautions import cautions_for
from analytics.studies.hygiene import hygiene_of
from analytics.studies.shells import shells_of
from analytics.studies.signs_data import LADDER_SIGNS, SignData, sign_data
from analytics.studies.signs_ledger import ledger_says
from analytics.studies.signs_records import Sign, SignsAnswer, SignShare
from analytics.studies.signs_words import (
    RULE,
    SAID,
    candidate_words,
    hours_sentence,
    name_of,
    not_recorded_words,
    sign_sentence,
    who_words,
)
from analytics.values import Period

MOST_SIGNS = 12
HOURS_AT: dict[Placed, tuple[str, ...]] = {
    Placed.INCUBATOR: tuple(sign for sign in HOUR_SIGNS if sign not in EARLY_OR_LATE),
    Placed.PEN: (),
    Placed.BATCH: HOUR_SIGNS,
}
"""Signs of the clock that are asked of each kind of place."""
ABOVE_OWN, ABOVE_PUBLISHED, ONE_BATCH, LEDGER = "above_own", "above_published", "one_batch", "ledger"


@dataclass(frozen=True, slots=True)
class _Seen:
    """A sign before it is put into words."""

    species: str
    facts: Facts
    standing: str

    @property
    def excess(self) -> float:
        """Eggs that show it beyond what is usual."""
        usual = self.facts.comparisons.usual
        return self.facts.own.seen - (usual.rate if usual else 0.5) * self.facts.own.eggs


def signs(store: Path, selection: Selection, losses: Causes | None = None) -> tuple[Sign, ...]:
    """The signs that stand out, the most telling first; as `signs_answer`."""
    return signs_answer(store, selection, losses).signs


def signs_answer(
    store: Path, selection: Selection, losses: Causes | None = None, most: int = MOST_SIGNS
) -> SignsAnswer:
    """Signs of machines, pens and batches, with their candidate causes.

    Args:
        store: the store's file.
        selection: filters; places with a tray of the selection are looked at, held against all of the period.
        losses: the ledger of the same period, or None: it is asked then, which takes some seconds.
        most: signs shown.

    Raises:
        DataTooThin: no closed batch in the selection.
        as `counting`.
    """
    book = losses if losses is not None else _ledger(store, selection.period, selection.species)
    records = _records(store, selection)
    data = tuple(sign_data(one) for one in records)
    found: list[_Seen] = []
    for one in data:
        found += _of_species(one, book, len(data))
    answer = _answer(data, _worth_showing(found), most)
    return replace(
        answer,
        shells=tuple(shells_of(one, told) for one, told in zip(records, data, strict=True)),
        cleaning=tuple(hygiene_of(one) for one in data),
    )


def _ledger(store: Path, period: Period, species: tuple[str, ...]) -> Causes | None:
    try:
        return causes(store, Selection(period, species))
    except DataTooThin:
        return None


def _records(store: Path, selection: Selection) -> tuple[SignRecords, ...]:
    with counting(store, selection) as connection:
        found = sign_records(connection, selection.period)
    if not found:
        raise DataTooThin(
            "No closed batch of this selection has a tray whose eggs are accounted for",
            "Signs are read from hatches",
            "Widen the days, pens or machines asked for",
        )
    return found


def _of_species(data: SignData, book: Causes | None, species: int) -> Iterator[_Seen]:
    """Signs of one of so many species: the level is raised so that it holds for the farm."""
    for placed in Placed:
        asked = [
            (sign, level)
            for sign in (*data.farm.signs, *HOURS_AT[placed])
            for level in _levels(data, sign, placed)
        ]
        places = len(Placed) * len(asked) * species
        raised = {sign: data.farm.raised(sign) for sign in data.farm.signs} if placed is Placed.BATCH else {}
        for sign, level in asked:
            if sign in raised and level not in raised[sign]:
                continue
            if sign not in HOUR_SIGNS:
                seen = _seen(data, sign, placed, level, places, book)
                if seen:
                    yield seen
        for sign, level in asked:
            if sign in HOUR_SIGNS:
                facts = hour_facts(data.farm, sign, placed, level, places, data.counts)
                if facts:
                    yield _Seen(data.species, facts, _standing(facts, ABOVE_OWN))


def _levels(data: SignData, sign: str, placed: Placed) -> list[str]:
    levels: list[str] = np.unique(data.farm.labels(placed, sign)[data.wanted]).tolist()
    return levels


def _seen(
    data: SignData, sign: str, placed: Placed, level: str, places: int, book: Causes | None
) -> _Seen | None:
    farm = data.farm
    says = ledger_says(book, data, sign, placed, level)
    of_ledger = sign in LADDER_SIGNS and any(one.is_place for one in says)
    if placed is Placed.BATCH:
        if not of_ledger and not _may_stand(farm, sign, level, places):
            return None
        farm = beside_others(farm, sign, level)
    own = farm.share(sign, farm.labels(placed, sign) == level)
    usual = usual_of(farm, sign, placed, level)
    if own is None:
        return None
    standing = is_seen(own, usual, MARKS.get(sign), places)
    if standing and placed is not Placed.BATCH and rests_on_one_batch(farm, sign, placed, level):
        standing = ""
    told = of_ledger and _is_above(own, usual)
    if not standing and not told:
        return None
    whole = facts_of(farm, sign, placed, level, places, says)
    assert whole is not None
    facts = _on_feed(farm, whole) if told else whole
    return _Seen(data.species, facts, _standing(facts, standing or LEDGER))


def _may_stand(farm: Farm, sign: str, batch: str, places: int) -> bool:
    """Whether a batch stands out at least with the likeness that is assumed: what is found is never less."""
    least = replace(farm, alike={**farm.alike, sign: ASSUMED})
    own = least.share(sign, least.batch == batch)
    return own is not None and bool(
        is_seen(own, usual_of(least, sign, Placed.BATCH, batch), MARKS.get(sign), places)
    )


def _on_feed(farm: Farm, whole: Facts) -> Facts:
    """Where the ledger names a feed: the pen's trays on it beside other pens' without; shells since then."""
    feed = next((one.level for one in whole.ledger if one.is_place and one.factor == "diet"), "")
    if not feed:
        return whole
    fed, own = farm.feeds[feed] > FED, farm.pen == whole.level
    kept = np.where(own, fed, ~fed)
    since = np.datetime64(int(farm.set_day[own & fed].min()), "D").astype(date).isoformat()
    others_fed = set(farm.pen[fed].tolist()) - {whole.level}
    part = farm.kept(kept, since)
    part = replace(part, shells={pen: one for pen, one in part.shells.items() if pen not in others_fed})
    facts = facts_of(part, whole.sign, whole.placed, whole.level, whole.places, whole.ledger)
    if facts is None or facts.comparisons.usual is None:
        return whole
    within = replace(facts.comparisons, fed=whole.comparisons.fed, feed=whole.comparisons.feed)
    return replace(facts, comparisons=within)


def _is_above(own: Share, usual: Share | None) -> bool:
    return usual is None or own.rate > usual.rate


def _standing(facts: Facts, standing: str) -> str:
    """One batch alone is no finding, however far above the others."""
    return ONE_BATCH if facts.placed is Placed.BATCH or facts.own.batches < 2 else standing


def _worth_showing(found: Sequence[_Seen]) -> list[_Seen]:
    """A batch's sign that its machine shows as well is not shown twice."""
    at_machines = {(one.species, one.facts.sign) for one in found if one.facts.placed is Placed.INCUBATOR}
    return [
        one
        for one in found
        if one.facts.placed is not Placed.BATCH or (one.species, one.facts.sign) not in at_machines
    ]


def _answer(data: Sequence[SignData], found: Sequence[_Seen], most: int) -> SignsAnswer:
    order = sorted(found, key=lambda one: (one.standing == ONE_BATCH, -one.excess))
    shown = tuple(_sign(one) for one in order[:most])
    looked = [sign for sign in SAID if any(_is_told(one, sign) for one in data)]
    return SignsAnswer(
        signs=shown,
        more=len(order) - len(shown),
        looked_at=tuple(name_of(sign) for sign in looked),
        not_recorded=not_recorded_words([sign for sign in SAID if sign not in looked]),
        rule=RULE,
        cautions=cautions_for({one.sign for one in shown}),
    )


def _is_told(data: SignData, sign: str) -> bool:
    if sign in HOUR_SIGNS:
        return bool(data.farm.notes.get(WORD_OF[sign]))
    return sign in data.farm.signs and bool(np.isfinite(data.farm.signs[sign][1]).any())


def _sign(seen: _Seen) -> Sign:
    facts = seen.facts
    ordered = candidates(facts)
    own = _share(facts.own, facts.sign, facts.level)
    usual = facts.comparisons.usual
    others = _share(usual, facts.sign, who_words(facts.placed)) if usual else None
    return Sign(
        species=seen.species,
        placed=str(facts.placed),
        level=facts.level,
        sign=facts.sign,
        name=name_of(facts.sign),
        share=own,
        others=others,
        mark=facts.mark,
        sentence=_sentence(facts, own, others),
        candidates=tuple(candidate_words(one, facts.placed) for one in ordered[:MOST_CANDIDATES]),
        left=max(0, len(ordered) - MOST_CANDIDATES),
        standing=seen.standing,
    )


def _sentence(facts: Facts, own: SignShare, others: SignShare | None) -> str:
    if facts.sign in HOUR_SIGNS:
        hours = facts.conditions[f"{OWN}{WORD_OF[facts.sign]}"]
        return hours_sentence(facts.level, facts.sign, own, facts.placed, hours)
    return sign_sentence(facts.level, facts.sign, own, others, facts.mark)


def _share(share: Share, sign: str, who: str) -> SignShare:
    return SignShare(share.seen, share.eggs, SAID[sign][1], share.low, share.high, share.batches, who)
