"""Dated changes that the keeper wrote down, for the pictures along time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import duckdb


@dataclass(frozen=True, slots=True)
class DatedChange:
    """Something deliberately changed.

    Attributes:
        changed_on: the day.
        scope: pen, storage, incubator or all.
        target: which pen or machine; "" where the scope says it.
        what: what was changed.
    """

    changed_on: date
    scope: str
    target: str
    what: str


_CHANGES = """
SELECT changed_on, scope, coalesce(target, '') AS target, what
FROM changes
WHERE withdrawn_in IS NULL AND changed_on BETWEEN $first_day::DATE AND $last_day::DATE
    AND (scope IN ('all', 'storage') OR target IS NULL
        OR (scope = 'pen' AND label_of(target) IN (SELECT label_of(unnest($pens::VARCHAR[]))))
        OR (scope = 'incubator' AND label_of(target) IN (SELECT label_of(unnest($machines::VARCHAR[])))))
ORDER BY changed_on, scope, target, what
"""


def dated_changes(
    connection: duckdb.DuckDBPyConnection,
    first_day: date,
    last_day: date,
    pens: Sequence[str],
    machines: Sequence[str],
) -> tuple[DatedChange, ...]:
    """Changes of those days that touched these pens or machines, or everything.

    Args:
        connection: from `counting`.
        first_day: first day asked about.
        last_day: last one.
        pens: labels.
        machines: labels.
    """
    asked = {
        "first_day": first_day,
        "last_day": last_day,
        "pens": list(pens),
        "machines": list(machines),
    }
    return tuple(DatedChange(*row) for row in connection.execute(_CHANGES, asked).fetchall())
