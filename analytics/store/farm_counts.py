"""What is asked of the strata of a set of farms: sums of each farm, and what a ledger learns from."""

# ruff: noqa: S608 - identifiers are our own constants
from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.store import farm_set, farm_spark
from analytics.values import Month

Connection = duckdb.DuckDBPyConnection
Engine = Callable[[Path], AbstractContextManager[duckdb.DuckDBPyConnection]]
ENGINES: dict[str, Engine] = {"duckdb": farm_set.strata_of_farms, "spark": farm_spark.strata_of_farms}
"""Name -> what makes the table `strata`."""
_LABELS = ("farm", "month", "pen", "incubator", "hatcher")
_COUNTS = (
    "trays", "eggs_set", "hatch_trays", "hatch_eggs_set", "hatch_followed", "hatch_chicks", "hatch_rotten",
    "staged_trays", "staged_eggs_set", "staged_followed", "staged_chicks", "staged_rotten",
    "infertile", "clear", "early", "mid", "late", "shell", "unknown",
    "storage_eggs", "storage_egg_tenths", "hen_eggs", "hen_egg_days",
)  # fmt: skip
_WANTED = """
    ($first = '' OR month >= $first) AND ($last = '' OR month <= $last)
    AND (len($farms::VARCHAR[]) = 0 OR list_contains($farms::VARCHAR[], lower(trim(farm))))
    AND (len($pens::VARCHAR[]) = 0 OR list_contains($pens::VARCHAR[], lower(trim(pen))))
    AND (len($machines::VARCHAR[]) = 0 OR list_contains($machines::VARCHAR[], lower(trim(incubator)))
        OR list_contains($machines::VARCHAR[], lower(trim(hatcher))))"""


@dataclass(frozen=True, slots=True)
class FarmsAsked:
    """Which strata are counted; all are learnt from up to the last month.

    Attributes:
        selection: the filters; the days are whole months.
        farms: names of farms; none = all.
    """

    selection: Selection
    farms: tuple[str, ...] = ()

    def values(self) -> dict[str, Any]:
        """Values of the query's parameters.

        Raises:
            WrongUsage: the days begin or end within a month.
        """
        period = self.selection.period
        first, last = (f"{day:%Y-%m}" if day else "" for day in (period.start, period.end))
        whole = (not period.start or period.start == Month.parse(first).period().start) and (
            not period.end or period.end == Month.parse(last).period().end
        )
        if not whole:
            raise WrongUsage(
                "Days within a month", "A set of farms is counted by months", "Ask from a first to a last day"
            )
        farms, pens, machines = (
            [label.strip().lower() for label in labels]
            for labels in (self.farms, self.selection.pens, self.selection.incubators)
        )
        return {"first": first, "last": last, "farms": farms, "pens": pens, "machines": machines}


def farm_sums(connection: duckdb.DuckDBPyConnection, asked: FarmsAsked) -> list[dict[str, Any]]:
    """Sums of each species and farm that is counted: trays, eggs set, and of those whose hatch is known.

    Args:
        connection: with the table `strata`.
        asked: what is counted.
    """
    sums = ", ".join(f"CAST(sum({name}) AS BIGINT) AS {name}" for name in _COUNTS)
    species = " AND list_contains($species, species)" if asked.selection.species else ""
    given = asked.values() | ({"species": list(asked.selection.species)} if species else {})
    return _rows(
        connection,
        f"SELECT species, farm, {sums} FROM strata WHERE {_WANTED}{species}"
        " GROUP BY species, farm ORDER BY species, farm",
        given,
    )


def month_sums(connection: duckdb.DuckDBPyConnection, species: str, last: str) -> list[dict[str, Any]]:
    """Of each farm and month up to the last: strata, strata with classes of storage joined, and trays.

    Args:
        connection: with the table `strata`.
        species: key.
        last: last month, "" = all.
    """
    return _rows(
        connection,
        "SELECT farm, month, count(*) AS strata, count(DISTINCT (pen, incubator, hatcher)) AS joined,"
        " CAST(sum(trays) AS BIGINT) AS trays, CAST(sum(eggs_set) AS BIGINT) AS eggs_set"
        " FROM strata WHERE species = $species AND ($last = '' OR month <= $last)"
        " GROUP BY farm, month ORDER BY farm, month",
        {"species": species, "last": last},
    )


def strata_of(
    connection: duckdb.DuckDBPyConnection,
    species: str,
    months: tuple[str, str],
    farms: Sequence[str],
    asked: FarmsAsked,
    *,
    joined: bool,
) -> dict[str, Any]:
    """The strata of some months and farms as arrays, with `wanted`: whether they are counted.

    Args:
        connection: with the table `strata`.
        species: key.
        months: first and last.
        farms: their names.
        asked: what is counted.
        joined: whether classes of storage are summed.
    """
    names = ", ".join((*_LABELS, *(() if joined else ("storage_class",))))
    sums = ", ".join(f"CAST(sum({name}) AS DOUBLE) AS {name}" for name in _COUNTS)
    given = asked.values() | {
        "species": species, "from": months[0], "to": months[1], "learnt": list(farms),
    }  # fmt: skip
    found = connection.execute(
        f"SELECT {names}, {sums}, bool_and({_WANTED}) AS wanted FROM strata"
        " WHERE species = $species AND month BETWEEN $from AND $to AND list_contains($learnt, farm)"
        f" GROUP BY {names} ORDER BY {names}",
        given,
    )
    return dict(found.fetchnumpy())


def _rows(
    connection: duckdb.DuckDBPyConnection, question: str, given: dict[str, Any]
) -> list[dict[str, Any]]:
    done = connection.execute(question, given)
    names = [column[0] for column in done.description or ()]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]
