"""The month's review as plain values: the JSON form `penwise.review/1`."""

from __future__ import annotations

from typing import Any

from analytics.reports.causes_json import small_values
from analytics.reports.month_rest_json import rest_values
from analytics.reports.signals_json import signals_values
from analytics.studies.clear_records import SpeciesClears
from analytics.studies.month_attention import attention, look_first, next_steps, opening
from analytics.studies.records import MonthLosses, MonthReview, PenMonth, Rates, SpeciesMonth
from analytics.values import Interval, Rate

SCHEMA = "penwise.review/1"


def review_values(review: MonthReview) -> dict[str, Any]:
    """Everything in the record, rates unrounded in 0..1; what is not known is None with its `why`."""
    losses = review.losses
    return {
        "month": str(review.month),
        "headline": list(review.headline),
        "look_first": list(look_first(review)),
        "rates": {species.species: _species(species) for species in review.species},
        **signals_values(review.signals),
        "causes": small_values(losses.causes) if losses and losses.causes else None,
        "causes_note": _causes_note(losses),
        "lead": opening(review)[0],
        "attention": list(attention(review)),
        **rest_values(review.rest),
        "next_steps": list(next_steps(review)),
        "data_gaps": list(review.data_gaps),
        "open_batches": list(review.open_batches),
        "months": [str(month) for month in review.months],
        "as_of": review.as_of,
        "against": str(review.against) if review.against else None,
        "selection": {
            "from": review.selection.period.start,
            "to": review.selection.period.end,
            "species": review.selection.species,
            "pens": review.selection.pens,
            "incubators": review.selection.incubators,
        },
    }


def _causes_note(losses: MonthLosses | None) -> str:
    if losses is None:
        return "Whose loss the month's was was not asked."
    return losses.why or "Learnt from all closed batches up to the month's end; counted are the month's eggs."


def _species(species: SpeciesMonth) -> dict[str, Any]:
    return {
        "eggs_set": species.eggs_set,
        "chicks": species.chicks,
        "batches": species.batches,
        "month": _rates(species.rates),
        "before": [{"month": str(month), "rates": _rates(rates)} for month, rates in species.months_before],
        "same_month_last_year": _rates(species.year_ago),
        "twelve_before": _rates(species.before),
        "twelve_before_months": species.months_with_hatch,
        "against": _rates(species.against),
        "pens": [_pen(pen) for pen in species.pens],
        "clears": clears_values(species.clears) if species.clears else None,
        "targets": species.targets,
    }


def clears_values(told: SpeciesClears) -> dict[str, Any]:
    """What the clear eggs are likely to be: shares in 0..1, eggs with the luck of these eggs."""
    share, informed = told.whole, told.informed
    return {
        "clear": share.clear,
        "infertile_low": share.infertile_low,
        "infertile_high": share.infertile_high,
        "fertility": share.fertility,
        "fertility_low": share.fertility_low,
        "fertility_high": share.fertility_high,
        "fresh_eggs": share.fresh_eggs,
        "told_apart": not informed.silent,
        "open_fresh_eggs": told.advice.eggs,
        "sentence": told.sentence,
    }


def _pen(pen: PenMonth) -> dict[str, Any]:
    return {
        "pen": pen.pen,
        "eggs_set": pen.eggs_set,
        "chicks": pen.chicks,
        "month": _rates(pen.rates),
        "twelve_before": _rates(pen.before),
        "against": _rates(pen.against),
    }


def _rates(rates: Rates) -> dict[str, dict[str, Any]]:
    return {measure: rate_values(rate) for measure, rate in rates.items()}


def rate_values(rate: Rate) -> dict[str, Any]:
    """One rate as plain values: its base, its eggs, and all its ranges."""
    return {
        "measure": rate.measure,
        "base": rate.base,
        "count": rate.count,
        "eggs": rate.eggs,
        "eggs_set": rate.eggs_set,
        "clear": rate.clear,
        "rate": rate.value,
        **_ends("", rate.interval),
        **_ends("possible_", rate.possible),
        **_ends("independent_", rate.independent),
        "method": rate.interval.method if rate.interval else None,
        "trays": rate.used.trays,
        "batches": rate.used.batches,
        "left_out": rate.used.left_out,
        "why": rate.why,
    }


def _ends(name: str, interval: Interval | None) -> dict[str, float | None]:
    return {
        f"{name}low": interval.low if interval else None,
        f"{name}high": interval.high if interval else None,
    }
