"""Dated changes as plain values: the JSON form `penwise.changes/1`."""

from __future__ import annotations

from typing import Any

from analytics.changes.records import SideRate
from analytics.studies.changes_records import ChangeAnswer, ChangesAnswer, StepAnswer

SCHEMA = "penwise.changes/1"


def changes_values(answer: ChangesAnswer) -> dict[str, Any]:
    """Everything in the record, unrounded; rates are of passing a step, 0..1; null with a `why`."""
    period = answer.selection.period
    return {
        "sentence": answer.sentence,
        "notes": list(answer.notes),
        "changes": [_change(change) for change in answer.changes],
        "made_up": {
            "dates": answer.made_up.dates,
            "called": answer.made_up.cried,
            "which": [
                {"target": pen, "changed_on": day, "step": step} for pen, day, step in answer.made_up.called
            ],
        },
        "fertile_days": answer.fertile_days,
        "selection": {
            "from": period.start,
            "to": period.end,
            "species": answer.selection.species,
            "pens": answer.selection.pens,
            "incubators": answer.selection.incubators,
        },
    }


def _change(change: ChangeAnswer) -> dict[str, Any]:
    event, compared = change.event, change.compared
    return {
        "changed_on": event.first_day,
        "scope": event.scope,
        "target": event.targets[0] if event.targets else None,
        "targets": list(event.targets),
        "what": event.what,
        "detail": event.detail,
        "kind": event.kind,
        "lag_days": event.lag_days,
        "sentence": change.sentence,
        "notes": list(change.notes),
        "controls": list(compared.controls),
        "held_equal": compared.held,
        "trays": compared.trays,
        "first_day": compared.first_day,
        "last_day": compared.last_day,
        "left_out_trays": compared.left_trays,
        "left_out_eggs": compared.left_eggs,
        "left_out_undated_trays": compared.undated_trays,
        "why": compared.why,
        "next_step": compared.settle,
        "tests": change.tested,
        "steps": [_step(step) for step in change.steps],
    }


def _step(step: StepAnswer) -> dict[str, Any]:
    effect, sides, odds = step.effect, step.effect.sides, step.effect.odds
    return {
        "step": step.step,
        "before": sides.before.rate,
        "after": sides.after.rate,
        "controls_before": sides.controls_before.rate,
        "controls_after": sides.controls_after.rate,
        "odds_ratio": odds.ratio if odds else None,
        "low": odds.low if odds else None,
        "high": odds.high if odds else None,
        "difference": effect.difference,
        "difference_low": effect.low,
        "difference_high": effect.high,
        "p_value": effect.p_value,
        "p_adjusted": step.judged.p_adjusted,
        "dof": effect.dof,
        "verdict": step.verdict,
        "why": step.judged.why,
        "gap_opened": step.opened,
        "sides": {
            name: _side(side)
            for name, side in zip(
                ("before", "after", "controls_before", "controls_after"), sides.in_order(), strict=True
            )
        },
    }


def _side(side: SideRate) -> dict[str, Any]:
    return {
        "eggs": side.eggs,
        "passed": side.passed,
        "trays": side.trays,
        "rate": side.rate,
        "low": side.low,
        "high": side.high,
    }
