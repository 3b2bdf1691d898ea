"""One batch as plain values: the JSON form `penwise.batch/1`."""

from __future__ import annotations

from typing import Any

from analytics.reports.month_json import rate_values
from analytics.studies.batch_records import (
    BatchAnswer,
    BatchCandidate,
    BatchHours,
    BatchPen,
    BatchSign,
    BatchSpecies,
    EggShare,
)
from analytics.values import Interval

SCHEMA = "penwise.batch/1"


def batch_values(answer: BatchAnswer) -> dict[str, Any]:
    """Everything in the record, shares unrounded in 0..1; what is not known is None with its `why`."""
    head, words = answer.head, answer.words
    return {
        "batch": head.batch,
        "state": answer.state,
        "as_of": answer.as_of,
        "incubator": head.incubator,
        "hatcher": head.hatcher,
        "set_on": head.set_on,
        "transfer_on": head.transfer_on,
        "pulled_on": head.pulled_on,
        "sentences": words.sentences,
        "warnings": words.warnings,
        "species": [_species(one) for one in answer.species],
        "hours": _hours(answer.hours),
        "due": answer.due,
        "signs": [_sign(one) for one in answer.signs],
        "look_now": answer.look_now,
        "record_next": answer.record_next,
        "cannot_tell": words.cannot_tell,
        "others": answer.others,
        "cautions": words.cautions,
        "made": words.made,
    }


def _species(one: BatchSpecies) -> dict[str, Any]:
    return {
        "species": one.species,
        "eggs_set": one.eggs_set,
        "eggs": one.eggs,
        "hatch_of_set": _share(one.hatch),
        "without_development_of_set": _share(one.without),
        "counts": [
            {"fate": fate.fate, "name": fate.name, "base": "of set", **(_share(fate.share) or {})}
            for fate in one.fates
        ],
        "rates": {measure: rate_values(rate) for measure, rate in one.rates.items()},
        "published": one.published,
        "published_note": one.published_note,
        "storage_days": dict(zip(("low", "mean", "high"), one.storage, strict=True)) if one.storage else None,
        "pens": [_pen(pen) for pen in one.pens],
    }


def _pen(pen: BatchPen) -> dict[str, Any]:
    return {
        "pen": pen.pen,
        "eggs_set": pen.eggs_set,
        "hatch_of_set": _share(pen.hatch),
        "without_development_of_set": _share(pen.without),
    }


def _share(share: EggShare | None) -> dict[str, Any] | None:
    if share is None:
        return None
    return {
        "count": share.count,
        "eggs": share.eggs,
        "rate": share.share,
        "low": share.interval.low,
        "high": share.interval.high,
        "left_open": share.left_open,
        "method": share.interval.method,
    }


def _hours(hours: BatchHours) -> dict[str, Any]:
    window, offset = hours.window, hours.offset
    return {
        "day_0": "the hour of setting",
        "expected": hours.expected,
        "first": window.first if window else None,
        "first_between": window.first_between if window else None,
        "middle": window.median if window else None,
        **_ends("middle_", window.median_interval if window else None),
        "last": window.last if window else None,
        "last_between": window.last_between if window else None,
        "chicks": window.chicks if window else None,
        "pulled": hours.pulled,
        "from_published": offset.hours if offset else None,
        **_ends("from_published_", offset.interval if offset else None),
        "stands": hours.stands,
        "why": hours.why,
        "sentences": hours.sentences,
    }


def _ends(name: str, interval: Interval | None) -> dict[str, float | None]:
    return {
        f"{name}low": interval.low if interval else None,
        f"{name}high": interval.high if interval else None,
    }


def _sign(sign: BatchSign) -> dict[str, Any]:
    share = sign.share
    return {
        "species": sign.species,
        "sign": sign.sign,
        "name": sign.name,
        "seen": share.count if share else None,
        "eggs": share.eggs if share else None,
        "rate": share.share if share else None,
        **_ends("", share.interval if share else None),
        "sentence": sign.sentence,
        "candidates": [_candidate(one) for one in sign.candidates],
    }


def _candidate(one: BatchCandidate) -> dict[str, Any]:
    return {
        "cause": one.cause,
        "group": one.group,
        "support": one.support,
        "for": one.for_,
        "against": one.against,
        "next_check": one.next_check,
        "source": one.source,
        "note": one.note,
        "missing": one.missing,
    }
