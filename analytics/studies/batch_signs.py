"""What one batch's eggs and hours show, each with what it may come from. Candidates, nothing more."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from analytics.reference.signs import CandidateCause, causes_of, sign_causes_table
from analytics.reference.sources import source_table
from analytics.store.batch import Recorded
from analytics.studies.batch_eggs import egg_share
from analytics.studies.batch_evidence import Evidence
from analytics.studies.batch_records import BatchCandidate, BatchHours, BatchSign, BatchSpecies, EggShare
from analytics.studies.wording import counted, percent, percent_range

_SIGNS = {
    "infertile": "infertile",
    "clear": "clear",
    "early": "dead_first_week",
    "mid": "dead_mid",
    "late": "dead_late",
    "shell": "pipped",
    "rotten": "rotten",
}
"""Fate of an egg -> the sign that it is."""
_OF_CHICKS = ("splay_leg",)
_EGG_SET = "egg set"
_OF_HOURS = {"early": "early_hatch", "late": "late_hatch"}


def batch_signs(
    species: Sequence[BatchSpecies], hours: BatchHours, recorded: Recorded
) -> tuple[BatchSign, ...]:
    """Every sign that was seen, those of most eggs first; the hours before them.

    Args:
        species: the batch's eggs.
        hours: when it hatched.
        recorded: what was noted of opened eggs; signs of single eggs only where one species was set.
    """
    found = [
        _of_fate(one, fate.fate, fate.share) for one in species for fate in one.fates if fate.fate in _SIGNS
    ]
    if len(species) == 1 and species[0].eggs:
        own = species[0]
        found += [_marked(own, sign, count) for sign, count in recorded.marks.items() if count]
    found.sort(key=lambda sign: -sign.share.count if sign.share else 0)
    of_hours = _OF_HOURS.get(hours.stands)
    first = [_sign(species[0].species, of_hours, None)] if of_hours and species else []
    return (*first, *found)


def _of_fate(species: BatchSpecies, fate: str, share: EggShare) -> BatchSign:
    return _sign(species.species, _SIGNS[fate], share)


def _marked(species: BatchSpecies, sign: str, count: int) -> BatchSign:
    """Signs of opened eggs are of the eggs set, those of chicks of the chicks that were counted."""
    chicks = species.hatch.count if species.hatch else 0
    of_chicks = sign in _OF_CHICKS and chicks >= count
    return _sign(
        species.species, sign, egg_share(count, chicks if of_chicks else species.eggs),
        "chick" if of_chicks else _EGG_SET,
    )  # fmt: skip


def _sign(species: str, sign: str, share: EggShare | None, of: str = _EGG_SET) -> BatchSign:
    name = next(row.name for row in sign_causes_table() if row.sign == sign)
    return BatchSign(
        species=species,
        sign=sign,
        name=name,
        share=share,
        candidates=tuple(_candidate(row) for row in causes_of(sign)),
        sentence=_sentence(name, share, of),
    )


def _sentence(name: str, share: EggShare | None, of: str) -> str:
    if share is None:
        return f"{name}: its hours are outside all published ones."
    among = f"{counted(share.eggs, 'egg')} set" if of == _EGG_SET else counted(share.eggs, of)
    said = f"{name}: {share.count} of {among}, {share_words(share)}."
    return f"{said} One alone is no pattern." if share.count == 1 else said


def share_words(share: EggShare) -> str:
    """`38 % (23–55 %)`; `14 % or more (9–29 %)` where other eggs may belong to it too."""
    more = " or more" if share.left_open else ""
    return f"{percent(share.share)} %{more} ({percent_range(share.interval)})"


def _candidate(row: CandidateCause) -> BatchCandidate:
    return BatchCandidate(
        cause=row.cause,
        group=row.group,
        support=row.strength.value,
        for_=(),
        against=(),
        next_check=row.next_check,
        source="; ".join(source_table()[name].citation() for name in row.source_ids),
        note="",
        missing=(),
    )


def with_evidence(signs: Sequence[BatchSign], evidence: Evidence) -> tuple[BatchSign, ...]:
    """The same signs with what the farm's records say of their candidates, where they say anything."""
    return tuple(
        replace(sign, candidates=evidence.get((sign.species, sign.sign), sign.candidates)) for sign in signs
    )
