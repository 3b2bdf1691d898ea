"""Birds that are their own forebears."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import duckdb

from analytics.errors import SheetProblem
from analytics.sheets.findings import MOST_LISTED, Judgement, Recorded


def report_loops(connection: duckdb.DuckDBPyConnection, judgement: Judgement) -> None:
    """Reports every line of descent that leads back to itself, over `all_birds`.

    Lines are peeled from their oldest birds down and from their youngest up until only loops are left, so a
    long pedigree costs one step a generation.
    """
    connection.execute(
        "CREATE OR REPLACE TEMP TABLE lines AS"
        " SELECT c.bird AS child, p.bird AS parent FROM all_birds c JOIN all_birds p ON p.bird = c.sire"
        " UNION SELECT c.bird, p.bird FROM all_birds c JOIN all_birds p ON p.bird = c.dam"
    )
    _peel(connection, "parent", "child")
    _peel(connection, "child", "parent")
    parents: dict[str, list[str]] = {}
    for child, parent in connection.execute("SELECT child, parent FROM lines ORDER BY ALL").fetchall():
        parents.setdefault(child, []).append(parent)
    connection.execute("DROP TABLE lines")
    if parents:
        _report(connection, list(_loops(parents)), judgement)


def _peel(connection: duckdb.DuckDBPyConnection, end: str, other: str) -> None:
    while True:
        gone = connection.execute(
            f"DELETE FROM lines WHERE {end} NOT IN (SELECT {other} FROM lines)"  # noqa: S608 - our columns
        ).fetchall()
        if not gone[0][0]:
            return


def _loops(parents: Mapping[str, Sequence[str]]) -> Iterator[list[str]]:
    """One loop for each way back that a walk through the lines finds, youngest first."""
    done: set[str] = set()
    for start in parents:
        path, position, waiting = [start], {start: 0}, [iter(parents[start])]
        while waiting and start not in done:
            parent = next(waiting[-1], None)
            if parent is None:
                waiting.pop()
                done.add(path[-1])
                del position[path.pop()]
            elif parent in position:
                yield path[position[parent] :]
            elif parent not in done:
                position[parent] = len(path)
                path.append(parent)
                waiting.append(iter(parents.get(parent, ())))


def _report(connection: duckdb.DuckDBPyConnection, loops: list[list[str]], judgement: Judgement) -> None:
    records = dict(
        connection.execute("SELECT bird, record FROM all_birds WHERE record IS NOT NULL").fetchall()
    )
    problems = []
    for loop in loops:
        loaded = [(records[bird], bird) for bird in loop if bird in records]
        if loaded:
            record, bird = min(loaded)
            at = loop.index(bird)
            problems.append(Recorded(record, _problem([*loop[at:], *loop[:at]])))
    judgement.errors.add_records(problems[:MOST_LISTED], len(problems))


def _problem(loop: list[str]) -> SheetProblem:
    given = ", whose parent is ".join([*loop, loop[0]])
    return SheetProblem(
        "birds", 0, "sire, dam", given, "No bird descends from itself", "Look which of these parents is wrong"
    )
