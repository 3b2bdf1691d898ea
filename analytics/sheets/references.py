"""Which cells name a row of another sheet, and what that row's own spelling is."""

# ruff: noqa: S608 - identifiers come from the contract, values are parameters
from __future__ import annotations

from dataclasses import dataclass

import duckdb

from analytics.sheets.contract import BY_NAME, SHEETS, Sheet
from analytics.sheets.keys import JOIN, escaped_sql, label_sql, quoted


@dataclass(frozen=True, slots=True)
class Reference:
    """One way in which a sheet's rows name rows of another.

    Attributes:
        sheet: sheet whose rows name something.
        column: the column whose cell is the name.
        to: sheet of the rows named.
        parts: columns that together name a row there, in the order of its key.
        when: SQL condition under which the cell names such a row, over the alias `r`; "" = always.
    """

    sheet: str
    column: str
    to: str
    parts: tuple[str, ...]
    when: str = ""

    @property
    def target_parts(self) -> tuple[str, ...]:
        """The key columns of the rows named."""
        return BY_NAME[self.to].key

    def given(self) -> str:
        """SQL condition that a row `r` names something."""
        tests = [f"r.{quoted(part)} IS NOT NULL" for part in self.parts] + ([self.when] if self.when else [])
        return " AND ".join(tests)

    def same(self, target: str) -> str:
        """SQL condition that the row `r` names the row with the alias given, spelling alike."""
        pairs = zip(self.parts, self.target_parts, strict=True)
        return " AND ".join(f"r.{quoted(part)} = {target}.{quoted(name)}" for part, name in pairs)


def references_of(sheet: Sheet) -> tuple[Reference, ...]:
    """Every way in which rows of the sheet name rows of others."""
    found = [
        Reference(sheet.name, column.name, column.refers_to, (column.name,))
        for column in sheet.columns
        if column.refers_to
    ]
    if "tray" in sheet.by_name and sheet.name != "trays":
        found.append(Reference(sheet.name, "tray", "trays", ("batch", "tray")))
    if sheet.name == "changes":
        found.append(Reference("changes", "target", "pens", ("target",), "r.scope = 'pen'"))
        found.append(Reference("changes", "target", "incubators", ("target",), "r.scope = 'incubator'"))
    return tuple(found)


def references_to(name: str) -> tuple[Reference, ...]:
    """Every way in which rows of any sheet name rows of this one."""
    return tuple(reference for sheet in SHEETS for reference in references_of(sheet) if reference.to == name)


def make_known(connection: duckdb.DuckDBPyConnection, name: str, loaded: bool) -> None:
    """Makes `known_<sheet>`: each row key of store and load with the spelling that counts, the store's first.

    Args:
        connection: with `in_<sheet>` if that sheet is loaded.
        name: the sheet.
        loaded: whether it is.
    """
    label = quoted(BY_NAME[name].key[-1])
    stored = f"SELECT row_key, {label} AS label FROM {name}"
    staged = (
        f" UNION ALL SELECT row_key, min({label}) FROM in_{name} i WHERE row_key IS NOT NULL"
        f" AND NOT EXISTS (SELECT 1 FROM {name} s WHERE s.row_key = i.row_key) GROUP BY row_key"
    )
    connection.execute(f"CREATE OR REPLACE TEMP TABLE known_{name} AS {stored}{staged if loaded else ''}")


def make_spelling(connection: duckdb.DuckDBPyConnection, reference: Reference, number: int) -> bool:
    """Makes `spelling_<number>`: each way a name is written in `in_<sheet>`, with the spelling that counts.

    Returns:
        Whether any differs.
    """
    parts = ", ".join(f"r.{quoted(part)}" for part in reference.parts)
    key = f" || '{JOIN}' || ".join(escaped_sql(label_sql(f"d.{quoted(part)}")) for part in reference.parts)
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE spelling_{number} AS SELECT d.*, k.label FROM"
        f" (SELECT DISTINCT {parts} FROM in_{reference.sheet} r WHERE {reference.given()}) d"
        f" JOIN known_{reference.to} k ON k.row_key = {key}"
    )
    differing = connection.execute(
        f"SELECT count(*) FROM spelling_{number} WHERE label <> {quoted(reference.column)}"
    ).fetchall()
    return bool(differing[0][0])
