"""Whose loss it is, as plain values: the JSON form `penwise.causes/1`."""

from __future__ import annotations

from datetime import date
from typing import Any

from analytics.studies.causes_findings import factor_of, level_of
from analytics.studies.causes_records import CauseFinding, Causes, CausesAnswer, StripeMap
from analytics.values import Month

SCHEMA = "penwise.causes/1"


def causes_values(found: Causes) -> dict[str, Any]:
    """The species with most eggs at the top, the others under `others` in the same form; all unrounded."""
    first, *others = found.answers
    period = found.selection.period
    return {
        **_answer(first),
        "others": [_answer(one) for one in others],
        "without": list(found.without),
        "clears": list(found.clears.species),
        "selection": {
            "from": period.start,
            "to": period.end,
            "species": found.selection.species,
            "pens": found.selection.pens,
            "incubators": found.selection.incubators,
        },
    }


SMALL = (
    "species", "sentence", "points", "period", "eggs_set", "hatched", "target", "target_hatched", "shortfall",
    "groups", "findings",
)  # fmt: skip
"""Keys of an answer that a review holds."""
MOST_FINDINGS = 5


def small_values(found: Causes) -> dict[str, Any]:
    """Groups and strongest findings of each species, in the form of `causes_values`, without the rest."""
    answers = [{key: value for key, value in _answer(one).items() if key in SMALL} for one in found.answers]
    return {
        "species": [{**one, "findings": one["findings"][:MOST_FINDINGS]} for one in answers],
        "without": list(found.without),
    }


def _answer(answer: CausesAnswer) -> dict[str, Any]:
    period, counted = answer.selection.period, answer.counted
    return {
        "species": answer.species,
        "sentence": answer.words.sentence,
        "points": answer.words.points,
        "period": {"from": period.start or counted.first_day, "to": period.end or counted.last_day},
        "eggs_set": counted.eggs,
        "hatched": counted.hatched,
        "target": {"rate": answer.mark.rate, "whose": answer.mark.whose, "source": answer.mark.source},
        "target_hatched": answer.target_hatched,
        "shortfall": {"eggs": answer.shortfall, "low": answer.shortfall, "high": answer.shortfall},
        "causes": answer.causes,
        "groups": [
            {
                "group": line.group,
                "eggs": line.eggs,
                "low": line.low,
                "high": line.high,
                "probability_positive": line.probability_positive,
                "sentence": answer.words.groups[line.group],
            }
            for line in answer.groups
        ],
        "steps": list(answer.steps),
        "findings": [_finding(one) for one in answer.findings],
        "cannot_separate": list(answer.cannot_separate),
        "counted": counted,
        "fitted": answer.fitted,
        "words": {
            "clears": answer.words.clears,
            "fitted": answer.words.fitted,
            "left_out": answer.words.left_out,
            "doubts": answer.words.doubts,
            "caution": answer.words.caution,
        },
        "stripes": [_stripes(one) for one in answer.stripes],
    }


def _finding(found: CauseFinding) -> dict[str, Any]:
    item = found.item
    first, last = (item.level, item.level) if item.factor == "month" else (item.first, item.last)
    return {
        "group": item.group,
        "factor": factor_of(item),
        "level": level_of(item) or None,
        "step": item.step,
        "from": _day(first, end=False),
        "to": _day(last, end=True),
        "eggs": item.eggs,
        "low": item.low,
        "high": item.high,
        "p_value": item.p_value,
        "q_value": found.q_value,
        "strength": found.strength,
        "sentence": found.sentence,
        "check": found.check,
    }


def _day(month: str, *, end: bool) -> date | None:
    """First or last day of a month of hatch; None for always."""
    if not month:
        return None
    period = Month.parse(month).period()
    return period.end if end else period.start


def _stripes(found: StripeMap) -> dict[str, Any]:
    cells = [
        {
            "pen": cell.pen,
            "batch": cell.batch,
            "eggs": cell.eggs,
            "came": cell.came,
            "expected": cell.expected,
            "difference": cell.difference,
            "residual": cell.residual,
            "few": cell.few,
            "trays": cell.trays,
        }
        for cell in found.cells
    ]
    return {
        "step": found.step,
        "pens": found.pens,
        "batches": list(found.batches),
        "cells": cells,
        "expected_as": found.expected_as,
    }
