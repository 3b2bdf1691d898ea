"""Plans as plain values: the JSON form `penwise.plan/1`; `kind` says which plan it is."""

from __future__ import annotations

from typing import Any

from analytics.breeders.depression import Depression
from analytics.breeders.effective_size import InbreedingPace
from analytics.breeders.matings import Mating
from analytics.planning.sample_size import SmallestSeen
from analytics.studies.kinship_records import MatingsAnswer
from analytics.studies.plan_records import AtHand, DatesAnswer, DayRange, SizeAnswer, SizeRow, SplitAnswer

SCHEMA = "penwise.plan/1"


def size_values(answer: SizeAnswer) -> dict[str, Any]:
    """How many eggs; shares in 0..1, unrounded."""
    asked, ground = answer.asked, answer.ground
    return {
        "kind": "size",
        "sentence": answer.words.sentence,
        "notes": list(answer.words.notes),
        "measure": asked.measure,
        "species": ground.species or None,
        "base": ground.base,
        "rate": ground.rate,
        "rate_from": ground.rate_from,
        "other_rate": ground.other,
        "power": asked.power,
        "tray_eggs": ground.tray_eggs,
        "trays_per_batch": asked.trays,
        "shared_batches": asked.shared,
        "entering": ground.entering,
        "clustering": {
            "icc_tray": ground.clustering.rho_tray,
            "icc_batch": ground.clustering.rho_batch,
            "assumed": ground.clustering.assumed,
        },
        **_row(answer.needed),
        "differences": [_row(row) for row in answer.rows],
        "smallest": None
        if answer.smallest is None
        else {"batches": asked.batches, **_smallest(answer.smallest)},
        "at_hand": None if answer.at_hand is None else _at_hand(answer.at_hand),
    }


def _row(row: SizeRow) -> dict[str, Any]:
    needed = row.needed
    return {
        "difference": row.difference,
        "batches": needed.batches,
        "trays": needed.trays,
        "eggs_set": row.eggs_set,
        "power_reached": needed.power,
        "design_effect": needed.design_effect,
        "independent_eggs_set": row.independent_set,
        "batches_if_more_alike": needed.batches_if_alike,
        "why": needed.why,
    }


def _smallest(seen: SmallestSeen) -> dict[str, Any]:
    return {
        "smallest_below": seen.below,
        "smallest_above": seen.above,
        "design_effect": seen.design_effect,
        "why": seen.why,
    }


def _at_hand(found: AtHand) -> dict[str, Any]:
    return {
        "pens": list(found.pens),
        "eggs": list(found.eggs),
        "trays": list(found.trays),
        "shared_batches": found.shared_batches,
        "rate": found.rate,
        **_smallest(found.seen),
        "sentence": found.sentence,
    }


def dates_values(answer: DatesAnswer) -> dict[str, Any]:
    """Which days; days are ISO, both ends included."""
    return {
        "kind": "dates",
        "sentence": answer.sentence,
        "set_on": answer.set_on,
        "incubator": answer.machine or None,
        "storage_days": answer.storage_days,
        "species": [
            {
                "species": one.species,
                "name": one.name,
                "candle": _days(one.candle),
                "transfer": _days(one.transfer),
                "hatch": _days(one.hatch),
                "storage_hours": {"low": one.storage_hours[0], "high": one.storage_hours[1]},
            }
            for one in answer.species
        ],
        "warnings": list(answer.warnings),
    }


def _days(found: DayRange) -> dict[str, Any]:
    return {"from": found.first, "to": found.last, "source": found.source, "why": found.why}


def split_values(answer: SplitAnswer) -> dict[str, Any]:
    """Who goes where; numbers of eggs count from 1 in the order laid, [] = all of them."""
    plan = answer.plan
    return {
        "kind": "split",
        "sentence": answer.sentence,
        "notes": list(answer.notes),
        "species": answer.species,
        "seed": plan.seed,
        "eggs_each": answer.each,
        "moved": plan.moved,
        "lots": [
            {
                "pen": lot.pen,
                "incubator": lot.machine,
                "eggs": lot.eggs,
                "moved": lot.moved,
                "numbers": list(lot.numbers),
                "hatcher": lot.hatcher or lot.machine,
                "storage_days": answer.days_of(lot),
            }
            for lot in plan.lots
        ],
        "groups": [
            {
                "pens": list(camp.pens),
                "incubators": list(camp.machines),
                "stays_apart": camp.island in plan.left_apart,
            }
            for camp in answer.camps
        ],
        "hatcher_groups": [
            {
                "pens": list(camp.pens),
                "hatchers": list(camp.machines),
                "stays_apart": camp.island in plan.hatchers_apart,
            }
            for camp in answer.hatcher_camps
        ],
        "storage": {
            "goes_with": list(answer.storage.beside),
            "pens": list(answer.storage.pens),
            "sets": answer.storage.sets,
            "why": answer.storage.why,
        },
        "narrowing": [
            {
                "kind": one.kind,
                "between": list(one.between),
                "pens": list(one.pens),
                "sets": one.sets,
                "now": None,
                "give_or_take": one.within,
            }
            for one in answer.narrowing
        ],
        "sets": answer.asked.sets,
        "give_or_take": answer.within,
        "why": plan.why,
    }


def matings_values(answer: MatingsAnswer) -> dict[str, Any]:
    """Who with whom; inbreeding in 0..1."""
    plan = answer.plan
    return {
        "kind": "matings",
        "sentence": answer.sentence,
        "notes": list(answer.notes),
        "species": answer.species,
        "as_of": answer.as_of,
        "most_females": answer.most_females,
        "mean_inbreeding": plan.mean,
        "highest_inbreeding": plan.highest,
        "matings": [_mating(one) for one in plan.matings],
        "idle_males": list(plan.idle),
        "rotation": {
            "mean_inbreeding": plan.rotation_mean,
            "highest_inbreeding": plan.rotation_highest,
            "matings": [_mating(one) for one in plan.rotation],
            "why": plan.why,
        },
        "as_now": answer.as_now,
        "birds_with_parents": answer.with_parents,
        "pens": list(answer.pens),
        "pace": _pace(answer.pace),
        "depression": _depression(answer.depression),
        "published": list(answer.published),
    }


def _mating(one: Mating) -> dict[str, Any]:
    return {"female": one.female, "male": one.male, "inbreeding": one.inbreeding}


def _pace(pace: InbreedingPace) -> dict[str, Any]:
    return {
        "rate": pace.rate,
        "effective_size": pace.effective_size,
        "generations": list(pace.generations),
        "why": pace.why,
    }


def _depression(found: Depression) -> dict[str, Any]:
    slope = found.per_tenth
    return {
        "measure": "hatch_of_fertile",
        "method": found.method,
        "per_tenth": slope.estimate,
        "low": slope.low,
        "high": slope.high,
        "p_value": slope.p_value,
        "kind": found.kind or None,
        "trays": found.trays,
        "trays_left_out": found.unknown,
        "why": slope.why,
        "missing": found.missing,
    }
