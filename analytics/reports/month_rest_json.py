"""What a review holds besides its rates, signals and causes, as plain values: changes, breeders, outlook."""

from __future__ import annotations

from typing import Any

from analytics.reports.breeders_json import breeders_values
from analytics.reports.changes_json import changes_values
from analytics.studies.changes_records import ChangeAnswer
from analytics.studies.outlook import DueChicks, Outlook
from analytics.studies.records import MonthRest

ACTIONS_NOTE = (
    "Every dated change of the month and the twelve before it, with what it did by hatches up to the month's "
    "end; differences are of passing a step, beside the pens or machines that it did not touch."
)
_NOT_ASKED = "This was not asked."


def rest_values(rest: MonthRest | None) -> dict[str, Any]:
    """`changes`, `actions`, `breeders` and `outlook`, each with a note; None where it is not told."""
    if rest is None:
        parts = ("changes", "breeders", "outlook")
        return {**dict.fromkeys(parts), "actions": [], **{f"{part}_note": _NOT_ASKED for part in parts}}
    changes = rest.changes
    return {
        "changes": changes_values(changes) if changes else None,
        "changes_note": rest.changes_why or ACTIONS_NOTE,
        "actions": [_action(one) for one in changes.changes] if changes else [],
        "actions_note": rest.changes_why or ACTIONS_NOTE,
        "breeders": breeders_values(rest.breeders) if rest.breeders else None,
        "breeders_note": rest.breeders_why or "By hatches of the latest six months up to the month's end.",
        "outlook": outlook_values(rest.outlook),
    }


def _action(change: ChangeAnswer) -> dict[str, Any]:
    event = change.event
    why = change.compared.why or next((step.judged.why for step in change.steps if step.judged.why), "")
    return {
        "changed_on": event.first_day,
        "scope": event.scope,
        "targets": list(event.targets),
        "what": event.what,
        "sentence": change.sentence,
        "verdicts": {step.step: step.verdict for step in change.steps},
        "effect": [
            {
                "step": step.step,
                "difference": step.effect.difference,
                "low": step.effect.low,
                "high": step.effect.high,
                "verdict": step.verdict,
            }
            for step in change.with_verdict("better", "worse")
        ],
        "why": why,
        "next_step": change.compared.settle,
    }


def outlook_values(told: Outlook) -> dict[str, Any]:
    """Chicks to expect by month and species, and the birds of each pen."""
    return {
        "as_of": told.as_of,
        "due": [_due(one) for one in told.due],
        "birds": list(told.birds),
    }


def _due(one: DueChicks) -> dict[str, Any]:
    chicks = one.expected
    return {
        "month": str(one.month) if one.month else None,
        "species": one.species,
        "batches": list(one.batches),
        "eggs": one.eggs,
        "chicks": chicks.chicks if chicks else None,
        "low": chicks.low if chicks else None,
        "high": chicks.high if chicks else None,
        "first_day": one.first_day,
        "last_day": one.last_day,
        "why": one.why,
    }
