"""README and DEVELOPERS.md say what is so: commands run, and figures stand as their tables have them."""

from __future__ import annotations

import ast
import csv
import re
import shlex
import shutil
from pathlib import Path

import pytest

from analytics.cli.main import run
from seed_demo.build import build_demo

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
SHOWN_ELSEWHERE = ("penwise serve", "penwise demo", "penwise passphrase")
"""Commands that stay open or ask; the browser's tests start them."""
LEDGER_ROWS = {
    "tiny": "tiny, prior",
    "tiny with home machines": "tiny with home machines, prior",
    "one machine": "one machine, prior",
    "small": "small, prior",
    "five steps": "five steps, prior",
    "uneven trays": "uneven trays, prior",
}
LINES = ("flock", "handling", "incubator", "season", "shared", "baseline", "causes", "pens")


def _commands() -> list[str]:
    rows = (line for line in README.splitlines() if line.startswith("|"))
    found = [command for row in rows for command in re.findall(r"`(penwise [^`]*)`", row)]
    return [command for command in found if not command.startswith(SHOWN_ELSEWHERE)]


@pytest.fixture(scope="module")
def smallholding(tmp_path_factory: pytest.TempPathFactory) -> Path:
    store = tmp_path_factory.mktemp("demo") / "demo.duckdb"
    build_demo(store)
    return store


@pytest.mark.slow
@pytest.mark.parametrize("command", _commands())
def test_every_line_of_the_readme_can_be_tried(
    command: str, smallholding: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("demo.duckdb", "demo.duckdb.tally"):
        shutil.copy(smallholding.with_name(name), tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PENWISE_STORE", str(tmp_path / "demo.duckdb"))
    (tmp_path / "log.csv").write_text("Time,Temp(C)\n2026-10-30 07:00,37.6\n2026-10-30 07:10,37.7\n")
    if "load my-sheets" in command:
        assert run(["blank", "my-sheets"]) == 0
    if "restore" in command:
        assert run(["backup", "FILE"]) == 0
    if "--data SET" in command:
        assert [run(["export", "SET", "--farm", farm]) for farm in ("Upper", "Lower")] == [0, 0]
    if "--keep" in command:
        Path("FOLDER").mkdir()
    assert run(shlex.split(command)[1:]) == 0


def test_every_command_is_in_the_readme() -> None:
    from analytics.cli.main import COMMANDS

    assert [name for name in COMMANDS if f"penwise {name}" not in README] == []


def test_a_page_is_opened_by_the_frame_and_looked_at_by_the_browser() -> None:
    app = (ROOT / "dashboard" / "app.py").read_text(encoding="utf-8")
    shown = re.findall(r"st\.Page\((\w+)\.show, [^)]*url_path=\"([^\"]+)\"(, default=True)?", app)
    files = {path.stem for path in (ROOT / "dashboard" / "pages").glob("[!_]*.py")}
    assert {page for page, _, _ in shown} == files
    browsed = ast.parse((ROOT / "tests" / "browser" / "test_every_page.py").read_text(encoding="utf-8"))
    pages = next(ast.literal_eval(one.value) for one in browsed.body
                 if isinstance(one, ast.Assign) and ast.unparse(one.targets[0]) == "PAGES")  # fmt: skip
    assert set(pages) == {"" if first else url for _, url, first in shown} - {"this-month"}


def test_a_rate_has_its_word_in_every_table_of_rates() -> None:
    from analytics.measures.ladder import MEASURES
    from analytics.sheets.contract import BY_NAME
    from analytics.store.cells import FAMILY_OF
    from analytics.studies.trend_words import BASES
    from analytics.studies.wording import MEASURE_NAMES
    from dashboard.words import MEANINGS

    aims = BY_NAME["targets"].by_name["measure"].choices
    for table in (aims, FAMILY_OF, BASES, MEASURE_NAMES, MEANINGS):
        assert set(table) == set(MEASURES)
    pairs = (ROOT / "analytics" / "store" / "clustering.sql").read_text(encoding="utf-8")
    assert [word for word in MEASURES if f"'{word}'" not in pairs] == []


def _table(name: str) -> list[dict[str, str]]:
    lines = (ROOT / "tests" / "simulation" / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_the_ledgers_table_stands_as_it_was_simulated() -> None:
    found = {(row["farms"], row["line"]): row for row in _table("ledger_coverage.csv")}
    for said, farms in LEDGER_ROWS.items():
        cells = re.search(rf"^\| {said} \|(.*)\|$", DEVELOPERS, re.MULTILINE)
        assert cells, said
        for line, cell in zip(LINES, cells[1].split("|"), strict=True):
            row = found.get((farms, line))
            wanted = f"{float(row['coverage']):.3f}".lstrip("0") if row else ""
            if row and line == "causes":
                wanted += f" ({float(row['bias']) * 100:+.1f} %)"
            assert cell.strip() == wanted, (said, line)


def test_every_simulated_figure_lies_within_its_limits() -> None:
    """What the scripts exit 1 for, asked of the committed tables."""
    missed = []
    for table in sorted((ROOT / "tests" / "simulation").glob("*.csv")):
        for row in _table(table.name):
            name = next((key for key in ("coverage", "share", "value", "difference") if key in row), "")
            if not name or not row.get("error"):
                continue
            figure, room = float(row[name]), 3.3 * float(row["error"])
            low, high = (float(row[end]) if row[end] else None for end in ("lowest", "highest"))
            if (low is not None and figure < low - room) or (high is not None and figure > high + room):
                missed.append((table.name, *list(row.values())[:2], row[name]))
    assert missed == []
