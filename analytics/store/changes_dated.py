"""What was changed on purpose and when, as written down, and the days on which trays' eggs were laid."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import duckdb
import numpy as np

from analytics.store.changes import DatedChange
from analytics.store.ladder import Days, LadderTrays


@dataclass(frozen=True, slots=True)
class DietPeriod:
    """A feed period of a pen.

    Attributes:
        pen: the pen's own label.
        first_day: first day.
        last_day: last day, or None = still so.
        feed: name, "" = not written.
        supplement: what was added, "" = nothing written.
        calcium_pct: % of feed, or None.
        protein_pct: % of feed, or None.
    """

    pen: str
    first_day: date
    last_day: date | None
    feed: str
    supplement: str
    calcium_pct: float | None
    protein_pct: float | None


_CHANGES = """
SELECT c.changed_on, label_of(c.scope), coalesce(p.pen, i.incubator, trim(c.target), ''), trim(c.what)
FROM changes c
LEFT JOIN pens p ON label_of(c.scope) = 'pen' AND label_of(p.pen) = label_of(c.target)
    AND p.withdrawn_in IS NULL
LEFT JOIN incubators i ON label_of(c.scope) = 'incubator' AND label_of(i.incubator) = label_of(c.target)
    AND i.withdrawn_in IS NULL
WHERE c.withdrawn_in IS NULL
UNION ALL
SELECT CAST(e."at" AS DATE), 'incubator', i.incubator,
    coalesce('moved: ' || nullif(trim(e.notes), ''), 'moved')
FROM incubator_events e
JOIN incubators i ON label_of(i.incubator) = label_of(e.incubator) AND i.withdrawn_in IS NULL
WHERE e.withdrawn_in IS NULL AND e.event = 'moved'
ORDER BY 1, 2, 3, 4
"""
_DIETS = """
SELECT p.pen, d."from", d."to", coalesce(trim(d.feed), ''), coalesce(trim(d.supplement), ''), d.calcium_pct,
    d.protein_pct
FROM diets d JOIN pens p ON label_of(p.pen) = label_of(d.pen) AND p.withdrawn_in IS NULL
WHERE d.withdrawn_in IS NULL
ORDER BY p.pen, d."from"
"""
_MALES = """
SELECT DISTINCT p.pen, s."from"
FROM pen_birds s
JOIN birds b ON label_of(b.bird) = label_of(s.bird) AND b.sex = 'm' AND b.withdrawn_in IS NULL
JOIN pens p ON label_of(p.pen) = label_of(s.pen) AND p.withdrawn_in IS NULL
WHERE s.withdrawn_in IS NULL
ORDER BY 1, 2
"""
_LAID = """
SELECT c.batch, t.tray,
    coalesce(t.laid_first, t.set_day - CAST(round(t.storage_days) AS INTEGER)) AS first_day,
    coalesce(t.laid_last, t.set_day - CAST(round(t.storage_days) AS INTEGER)) AS last_day
FROM ladder_cells c
JOIN chosen t ON t.batch_key = c.batch_key AND t.tray_key = c.tray_key
"""


def written_changes(connection: duckdb.DuckDBPyConnection) -> tuple[DatedChange, ...]:
    """All rows of `changes`, and machines that were moved, in the order of time.

    Args:
        connection: from `counting`.
    """
    return tuple(DatedChange(*row) for row in connection.execute(_CHANGES).fetchall())


def diet_periods(connection: duckdb.DuckDBPyConnection) -> tuple[DietPeriod, ...]:
    """All feed periods, by pen and day."""
    return tuple(DietPeriod(*row) for row in connection.execute(_DIETS).fetchall())


def male_arrivals(connection: duckdb.DuckDBPyConnection) -> tuple[tuple[str, date], ...]:
    """Pen and first day of every male's stay."""
    return tuple((str(pen), day) for pen, day in connection.execute(_MALES).fetchall())


def laying_days(connection: duckdb.DuckDBPyConnection, ladder: LadderTrays) -> tuple[Days, Days]:
    """First and last day of lay of each tray; not a day (NaT) where neither they nor storage are written.

    Args:
        connection: on which `ladder_trays` was asked last.
        ladder: its answer.
    """
    table = connection.execute(_LAID).fetchall()
    laid = {(batch, tray): (first, last) for batch, tray, first, last in table}
    unknown = (None, None)
    found = [
        laid.get(key, unknown)
        for key in zip(ladder.labels["batch"].tolist(), ladder.labels["tray"].tolist(), strict=True)
    ]
    first, last = zip(*found, strict=True) if found else ((), ())
    return np.array(first, dtype="datetime64[D]"), np.array(last, dtype="datetime64[D]")
