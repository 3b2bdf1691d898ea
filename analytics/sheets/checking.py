"""Checking a load as a whole, over the rows as they would be after it; every check is one question in SQL."""

# ruff: noqa: S608 - identifiers and conditions come from the contract and the rules
from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

import duckdb

from analytics.errors import SheetProblem
from analytics.sheets.contract import BY_NAME, REQUIRED_SHEETS, SHEETS
from analytics.sheets.cross_rules import CROSS_RULES, CrossRule
from analytics.sheets.findings import MOST_LISTED, Findings, Judgement, Recorded, Staged
from analytics.sheets.keys import normal_label, quoted, short_times_sql
from analytics.sheets.look_alikes import looks
from analytics.sheets.pedigree import report_loops
from analytics.sheets.references import Reference, references_of
from analytics.sheets.rows import NEW, SET_ASIDE, key_shown_sql
from analytics.sheets.rules import IN_STORE, ROW_RULES, RowRule, future_rules

LABELLED = {"pens": "pen", "incubators": "incubator", "batches": "batch", "birds": "bird"}
"""Sheets whose rows others name, with the column that names them."""
MOST_GUESSED = 50
"""Different unknown names for which a near one is looked for."""


def check_rows(
    connection: duckdb.DuckDBPyConnection,
    staged: Mapping[str, Staged],
    unread: frozenset[str],
    fahrenheit: bool,
    today: date,
    judgement: Judgement,
) -> None:
    """Reports everything that breaks a rule in the rows of a load.

    Args:
        connection: with `row_<sheet>` and `all_<sheet>`.
        staged: the sheets loaded.
        unread: sheets that could not be read; names of their rows are not judged.
        fahrenheit: whether the readings of climate were turned from °F.
        today: the day beyond which little is planned.
        judgement: where it goes.
    """
    for sheet in SHEETS:
        if sheet.name in staged:
            _check_row_rules(connection, staged[sheet.name], today, judgement)
            _check_references(connection, staged[sheet.name], unread, judgement)
    touched = [rule for rule in CROSS_RULES if any(place.sheet in staged for place in rule.places)]
    for rule in _broken(connection, touched):
        _report_cross_rule(connection, rule, judgement)
    if "birds" in staged:
        report_loops(connection, judgement)
    if "climate" in staged:
        _check_climate_units(connection, fahrenheit, judgement)
    for name in staged:
        _warn_of_set_aside(connection, name, judgement)
        if name in LABELLED:
            _warn_of_look_alikes(connection, name, LABELLED[name], judgement)


def check_first_load(
    connection: duckdb.DuckDBPyConnection, named: frozenset[str], judgement: Judgement
) -> None:
    """Reports required sheets that are not in the load, when nothing of them is in the store."""
    counts = " + ".join(f"(SELECT count(*) FROM {name})" for name in REQUIRED_SHEETS)
    if connection.execute(f"SELECT {counts}").fetchall()[0][0]:
        return
    for name in REQUIRED_SHEETS:
        if name not in named:
            problem = SheetProblem(
                name,
                0,
                "",
                "There is no such sheet, and the store is empty",
                f"A first load needs {', '.join(REQUIRED_SHEETS)}",
                f"Add a file {name}.csv (an empty one with its headings will do) or a worksheet {name}",
            )
            judgement.errors.add([problem])


def _into(judgement: Judgement, warning: bool) -> Findings:
    return judgement.warnings if warning else judgement.errors


def _check_row_rules(
    connection: duckdb.DuckDBPyConnection, staged: Staged, today: date, judgement: Judgement
) -> None:
    rules = [rule for rule in ROW_RULES if rule.sheet == staged.sheet]
    rules += future_rules(BY_NAME[staged.sheet], today)
    if not rules:
        return
    counts = ", ".join(f"count(*) FILTER (WHERE {rule.broken})" for rule in rules)
    broken = connection.execute(f"SELECT {counts} FROM row_{staged.sheet} r").fetchall()[0]
    for rule, total in zip(rules, broken, strict=True):
        if total:
            found = _row_problems(connection, rule, staged.given)
            _into(judgement, rule.warning).add_records(found, total)


def _row_problems(
    connection: duckdb.DuckDBPyConnection, rule: RowRule, given: frozenset[str]
) -> list[Recorded]:
    names = ", ".join(f"CASE WHEN r.{quoted(name)} IS NOT NULL THEN '{name}' END" for name in rule.columns)
    stored = {name: "" if name in given else f" || '{IN_STORE}'" for name in rule.columns}
    values = ", ".join(f"'{name} ' || r.{quoted(name)}{stored[name]}" for name in rule.columns)
    told = short_times_sql(f"concat_ws(', ', {values})")
    rows = connection.execute(
        f"SELECT record, concat_ws(', ', {names}), concat({told}{rule.together()}) FROM row_{rule.sheet} r"
        f" WHERE {rule.broken} ORDER BY record LIMIT {MOST_LISTED}"
    ).fetchall()
    return [
        Recorded(record, SheetProblem(rule.sheet, 0, columns, what, rule.rule, rule.repair))
        for record, columns, what in rows
    ]


def _broken(connection: duckdb.DuckDBPyConnection, rules: Sequence[CrossRule]) -> list[CrossRule]:
    """The rules that are broken somewhere; those over the same rows are looked at in one pass."""
    broken = []
    for source in dict.fromkeys(rule.source for rule in rules):
        together = [rule for rule in rules if rule.source == source]
        tests = ", ".join(f"bool_or(({rule.broken}) AND {_at(rule)} IS NOT NULL)" for rule in together)
        found = connection.execute(f"SELECT {tests} FROM {source}").fetchall()[0]
        broken += [rule for rule, is_broken in zip(together, found, strict=True) if is_broken]
    return broken


def _at(rule: CrossRule) -> str:
    """SQL of the record at which a rule is reported; NULL when none of its rows is loaded."""
    return f"coalesce({', '.join([*(place.record for place in rule.places), 'NULL'])})"


def _report_cross_rule(connection: duckdb.DuckDBPyConnection, rule: CrossRule, judgement: Judgement) -> None:
    places = rule.places
    which = " ".join(f"WHEN {place.record} IS NOT NULL THEN {number}" for number, place in enumerate(places))
    rows = connection.execute(
        f"SELECT CASE {which} END, {_at(rule)} AS at_record, {rule.given_sql()}, count(*) OVER ()"
        f" FROM {rule.source} WHERE ({rule.broken}) AND {_at(rule)} IS NOT NULL"
        f" ORDER BY at_record LIMIT {MOST_LISTED}"
    ).fetchall()
    problems = [
        Recorded(
            record,
            SheetProblem(places[number].sheet, 0, places[number].columns, given, rule.rule, rule.repair),
        )
        for number, record, given, _ in rows
    ]
    _into(judgement, rule.warning).add_records(problems, rows[0][3])


def _check_references(
    connection: duckdb.DuckDBPyConnection, staged: Staged, unread: frozenset[str], judgement: Judgement
) -> None:
    for reference in references_of(BY_NAME[staged.sheet]):
        if reference.to not in unread and not (reference.to == "trays" and "batches" in unread):
            _check_reference(connection, reference, staged.told(reference.column), judgement)


def _check_reference(
    connection: duckdb.DuckDBPyConnection, reference: Reference, told: bool, judgement: Judgement
) -> None:
    """Reports names that no row has; a name that was told once for the whole load is reported once."""
    known_batch = ""
    if reference.to == "trays":
        known_batch = " AND EXISTS (SELECT 1 FROM all_batches b WHERE b.batch = r.batch)"
    parts = ", ".join(f"r.{quoted(part)}" for part in reference.parts)
    connection.execute(
        f"CREATE OR REPLACE TEMP TABLE strangers AS SELECT r.* FROM (SELECT DISTINCT {parts}"
        f" FROM row_{reference.sheet} r WHERE fate <> '{SET_ASIDE}' AND {reference.given()}) r"
        f" WHERE NOT EXISTS (SELECT 1 FROM all_{reference.to} k WHERE {reference.same('k')}){known_batch}"
    )
    if not connection.execute("SELECT count(*) FROM strangers").fetchall()[0][0]:
        return
    near = _near_names(connection, reference)
    if told:
        names = connection.execute("SELECT * FROM strangers ORDER BY ALL").fetchall()
        judgement.errors.add(
            _stranger(reference, tuple(name), near.get(tuple(name), ""), told=True) for name in names
        )
        return
    same = " AND ".join(f"r.{quoted(part)} = d.{quoted(part)}" for part in reference.parts)
    rows = connection.execute(
        f"SELECT r.record, {parts}, count(*) OVER () FROM row_{reference.sheet} r JOIN strangers d ON {same}"
        f" WHERE {reference.given()} ORDER BY r.record LIMIT {MOST_LISTED}"
    ).fetchall()
    problems = [
        Recorded(record, _stranger(reference, tuple(names), near.get(tuple(names), "")))
        for record, *names, _ in rows
    ]
    judgement.errors.add_records(problems, rows[0][-1])


def _near_names(connection: duckdb.DuckDBPyConnection, reference: Reference) -> dict[tuple[str, ...], str]:
    """For unknown names, the known one that takes fewest letters to reach, if it is near enough."""
    label = quoted(reference.target_parts[-1])
    column = quoted(reference.column)
    parts = ", ".join(f"d.{quoted(part)}" for part in reference.parts)
    batch = "AND k.batch = d.batch" if reference.to == "trays" else ""
    letters = f"damerau_levenshtein(lower(d.{column}), lower(k.{label}))"
    rows = connection.execute(
        f"SELECT {parts}, arg_min(k.{label}, ({letters}, k.{label})), min({letters})"
        f" FROM (SELECT * FROM strangers ORDER BY ALL LIMIT {MOST_GUESSED}) d"
        f" JOIN all_{reference.to} k ON abs(strlen(d.{column}) - strlen(k.{label})) <= 3 {batch}"
        f" GROUP BY {parts}"
    ).fetchall()
    return {
        tuple(names): nearest
        for *names, nearest, letters in rows
        if letters <= max(1, len(normal_label(names[-1])) // 3)
    }


_ONE_OF = {"pens": "pen", "incubators": "incubator", "batches": "batch", "birds": "bird", "trays": "tray"}


def _stranger(reference: Reference, names: tuple[str, ...], near: str, *, told: bool = False) -> SheetProblem:
    what = _ONE_OF[reference.to]
    where = f" in batch {names[0]}" if reference.to == "trays" else ""
    hint = f"Did you mean {what} `{near}`? " if near else ""
    if near and looks(names[-1]) == looks(near):
        hint += "Letters here only look like its letters. "
    return SheetProblem(
        reference.sheet,
        0,
        reference.column,
        f"{what} `{names[-1]}`{where} is unknown",
        f"{reference.column} names a row of {reference.to}",
        f"{hint}{'Give its label with --incubator' if told else 'Use its label there'},"
        f" or add it to {reference.to}",
    )


def _check_climate_units(
    connection: duckdb.DuckDBPyConnection, fahrenheit: bool, judgement: Judgement
) -> None:
    """Whole loggers in another unit; a single odd reading is a sensor's fault and is set aside later."""
    rows = connection.execute(
        "SELECT incubator, count_if(temperature_c > 60 AND temperature_c <> 85) * 2 > count(temperature_c),"
        " count_if(temperature_c < 10) * 2 > count(temperature_c),"
        " count_if(humidity_pct > 0 AND humidity_pct <= 1) * 2 > count(humidity_pct),"
        " round(median(temperature_c), 1), round(median(humidity_pct), 2)"
        " FROM row_climate GROUP BY incubator ORDER BY incubator"
    ).fetchall()
    for incubator, hot, cold, share, temperature, humidity in rows:
        if hot:
            judgement.errors.add([_unit(incubator, "temperature_c", temperature, "°F", "with --fahrenheit")])
        if cold and fahrenheit:
            repair = "without --fahrenheit"
            judgement.errors.add([_unit(incubator, "temperature_c", temperature, "°C taken for °F", repair)])
        if share:
            repair = "after multiplying it by 100"
            judgement.errors.add([_unit(incubator, "humidity_pct", humidity, "a share of one", repair)])


def _unit(incubator: str, column: str, middle: float, looks_like: str, repair: str) -> SheetProblem:
    unit = "°C" if column == "temperature_c" else "%"
    return SheetProblem(
        "climate",
        0,
        column,
        f"The readings of {incubator} lie around {middle:g}",
        f"{column} is in {unit}, and this looks like {looks_like}",
        f"Load it {repair}",
    )


def _warn_of_look_alikes(
    connection: duckdb.DuckDBPyConnection, name: str, label: str, judgement: Judgement
) -> None:
    """New labels in other letters that look just like another label; hardly any store has some."""
    strange = connection.execute(
        f"SELECT record, {label}, row_key FROM row_{name} WHERE fate = '{NEW}'"
        f" AND strlen({label}) > length({label}) ORDER BY record LIMIT {MOST_LISTED}"
    ).fetchall()
    if not strange:
        return
    known = connection.execute(f"SELECT {label} FROM all_{name} WHERE {label} IS NOT NULL").fetchall()
    alike: dict[str, set[str]] = {}
    for (other,) in known:
        alike.setdefault(looks(other), set()).add(other)
    problems = [
        Recorded(
            record,
            SheetProblem(
                name,
                0,
                label,
                f"`{given}` looks like `{others[0]}`, and is written with other letters",
                f"Two labels that are written differently are two {name}",
                "If they are one, write them alike; else nothing to do",
            ),
        )
        for record, given, _ in strange
        if (others := sorted(o for o in alike[looks(given)] if normal_label(o) != normal_label(given)))
    ]
    judgement.warnings.add_records(problems, len(problems))


def _warn_of_set_aside(connection: duckdb.DuckDBPyConnection, name: str, judgement: Judgement) -> None:
    rows = connection.execute(
        f"SELECT record, {key_shown_sql(BY_NAME[name], 'r')}, count(*) OVER () FROM row_{name} r"
        f" WHERE fate = '{SET_ASIDE}' ORDER BY record LIMIT {MOST_LISTED}"
    ).fetchall()
    if rows:
        problems = [
            Recorded(
                record,
                SheetProblem(
                    name,
                    0,
                    ", ".join(BY_NAME[name].key),
                    f"`{shown}` was withdrawn, and comes again with the same values",
                    "A withdrawn row stays withdrawn until it comes with other values",
                    "Delete it from the sheet, or mend what was wrong with it",
                ),
            )
            for record, shown, _ in rows
        ]
        judgement.warnings.add_records(problems, rows[0][2])
