"""What a farm's records say for and against each thing that a batch's signs may come from.

The rules are those of `analytics/incubation/signs.py`. A batch is held against the year of batches up to its
own day, so that later ones change nothing, and a long history costs no more than a year.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from analytics.incubation.signs import candidates
from analytics.incubation.signs_farm import facts_of
from analytics.incubation.signs_hours import HOUR_SIGNS, hour_facts
from analytics.incubation.signs_records import Facts, Placed
from analytics.options import Selection
from analytics.store.counts import counting
from analytics.store.sign_records import sign_records
from analytics.studies.batch_records import BatchCandidate
from analytics.studies.signs_data import SignData, sign_data
from analytics.studies.signs_words import TOGETHER, candidate_words
from analytics.values import Period

Evidence = Mapping[tuple[str, str], tuple[BatchCandidate, ...]]
"""Species and sign -> its candidates, those that most speaks for first."""
YEAR = timedelta(days=365)
CLEAR, SILENT = "clear", "infertile"
"""Eggs without development stand in the records of signs together; what clear ones may come from is more."""


def batch_evidence(store: Path, batch: str, hatched_on: date, signs: Sequence[str]) -> Evidence:
    """The candidates of a batch's signs with what speaks for and against them.

    Args:
        store: the store's file.
        batch: label, as it is spelt in the store.
        hatched_on: its day of hatch.
        signs: words of the signs that were seen.

    Raises:
        as `counting`.
    """
    if not signs:
        return {}
    period = Period(hatched_on - YEAR, hatched_on)
    with counting(store, Selection(period)) as connection:
        found = [sign_data(one) for one in sign_records(connection, period)]
    return {
        (data.species, sign): tuple(_candidate(facts))
        for data in found
        for sign in signs
        for facts in (_facts(data, sign, batch),)
        if facts is not None
    }


def _facts(data: SignData, sign: str, batch: str) -> Facts | None:
    places = len(np.unique(data.farm.batch))
    if sign in HOUR_SIGNS:
        return hour_facts(data.farm, sign, Placed.BATCH, batch, places, data.counts)
    asked = SILENT if sign == CLEAR else sign
    if asked not in data.farm.signs:
        return None
    facts = facts_of(data.farm, asked, Placed.BATCH, batch, places)
    return replace(facts, sign=sign) if facts else None


def _together(group: str, texts: Sequence[str]) -> Iterator[str]:
    """What is said of all of a group's causes, so that it does not pass for one cause's own."""
    for text in texts:
        yield f"All {TOGETHER[group]}: {text}"


def _candidate(facts: Facts) -> Iterator[BatchCandidate]:
    for one in candidates(facts):
        words = candidate_words(one, Placed.BATCH)
        yield BatchCandidate(
            cause=words.cause,
            group=words.group,
            support=words.strength,
            for_=(*_together(words.group, words.group_for), *words.for_),
            against=(*_together(words.group, words.group_against), *words.against),
            next_check=words.next_check,
            source=words.source,
            note=words.note,
            missing=words.missing,
        )
