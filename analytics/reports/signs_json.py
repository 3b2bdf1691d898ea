"""Signs as plain values: the list `signs` of `penwise.incubators/1` and of `penwise.batch/1`."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from analytics.reports.signs_hygiene import hygiene_values
from analytics.reports.signs_shells import shells_values
from analytics.studies.signs_records import Sign, SignCandidate, SignsAnswer, SignShare


def signs_values(found: Sequence[Sign]) -> list[dict[str, Any]]:
    """Each sign with its candidates; shares 0..1, unrounded."""
    return [_sign(one) for one in found]


def signs_about(answer: SignsAnswer) -> dict[str, Any]:
    """What stands beside the list: how it was made, and what is not recorded."""
    return {
        "more": answer.more,
        "looked_at": answer.looked_at,
        "not_recorded": answer.not_recorded,
        "rule": answer.rule,
        "cautions": answer.cautions,
        "shells": shells_values(answer.shells),
        "cleaning": hygiene_values(answer.cleaning),
    }


def _sign(one: Sign) -> dict[str, Any]:
    return {
        "species": one.species,
        **{kind: one.level if one.placed == kind else None for kind in ("batch", "incubator", "pen")},
        "sign": one.sign,
        "name": one.name,
        "seen": one.share.seen,
        "eggs": one.share.eggs,
        "rate": one.share.rate,
        "base": one.share.base,
        "low": one.share.low,
        "high": one.share.high,
        "batches": one.share.batches,
        "others": _others(one.others) if one.others else None,
        "mark": one.mark,
        "standing": one.standing,
        "sentence": one.sentence,
        "candidates": [_candidate(each) for each in one.candidates],
        "left": one.left,
    }


def _others(one: SignShare) -> dict[str, Any]:
    return {
        "who": one.who,
        "seen": one.seen,
        "eggs": one.eggs,
        "rate": one.rate,
        "low": one.low,
        "high": one.high,
        "batches": one.batches,
    }


def _candidate(one: SignCandidate) -> dict[str, Any]:
    return {
        "cause": one.cause,
        "group": one.group,
        "for": one.for_,
        "against": one.against,
        "for_group": one.group_for,
        "against_group": one.group_against,
        "next_check": one.next_check,
        "source": one.source,
        "source_ids": one.source_ids,
        "strength": one.strength,
        "note": one.note,
        "not_recorded": one.missing,
    }
