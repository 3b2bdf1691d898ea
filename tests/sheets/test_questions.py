"""SQL: values are parameters, in every question that is asked and in the source as it is written."""

from __future__ import annotations

import ast
import re
from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from analytics.options import Selection
from analytics.sheets.export import export
from analytics.sheets.health import check
from analytics.sheets.history import find_rows, history
from analytics.sheets.noting import note
from analytics.sheets.withdraw import bring_back, withdraw
from analytics.store import engine
from analytics.studies.batch import one_batch
from analytics.studies.month import month_review
from analytics.studies.pens import pen_comparison
from analytics.values import Period

ROOT = Path(__file__).parents[2]
EVIL = "x'); DROP TABLE pens; --"
MACHINE = "y" + EVIL
MARK = "DROP TABLE pens"
ASKING = {"execute", "executemany", "sql", "query", "from_query"}
SQL = re.compile(r"\b(SELECT|INSERT INTO|UPDATE|DELETE FROM|CREATE|DROP|ALTER|COPY|WHERE|FROM|VALUES)\b")
OWN_WORDS = {"sheet.name", "column.name", "source.delimiter", "found.name"}
"""What may stand between quotes besides our own constants: words of the contract, one of four delimiters."""


class Listening:
    """A connection that writes down what it is asked."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, asked: list[str]) -> None:
        self._connection = connection
        self._asked = asked

    def execute(self, question: str, *values: Any) -> Any:
        self._asked.append(question)
        return self._connection.execute(question, *values)

    def executemany(self, question: str, *values: Any) -> Any:
        self._asked.append(question)
        return self._connection.executemany(question, *values)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._connection, name)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Every question that is asked of a store while the test runs."""
    questions: list[str] = []
    connect = engine._connect
    monkeypatch.setattr(engine, "_connect", lambda *given: Listening(connect(*given), questions))
    return questions


def test_no_value_ever_stands_in_a_question(farm, asked, tmp_path) -> None:  # type: ignore[no-untyped-def]
    """Labels, notes, reasons, names of files and filters that would drop a table if they were SQL."""
    evil = [{"pen": EVIL, "species": "coturnix_quail", "line": EVIL, "notes": EVIL}]
    batch = [{"batch": EVIL, "incubator": MACHINE, "set_on": "2026-03-01", "pulled_on": "2026-03-19"}]
    tray = [{"batch": EVIL, "tray": EVIL, "pen": EVIL, "eggs_set": "50", "hatched": "38", "infertile": "2"}]
    farm.small(pens=evil, incubators=[{"incubator": MACHINE, "role": "both"}], batches=batch, trays=tray)
    farm.sheets.rename(farm.sheets.with_name(EVIL))
    farm.sheets = farm.sheets.with_name(EVIL)
    assert farm.load(who=EVIL).added > 8
    corrected = farm.write("trays", [{**tray[0], "hatched": "37"}])
    assert farm.load(corrected, accept_corrections=True).corrected
    key = (EVIL, EVIL)
    withdraw(farm.store, "trays", key, EVIL, EVIL)
    bring_back(farm.store, "trays", key, EVIL, EVIL)
    note(farm.store, EVIL, date(2026, 3, 2), EVIL, EVIL, EVIL)
    assert len(history(farm.store, "trays", key).changes) >= 3
    assert find_rows(farm.store, "pens", EVIL).rows
    assert check(farm.store).ailments == ()
    only = Selection(Period(None, None), (), (EVIL,), (MACHINE,))
    month_review(farm.store, None, only, date(2026, 4, 1))
    pen_comparison(farm.store, "fertility", only)
    one_batch(farm.store, EVIL, date(2026, 4, 1))
    export(farm.store, tmp_path / "out")
    assert farm.ask("SELECT pen, notes FROM pens WHERE pen = ?", EVIL) == [(EVIL, EVIL)]
    assert farm.ask("SELECT count(*) FROM pens") == [(4,)]
    assert len(asked) > 300
    assert [question for question in asked if MARK in question] == []


def _parts_between_quotes(text: ast.JoinedStr) -> list[str]:
    """What is put into a question directly after a quotation mark."""
    before = ""
    found = []
    for part in text.values:
        if isinstance(part, ast.Constant):
            before = str(part.value)
            continue
        assert isinstance(part, ast.FormattedValue)
        if before.endswith("'") or part.conversion != -1:
            found.append(ast.unparse(part.value))
        before = ""
    return found


def _is_ours(written: str) -> bool:
    return written.isupper() or written in OWN_WORDS


def _sources() -> list[Path]:
    return sorted(
        path for place in ("store", "sheets") for path in (ROOT / "analytics" / place).rglob("*.py")
    )


@pytest.mark.parametrize("path", _sources(), ids=lambda path: path.stem)
def test_questions_are_written_with_places_for_values(path: Path) -> None:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.JoinedStr):
            fixed = "".join(str(part.value) for part in node.values if isinstance(part, ast.Constant))
            foreign = [one for one in _parts_between_quotes(node) if not _is_ours(one)]
            assert not (SQL.search(fixed) and foreign), (node.lineno, foreign)
        is_call = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        if is_call and node.func.attr in ASKING and node.args:  # type: ignore[union-attr]
            question = node.args[0]  # type: ignore[union-attr]
            assert not isinstance(question, ast.BinOp) or not isinstance(question.op, ast.Mod), node.lineno
            formatted = isinstance(question, ast.Call) and getattr(question.func, "attr", "") == "format"
            assert not formatted, node.lineno


@pytest.mark.parametrize(
    "line",
    [
        "c.execute(f\"SELECT * FROM pens WHERE pen = '{pen}'\")",
        "c.execute(f'SELECT * FROM pens WHERE pen = {pen!r}')",
        "c.execute(\"SELECT * FROM pens WHERE pen = '%s'\" % pen)",
        "c.execute(\"SELECT * FROM pens WHERE pen = '{}'\".format(pen))",
    ],
)
def test_the_look_at_the_source_finds_what_it_looks_for(line: str, tmp_path: Path) -> None:
    bad = tmp_path / "bad.py"
    bad.write_text(line)
    with pytest.raises(AssertionError):
        test_questions_are_written_with_places_for_values(bad)


def test_duckdb_is_opened_where_it_is_locked_and_nowhere_else() -> None:
    opening = [
        path.relative_to(ROOT)
        for place in ("analytics", "dashboard", "seed_demo")
        for path in (ROOT / place).rglob("*.py")
        if "duckdb.connect(" in path.read_text(encoding="utf-8")
    ]
    for path in opening:
        text = (ROOT / path).read_text(encoding="utf-8")
        assert re.search(r"enable_external_access\W+false", text), path
        assert re.search(r"lock_configuration\W+true", text), path
    assert Path("analytics/store/engine.py") in opening
