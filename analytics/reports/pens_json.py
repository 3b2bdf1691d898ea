"""Pen against pen as plain values: the JSON form `penwise.pens/1`."""

from __future__ import annotations

from typing import Any

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.studies.pen_records import PairAnswer, PenRow, PensAnswer

SCHEMA = "penwise.pens/1"


def pens_values(answer: PensAnswer) -> dict[str, Any]:
    """Everything in the record, unrounded, rates in 0..1; what is not known is None with its `why`."""
    period = answer.selection.period
    return {
        "measure": answer.measure,
        "by": answer.by,
        "sentence": answer.words.sentence,
        "scope": answer.words.scope,
        "period": {"from": answer.first_day, "to": answer.last_day},
        "decides": answer.words.decides or None,
        "remedy": answer.words.remedy,
        "why": answer.words.why,
        "rows": [_row(row) for row in answer.rows],
        "tests": {
            "independent": values_of_test(answer.tests.independent),
            "clustered": {**values_of_test(answer.tests.clustered), "dof2": answer.tests.clustered.dof2},
            "stratified": values_of_test(answer.tests.stratified),
        },
        "clustering": answer.clustering,
        "pairs": list(answer.pairs),
        "findings": list(answer.findings),
        "pair": _pair(answer.pair) if answer.pair else None,
        "selection": {
            "from": period.start,
            "to": period.end,
            "species": answer.selection.species,
            "pens": answer.selection.pens,
            "incubators": answer.selection.incubators,
        },
    }


def _row(row: PenRow) -> dict[str, Any]:
    rate, shrunk = row.rate, row.shrunk
    return {
        "pen": row.pen,
        "species": row.species,
        "base": rate.base,
        "eggs": row.eggs,
        "eggs_set": rate.eggs_set,
        "count": rate.count,
        "clear": rate.clear,
        "rate": rate.value,
        "low": rate.interval.low if rate.interval else None,
        "high": rate.interval.high if rate.interval else None,
        "possible_low": rate.possible.low if rate.possible else None,
        "possible_high": rate.possible.high if rate.possible else None,
        "shrunk_rate": shrunk.rate if shrunk else None,
        "shrunk_low": shrunk.low if shrunk else None,
        "shrunk_high": shrunk.high if shrunk else None,
        "trays": rate.used.trays,
        "batches": rate.used.batches,
        "compared": row.compared,
        "why": row.why,
    }


def values_of_test(test: HypothesisTest) -> dict[str, Any]:
    """A test as plain values; what could not be made is None with its `why`."""
    return {
        "method": test.method,
        "statistic": test.statistic,
        "dof": test.dof,
        "p_value": test.p_value,
        "why": test.why,
    }


def _pair(answer: PairAnswer) -> dict[str, Any]:
    pair = answer.pair
    return {
        "pen_a": pair.pen_a,
        "pen_b": pair.pen_b,
        "difference": pair.difference,
        "low": pair.low,
        "high": pair.high,
        "p_value": pair.p_value,
        "q_value": pair.q_value,
        "why": pair.why,
        "shared_batches": list(answer.shared_batches),
        "more_eggs": answer.more_eggs,
        "decided": answer.decided,
        "sentence": answer.sentence,
    }
