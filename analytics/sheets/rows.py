"""The rows of a load beside those of the store: new, the same, changed; and both together.

For every sheet loaded there is `row_<sheet>`: `record`, `fate`, the row as it would be kept (names in the
spelling of the row they name, columns that the file does not have as the store has them) and `row_key`. For
every sheet there is `all_<sheet>`: the live rows as they would be after the load; `record` is NULL for those
that are not loaded.
"""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from collections.abc import Mapping

import duckdb

from analytics.errors import SheetProblem
from analytics.sheets.contract import SHEETS, Column, Kind, Sheet
from analytics.sheets.findings import MOST_LISTED, Judgement, Recorded, Staged
from analytics.sheets.keys import moment_sql, quoted
from analytics.sheets.references import Reference, make_known, make_spelling, references_of

NEW, SAME, CHANGED = "new", "same", "changed"
SET_ASIDE = "set_aside"
"""Fate of a row that was withdrawn and comes again unchanged: it stays withdrawn."""
TAKEN_UP = "taken_up"
"""Fate of a row that was withdrawn and comes again with other values: a correction that makes it live."""


def settle_rows(
    connection: duckdb.DuckDBPyConnection, staged: Mapping[str, Staged], judgement: Judgement
) -> None:
    """Makes `row_<sheet>` for each sheet loaded and `all_<sheet>` for every sheet."""
    for sheet in SHEETS:
        if sheet.name in staged:
            _report_repeats(connection, sheet, judgement)
    referred = {
        reference.to for sheet in SHEETS if sheet.name in staged for reference in references_of(sheet)
    }
    for name in referred:
        make_known(connection, name, loaded=name in staged)
    for sheet in SHEETS:
        if sheet.name in staged:
            _make_rows(connection, sheet, staged[sheet.name].given)
        _make_all(connection, sheet, loaded=sheet.name in staged)


def settle_stored(connection: duckdb.DuckDBPyConnection, sheet: Sheet, row_key: str) -> None:
    """Makes `row_<sheet>` of one row of the store as if it were loaded, and `all_<sheet>` of every sheet."""
    names = ", ".join(quoted(column.name) for column in sheet.columns)
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE row_{sheet.name} AS SELECT 0::BIGINT AS record,"
        f" '{TAKEN_UP}' AS fate, {names}, row_key FROM {sheet.name} WHERE row_key = ?",
        [row_key],
    )
    for each in SHEETS:
        _make_all(connection, each, loaded=each is sheet)


def text_sql(column: Column, expression: str) -> str:
    """SQL of a value as text: ISO times, plain numbers, true and false."""
    return moment_sql(expression) if column.kind is Kind.MOMENT else f"CAST({expression} AS VARCHAR)"


def key_shown_sql(sheet: Sheet, alias: str) -> str:
    """SQL of a row's key as a reader is shown it."""
    parts = [text_sql(sheet.by_name[name], f"{alias}.{quoted(name)}") for name in sheet.key]
    return f"concat_ws(', ', {', '.join(parts)})"


def compared(sheet: Sheet, given: frozenset[str]) -> list[Column]:
    """The columns in which a loaded row may differ from the store's row of the same key."""
    return [column for column in sheet.columns if column.name in given and column.name not in sheet.key]


def _report_repeats(connection: duckdb.DuckDBPyConnection, sheet: Sheet, judgement: Judgement) -> None:
    table = f"in_{sheet.name}"
    if not _repeats(connection, table):
        return
    if sheet.name == "climate":
        _drop_identical(connection, sheet, judgement)
    numbered = (
        f"SELECT record, {key_shown_sql(sheet, 'i')} AS shown,"
        f" min(record) OVER (PARTITION BY row_key) AS first FROM {table} i WHERE row_key IS NOT NULL"
    )
    rows = connection.execute(
        f"SELECT record, first, shown, count(*) OVER () FROM ({numbered})"
        f" WHERE record > first ORDER BY record LIMIT {MOST_LISTED}"
    ).fetchall()
    if rows:
        problems = [Recorded(record, _repeated(sheet, shown), first) for record, first, shown, _ in rows]
        judgement.errors.add_records(problems, rows[0][3])


def _repeats(connection: duckdb.DuckDBPyConnection, table: str) -> bool:
    row = connection.execute(f"SELECT count(row_key) > count(DISTINCT row_key) FROM {table}").fetchall()
    return bool(row[0][0])


def _repeated(sheet: Sheet, shown: str) -> SheetProblem:
    repair = "Delete one of the rows, or give one another label"
    if sheet.name == "climate":
        repair = "Delete one; when summer time ends an hour is written twice: delete the second"
    return SheetProblem(
        sheet.name,
        0,
        ", ".join(sheet.key),
        f"`{shown}`",
        f"A row of {sheet.name} is named by {', '.join(sheet.key)}, and stands there once",
        repair,
    )


def _drop_identical(connection: duckdb.DuckDBPyConnection, sheet: Sheet, judgement: Judgement) -> None:
    """Loggers' files overlap: a reading that was read already, the same, is no second reading."""
    values = ", ".join(quoted(column.name) for column in sheet.columns if column.name not in sheet.key)
    numbered = (
        f"SELECT record, row_number() OVER (PARTITION BY row_key, {values} ORDER BY record) AS n"
        f" FROM in_{sheet.name} WHERE row_key IS NOT NULL"
    )
    dropped = connection.execute(
        f"DELETE FROM in_{sheet.name} WHERE record IN (SELECT record FROM ({numbered}) WHERE n > 1)"
    ).fetchall()[0][0]
    if dropped:
        warning = SheetProblem(
            sheet.name,
            0,
            "",
            f"{dropped} reading{'' if dropped == 1 else 's'} stood there before, with the same values",
            "A reading counts once",
            "Nothing to do",
        )
        judgement.warnings.add([warning])


def _make_rows(connection: duckdb.DuckDBPyConnection, sheet: Sheet, given: frozenset[str]) -> None:
    spellings = [
        (number, reference)
        for number, reference in enumerate(references_of(sheet))
        if reference.column in given and make_spelling(connection, reference, number)
    ]
    stored = connection.execute(f"SELECT count(*) > 0 FROM {sheet.name}").fetchall()[0][0]
    if spellings or stored:
        _make_compared(connection, sheet, given, spellings)
        return
    names = ", ".join(quoted(column.name) for column in sheet.columns)
    connection.execute(
        f"CREATE OR REPLACE TEMP VIEW row_{sheet.name} AS"
        f" SELECT record, '{NEW}' AS fate, {names}, row_key FROM in_{sheet.name} WHERE row_key IS NOT NULL"
    )


def _make_compared(
    connection: duckdb.DuckDBPyConnection,
    sheet: Sheet,
    given: frozenset[str],
    spellings: list[tuple[int, Reference]],
) -> None:
    kept = {column.name: _kept(sheet, column, given, spellings) for column in sheet.columns}
    values = ", ".join(f"{value} AS {quoted(name)}" for name, value in kept.items())
    differs = " OR ".join(
        f"{kept[column.name]} IS DISTINCT FROM s.{quoted(column.name)}" for column in compared(sheet, given)
    )
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE row_{sheet.name} AS SELECT r.record, CASE"
        f" WHEN s.row_key IS NULL THEN '{NEW}'"
        f" WHEN NOT ({differs or 'FALSE'})"
        f" THEN CASE WHEN s.withdrawn_in IS NULL THEN '{SAME}' ELSE '{SET_ASIDE}' END"
        f" WHEN s.withdrawn_in IS NULL THEN '{CHANGED}' ELSE '{TAKEN_UP}' END AS fate,"
        f" {values}, r.row_key FROM in_{sheet.name} r"
        f" LEFT JOIN {sheet.name} s ON s.row_key = r.row_key {_joins(spellings)}"
        " WHERE r.row_key IS NOT NULL"
    )


def _kept(sheet: Sheet, column: Column, given: frozenset[str], spellings: list[tuple[int, Reference]]) -> str:
    """SQL of a column as the load would keep it, over `in_` as r, the store as s, the spellings as m<n>."""
    name = quoted(column.name)
    if column.name not in given:
        return f"s.{name}"
    labels = [f"m{number}.label" for number, reference in spellings if reference.column == column.name]
    if column.name in sheet.key:
        return f"coalesce(s.{name}, {', '.join([*labels, f'r.{name}'])})"
    return f"coalesce({', '.join([*labels, f'r.{name}'])})" if labels else f"r.{name}"


def _joins(spellings: list[tuple[int, Reference]]) -> str:
    joins = []
    for number, reference in spellings:
        same = " AND ".join(f"r.{quoted(part)} = m{number}.{quoted(part)}" for part in reference.parts)
        also = f" AND {reference.when}" if reference.when else ""
        joins.append(f"LEFT JOIN spelling_{number} m{number} ON {same}{also}")
    return " ".join(joins)


def _make_all(connection: duckdb.DuckDBPyConnection, sheet: Sheet, *, loaded: bool) -> None:
    names = ", ".join(quoted(column.name) for column in sheet.columns)
    stored = f"SELECT NULL::BIGINT AS record, {names}, row_key FROM {sheet.name} s WHERE withdrawn_in IS NULL"
    if loaded:
        stored += f" AND NOT EXISTS (SELECT 1 FROM row_{sheet.name} r WHERE r.row_key = s.row_key)"
        stored += (
            f" UNION ALL SELECT record, {names}, row_key FROM row_{sheet.name} WHERE fate <> '{SET_ASIDE}'"
        )
    connection.execute(f"CREATE OR REPLACE TEMP VIEW all_{sheet.name} AS {stored}")


def fates(connection: duckdb.DuckDBPyConnection, name: str) -> dict[str, int]:
    """How many rows of a sheet loaded have each fate."""
    rows = connection.execute(f"SELECT fate, count(*) FROM row_{name} GROUP BY fate").fetchall()
    return {str(fate): int(number) for fate, number in rows}
