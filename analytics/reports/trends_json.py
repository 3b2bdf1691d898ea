"""A trend as plain values: the JSON form `penwise.trends/1`."""

from __future__ import annotations

from typing import Any

from analytics.comparisons.slope_records import Slope
from analytics.reports.pens_json import values_of_test
from analytics.studies.trend_records import TrendAnswer

SCHEMA = "penwise.trends/1"


def trends_values(answer: TrendAnswer) -> dict[str, Any]:
    """Everything in the record, unrounded, rates in 0..1, slopes in shares and odds ratios per unit of x."""
    period, tests = answer.selection.period, answer.tests
    return {
        "measure": answer.measure,
        "by": answer.by,
        "base": answer.base,
        "sentence": answer.words.sentence,
        "notes": list(answer.words.notes),
        "why": answer.words.why,
        "first_day": answer.first_day,
        "points": list(answer.points),
        "tests": {
            "independent": values_of_test(tests.independent),
            "clustered": {
                "method": tests.method,
                "decides": tests.decides or None,
                **slope_values(tests.clustered),
                "ends": [slope_values(end) for end in tests.ends],
            },
            "bend": {**values_of_test(tests.bend), "dof2": tests.bend.dof2},
        },
        "within_pens": slope_values(answer.slopes.within_pens),
        "same_batch": slope_values(answer.slopes.same_batch),
        "between_pens": slope_values(answer.slopes.between_pens),
        "curve": list(answer.curve),
        "changes": list(answer.changes),
        "trays": answer.used.trays,
        "batches": answer.used.batches,
        "left_out": answer.used.left_out,
        "selection": {
            "from": period.start,
            "to": period.end,
            "species": answer.selection.species,
            "pens": answer.selection.pens,
            "incubators": answer.selection.incubators,
        },
    }


def slope_values(slope: Slope) -> dict[str, Any]:
    """A slope with its interval; None with its `why` where there is none."""
    return {
        "slope": slope.estimate,
        "low": slope.low,
        "high": slope.high,
        "dof": slope.dof,
        "p_value": slope.p_value,
        "odds_ratio": slope.odds.ratio if slope.odds else None,
        "odds_low": slope.odds.low if slope.odds else None,
        "odds_high": slope.odds.high if slope.odds else None,
        "why": slope.why,
    }
