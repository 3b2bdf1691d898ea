"""Which breeders to keep, as plain values: the JSON form `penwise.breeders/1`."""

from __future__ import annotations

from typing import Any

from analytics.studies.breeders_records import BreederRow, Breeders, BreedersAnswer, ParentsTold

SCHEMA = "penwise.breeders/1"


def breeders_values(found: Breeders) -> dict[str, Any]:
    """The species with most eggs at the top, the others under `others` in the same form; all unrounded."""
    first, *others = found.answers
    return {
        "by": found.by,
        "target": found.target,
        "costs": found.rule,
        **_answer(first),
        "others": [_answer(one) for one in others],
        "without": list(found.without),
    }


def _answer(answer: BreedersAnswer) -> dict[str, Any]:
    return {
        "species": answer.species,
        "sentence": answer.sentence,
        "rows": [_row(row) for row in answer.rows],
        "typical": answer.typical,
        "counted": answer.counted,
        "notes": answer.notes,
        "how": answer.how,
        "parents": _parents(answer.parents),
    }


def _row(row: BreederRow) -> dict[str, Any]:
    one = row.standing
    return {
        "name": one.name,
        "eggs": one.eggs,
        "chicks": one.chicks,
        "rate": one.rate,
        "low": one.low,
        "high": one.high,
        "held_against": one.target,
        "probability_below_target": None if row.is_alone else one.probability_below_target,
        "chicks_lost_per_100": None if row.is_alone else one.chicks_lost_per_100,
        "lost_by_step": row.lost,
        "chicks_per_hen_month": row.chicks_per_hen_month,
        "inbreeding": row.inbreeding,
        "probability_pays": None if row.is_alone else one.probability_pays,
        "reliability": one.reliability,
        "eggs_to_know": row.eggs_to_know,
        "advice": one.advice,
        "why": row.why,
        "pens": list(row.pens),
        "one_with": list(row.one_with),
        "met_no_other": row.is_alone,
    }


def _parents(told: ParentsTold) -> dict[str, Any]:
    """Pens that are one with their birds, who is told from them, and eggs without a certain sire."""
    return {
        "one": [{"pen": one.pen, "sires": list(one.sires), "dams": list(one.dams)} for one in told.one],
        "told_apart": {"sires": list(told.sires), "dams": list(told.dams)},
        "sire_left_out": [{"why": one.why, "trays": one.trays, "eggs": one.eggs} for one in told.left_out],
        "fertile_period": {"days": told.open_days, "source": told.source_id or None},
    }
