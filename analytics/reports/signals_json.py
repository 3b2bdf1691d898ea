"""The watch of pens and machines as plain values: `signals[]` of a review and what stands beside it."""

from __future__ import annotations

from typing import Any

from analytics.monitoring.allowance import A_YEAR
from analytics.studies.signal_records import MonthSignals, Point, Signal, Watched
from analytics.studies.signal_words import BASES


def signals_values(told: MonthSignals | None) -> dict[str, Any]:
    """`signals`, `signals_note` and `watch`; an empty list with a note where nothing was asked."""
    if told is None:
        return {"signals": [], "signals_note": "Pens and machines were not watched.", "watch": None}
    return {
        "signals": [_signal(one) for one in told.signals],
        "signals_note": " ".join(told.how),
        "watch": {
            "charts": told.charts,
            "false_signals_in_twelve_reviews": A_YEAR,
            "baseline_from": str(told.base_from) if told.base_from else None,
            "baseline_to": str(told.base_to) if told.base_to else None,
            "lines": list(told.lines),
            "ten_points": [
                {
                    "species": one.species,
                    "measure": one.measure,
                    "likeness_of_a_tray": one.likeness,
                    "eggs_a_month": one.eggs,
                    "fewest_eggs_set": one.fewest,
                    "most_eggs_set": one.most,
                }
                for one in told.ten_points
            ],
            "could_have_seen": [_watched(one) for one in told.watched],
        },
    }


def _signal(one: Signal) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "label": one.label,
        "species": one.species,
        "measure": one.measure,
        "base": BASES[one.measure],
        "state": "known" if one.known else "new",
        "since": str(one.since),
        "direction": "worse" if one.worse else "better",
        "chart": one.chart,
        **_point(one.now),
        "sentence": one.sentence,
        "months": [{"month": str(point.month), **_point(point)} for point in one.points],
    }


def _point(point: Point) -> dict[str, Any]:
    return {
        "eggs": point.eggs,
        "rate": point.rate,
        "expected": point.expected,
        "limit_low": point.low,
        "limit_high": point.high,
    }


def _watched(one: Watched) -> dict[str, Any]:
    return {
        "kind": one.kind,
        "label": one.label,
        "species": one.species,
        "measure": one.measure,
        "eggs": one.eggs,
        "expected": one.expected,
        "smallest_worsening": one.smallest,
        "baseline_months": one.own_months,
        "signal_possible": one.possible,
    }
