"""Reading the files of a sheet into a typed table of its own, in sets: no row passes through Python.

Each sheet gets a temporary table `in_<sheet>`: `record` (its rows numbered from 0 over all its files), the
columns of the contract, `row_key` and `faulty`. Only when a row is faulty is the text read a second time, to
say what stood there.
"""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import duckdb

from analytics.errors import SheetProblem
from analytics.sheets.cells import Fault, Style, explain, fault_sql, read_sql, shown, value_sql
from analytics.sheets.contract import Column, Sheet
from analytics.sheets.findings import MOST_LISTED, Judgement, Recorded, Staged
from analytics.sheets.headings import Logger
from analytics.sheets.keys import key_sql, quoted, trimmed_sql
from analytics.sheets.text_files import Source, rewrite

_CLOCKS = (" %H:%M:%S", " %H:%M", " %I:%M:%S %p", " %I:%M %p", "")
LOGGER_TIMES = {
    "day first": tuple(f"%d{mark}%m{mark}%Y{clock}" for mark in "/.-" for clock in _CLOCKS),
    "month first": tuple(f"%m{mark}%d{mark}%Y{clock}" for mark in "/-" for clock in _CLOCKS),
}
"""Times of loggers that are not ISO; taken only when one order of day and month fits every row."""


@dataclass(frozen=True, slots=True)
class _Cells:
    """The columns of a source as SQL.

    Attributes:
        columns: columns that are read.
        texts: SQL of each cell's text.
        style: how the file writes.
        reader: SQL that reads the file; its parameters are `parameters`.
        parameters: constants of the file, then its path.
    """

    columns: tuple[Column, ...]
    texts: tuple[str, ...]
    style: Style
    reader: str
    parameters: tuple[str, ...]

    def inner(self) -> str:
        """SQL with each cell as text (t0, t1, ...) and read as its kind (v0, v1, ...)."""
        texts = ", ".join(f"{text} AS t{number}" for number, text in enumerate(self.texts))
        values = ", ".join(
            f"{read_sql(column, f't{number}', self.style)} AS v{number}"
            for number, column in enumerate(self.columns)
        )
        return f"SELECT *, {values} FROM (SELECT {texts} FROM {self.reader})"

    def faults(self) -> list[str]:
        """SQL of each cell's fault over `inner`."""
        return [
            fault_sql(column, f"t{number}", f"v{number}", self.style)
            for number, column in enumerate(self.columns)
        ]

    def faulty(self) -> str:
        """SQL of whether anything is wrong in a row that is not blank, over `inner`."""
        values = ", ".join(f"CAST(v{number} AS VARCHAR)" for number in range(len(self.columns)))
        texts = ", ".join(trimmed_sql(f"t{number}") for number in range(len(self.columns)))
        anything = f"coalesce({values}) IS NOT NULL OR strlen(concat({texts})) > 0"
        return f"CASE WHEN {' + '.join(self.faults())} > 0 THEN {anything} ELSE FALSE END"


def stage(
    connection: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    sources: Sequence[Source],
    logger: Logger,
    scratch: Path,
    judgement: Judgement,
) -> Staged:
    """Reads all files of a sheet into `in_<sheet>` and reports every cell that cannot be kept.

    Args:
        connection: may read the sources' folders and `scratch`; no transaction open.
        sheet: the sheet.
        sources: its files.
        logger: how loggers' files are written.
        scratch: folder for files that have to be rewritten.
        judgement: where problems and warnings go.
    """
    _make_table(connection, sheet)
    parts: list[tuple[Source, int]] = []
    rows = 0
    for source in sources:
        style = _style(source, logger)
        readable = _insert(connection, source, style, rows, scratch, judgement)
        if readable is None:
            continue
        style = _settle_times(connection, readable, style, rows, judgement)
        parts.append((readable, rows))
        _report_cells(connection, readable, style, rows, judgement)
        _warn_of_unnamed(connection, readable, judgement)
        rows = _count(connection, sheet)
    given = {column.name for source, _ in parts for column in _columns(source)}
    return Staged(sheet.name, tuple(parts), frozenset(given), rows)


def _make_table(connection: duckdb.DuckDBPyConnection, sheet: Sheet) -> None:
    columns = ", ".join(f"{quoted(column.name)} {column.kind.sql}" for column in sheet.columns)
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE in_{sheet.name}"
        f" (record BIGINT, {columns}, row_key VARCHAR, faulty BOOLEAN)"
    )


def _count(connection: duckdb.DuckDBPyConnection, sheet: Sheet) -> int:
    return int(connection.execute(f"SELECT count(*) FROM in_{sheet.name}").fetchall()[0][0])


def _style(source: Source, logger: Logger) -> Style:
    return Style(
        decimal_comma=source.delimiter != ",",
        fahrenheit=logger.fahrenheit and source.sheet.name == "climate",
    )


def _columns(source: Source) -> list[Column]:
    constants = [column for column, _ in source.headings.constants]
    return constants + [column for column in source.headings.columns if column]


def _cells(source: Source, style: Style) -> _Cells:
    headings = source.headings
    texts = ["?::VARCHAR" for _ in headings.constants]
    texts += [f"c{number}" for number, column in enumerate(headings.columns) if column]
    names = ", ".join(f"'c{number}': 'VARCHAR'" for number in range(len(headings.columns)))
    reader = (
        f"read_csv(?, auto_detect = false, header = true, delim = '{source.delimiter}',"
        f" quote = '\"', escape = '\"', columns = {{{names}}})"
    )
    parameters = (*(value for _, value in headings.constants), str(source.path))
    return _Cells(tuple(_columns(source)), tuple(texts), style, reader, parameters)


def _insert(
    connection: duckdb.DuckDBPyConnection,
    source: Source,
    style: Style,
    start: int,
    scratch: Path,
    judgement: Judgement,
) -> Source | None:
    """Reads the file as it is, or else rewritten; None when it cannot be read at all."""
    if source.plain:
        try:
            _insert_plain(connection, source, style, start)
        except (duckdb.InvalidInputException, duckdb.NotSupportedError):
            pass
        else:
            return source
    target = (scratch / f"rewritten-{len(list(scratch.iterdir()))}.csv").resolve()
    anew, problems = rewrite(source, target)
    judgement.errors.add(problems)
    if not anew.rectangular:
        return None
    try:
        _insert_plain(connection, anew, style, start)
    except duckdb.InvalidInputException:
        judgement.errors.add([_too_long(source)])
        return None
    return anew


def _too_long(source: Source) -> SheetProblem:
    return SheetProblem(
        source.sheet.name,
        0,
        "",
        f"A row of {source.name} is longer than two million letters",
        "A row of a record sheet is a few hundred letters",
        "Look for a cell into which something else was put",
    )


def _insert_plain(connection: duckdb.DuckDBPyConnection, source: Source, style: Style, start: int) -> None:
    sheet, cells = source.sheet, _cells(source, style)
    at = {column.name: f"v{number}" for number, column in enumerate(cells.columns)}
    values = [
        f"{value_sql(column, at[column.name]) if column.name in at else f'NULL::{column.kind.sql}'}"
        f" AS {quoted(column.name)}"
        for column in sheet.columns
    ]
    connection.execute(
        f"INSERT INTO in_{sheet.name} SELECT record, * EXCLUDE (record, faulty), {key_sql(sheet)}, faulty"
        f" FROM (SELECT row_number() OVER () - 1 + {start} AS record, {', '.join(values)},"
        f" {cells.faulty()} AS faulty FROM ({cells.inner()}))",
        list(cells.parameters),
    )


def _settle_times(
    connection: duckdb.DuckDBPyConnection, source: Source, style: Style, start: int, judgement: Judgement
) -> Style:
    """Reads a logger's file again when its times are not ISO but all day first, or all month first."""
    names = [column.name for column in _columns(source)]
    if source.sheet.name != "climate" or not _any_faulty(connection, source, start):
        return style
    cells, at = _cells(source, style), names.index("at")
    fits = ", ".join(
        f"bool_and(t{at} IS NULL OR {read_sql(cells.columns[at], f't{at}', Style(moment_formats=forms))}"
        " IS NOT NULL)"
        for forms in LOGGER_TIMES.values()
    )
    row = connection.execute(f"SELECT {fits} FROM ({cells.inner()})", list(cells.parameters)).fetchall()[0]
    fitting = [order for order, fit in zip(LOGGER_TIMES, row, strict=True) if fit]
    if len(fitting) != 1:
        return style
    settled = replace(style, moment_formats=LOGGER_TIMES[fitting[0]])
    connection.execute(f"DELETE FROM in_{source.sheet.name} WHERE record >= {start}")
    _insert_plain(connection, source, settled, start)
    judgement.warnings.add([_order_of_day(source, fitting[0])])
    return settled


def _order_of_day(source: Source, order: str) -> SheetProblem:
    return SheetProblem(
        source.sheet.name,
        0,
        "at",
        f"The times of {source.name} were read as {order}",
        "No other order of day and month fits every row",
        "Nothing to do if that is right",
    )


def _any_faulty(connection: duckdb.DuckDBPyConnection, source: Source, start: int) -> bool:
    found = connection.execute(
        f"SELECT count(*) FROM in_{source.sheet.name} WHERE faulty AND record >= {start}"
    ).fetchall()
    return bool(found[0][0])


def _report_cells(
    connection: duckdb.DuckDBPyConnection, source: Source, style: Style, start: int, judgement: Judgement
) -> None:
    if not _any_faulty(connection, source, start):
        return
    cells = _cells(source, style)
    texts = ", ".join(f"t{number}" for number in range(len(cells.columns)))
    faults = ", ".join(f"{fault} AS f{number}" for number, fault in enumerate(cells.faults()))
    connection.execute(
        "CREATE OR REPLACE TEMP TABLE faulty_cells AS SELECT * FROM"
        f" (SELECT row_number() OVER () - 1 AS record, {texts}, {faults}, {cells.faulty()} AS faulty"
        f" FROM ({cells.inner()})) WHERE faulty",
        list(cells.parameters),
    )
    for number, column in enumerate(cells.columns):
        rows = connection.execute(
            f"SELECT record, t{number}, f{number}, count(*) OVER () FROM faulty_cells"
            f" WHERE f{number} > 0 ORDER BY record LIMIT {MOST_LISTED}"
        ).fetchall()
        if rows:
            problems = [
                Recorded(start + record, _cell_problem(source, column, text, Fault(fault)))
                for record, text, fault, _ in rows
            ]
            judgement.errors.add_records(problems, rows[0][3])
    connection.execute("DROP TABLE faulty_cells")


def _cell_problem(source: Source, column: Column, text: str | None, fault: Fault) -> SheetProblem:
    rule, repair = explain(column, fault, text)
    return SheetProblem(source.sheet.name, 0, column.name, shown(text), rule, repair)


def _warn_of_unnamed(connection: duckdb.DuckDBPyConnection, source: Source, judgement: Judgement) -> None:
    """Names columns without a heading that hold something; empty ones are of no interest."""
    unnamed = source.headings.unnamed
    if not unnamed:
        return
    cells = _cells(source, Style())
    counts = ", ".join(f"count(nullif({trimmed_sql(f'c{number}')}, ''))" for number in unnamed)
    row = connection.execute(f"SELECT {counts} FROM {cells.reader}", [str(source.path)]).fetchall()[0]
    judgement.warnings.add(
        SheetProblem(
            source.sheet.name,
            source.heading_row,
            f"column {number + 1}",
            f"{count} cell{'' if count == 1 else 's'} in a column without a heading",
            "Only columns with a heading are read",
            "Give it a heading, or delete it",
        )
        for number, count in zip(unnamed, row, strict=True)
        if count
    )
