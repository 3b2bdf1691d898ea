"""Everything out as plain tables and everything back: the same rows, withdrawn ones, ledger and history."""

from __future__ import annotations

import csv
import json
import random
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from analytics.errors import InputRejected, StoreMissing, WrongUsage
from analytics.sheets.carry_over import carry_over
from analytics.sheets.contract import BY_NAME, SHEETS
from analytics.sheets.export import RECORDED, export
from analytics.sheets.health import check
from analytics.sheets.load import load
from analytics.store.audit import WITHDRAWN, begin_entry, finish_entry, record_change
from analytics.store.care import table_sums
from analytics.store.connection import change_count, create, reading, writing

_ODD = (
    "plain", "Wachteln Süd", "ウズラ", "a,b", 'the "big" one', "x|y", "back\\slash", "=1+1", "+49", "@home",
    "-", "'quoted'", "semi;colon", "tab\tin", "NULL", "0", "1e5", "é", "🐣", "a b", "true", "2026-03-14",
)  # fmt: skip
_ODDER = (
    *_ODD,
    "two\nlines",
    "two\r\nlines",
    '"',
    '""',
    ",",
    "'",
    "line\rreturn",
    "ends with \\",
    "#",
    "\u2028",
)


def _write(folder: Path, sheet: str, rows: list[dict[str, object]]) -> None:
    folder.mkdir(exist_ok=True)
    names = list(dict.fromkeys(name for row in rows for name in row))
    with (folder / f"{sheet}.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, names)
        writer.writeheader()
        writer.writerows(rows)


def _sheets(folder: Path, seed: int) -> None:
    """Random record sheets that break no rule, with labels and notes that plain text files trip over."""
    dice = random.Random(seed)
    pens, machines = dice.sample(_ODD, 6), dice.sample(_ODD, 3)
    batches, trays = dice.sample(_ODD, 4), dice.sample(_ODD, 5)

    def maybe(value: object) -> object:
        return value if dice.random() < 0.7 else ""

    def number(low: float, high: float) -> float:
        return dice.choice([round(dice.uniform(low, high), 1), dice.uniform(low, high), float(int(low) + 1)])

    def day(month: int) -> str:
        return f"2026-{month:02}-{dice.randrange(1, 29):02}"

    def moment(month: int) -> str:
        return day(month) + dice.choice(["", "T00:00", "T00:00:01", "T18:30", "T06:05:04", "T06:05:04.25"])

    _write(folder, "pens", [
        {"pen": pen, "species": "coturnix_quail", "line": maybe(dice.choice(_ODD)), "from": maybe(day(1)),
         "males": maybe(dice.randrange(5)), "notes": maybe(dice.choice(_ODDER))}
        for pen in pens
    ])  # fmt: skip
    _write(
        folder,
        "incubators",
        [{"incubator": m, "role": "both", "notes": dice.choice(_ODDER)} for m in machines],
    )
    _write(folder, "batches", [
        {"batch": batch, "incubator": dice.choice(machines), "set_on": moment(3),
         "transfer_on": maybe(moment(4)), "pulled_on": maybe(moment(5)), "notes": maybe(dice.choice(_ODDER))}
        for batch in batches
    ])  # fmt: skip
    _write(folder, "trays", [
        {"batch": batch, "tray": tray, "pen": dice.choice(pens), "storage_c": maybe(number(10, 20)),
         "eggs_set": 60, "hatched": maybe(dice.randrange(30)), "clear": maybe(dice.randrange(9)),
         "rotten": maybe(0), "notes": maybe(dice.choice(_ODDER))}
        for batch in batches for tray in trays
    ])  # fmt: skip
    _write(folder, "climate", [
        {"incubator": dice.choice(machines), "at": f"2026-03-{1 + i // 24:02}T{i % 24:02}:00",
         "temperature_c": maybe(number(36, 39)), "humidity_pct": maybe(number(40, 60))}
        for i in range(50)
    ])  # fmt: skip
    _write(folder, "changes", [
        {"changed_on": day(4), "scope": scope, "target": target, "what": what,
         "why": maybe(dice.choice(_ODDER))}
        for scope, target in (("pen", pens[0]), ("incubator", machines[0]), ("all", ""), ("storage", ""))
        for what in dice.sample(_ODD, 2)
    ])  # fmt: skip
    _write(folder, "opened_eggs", [
        {"batch": batches[0], "tray": tray, "egg": egg, "class": "late_dead", "malformed": maybe("yes"),
         "smell": maybe("no"), "shell_mm": maybe(number(0.1, 0.3)), "notes": maybe(dice.choice(_ODDER))}
        for tray in trays for egg in (1, 2)
    ])  # fmt: skip


def _lived(store: Path, folder: Path, seed: int) -> None:
    """A store with loads, corrections and withdrawals behind it."""
    _sheets(folder, seed)
    load(store, [folder], who="Ida")
    pens = list(csv.DictReader((folder / "pens.csv").open(encoding="utf-8", newline="")))
    pens[0] |= {"notes": "corrected\n", "males": "7"}
    _write(folder, "pens", pens)
    load(store, [folder], who='Jo, the "hen" man', accept_corrections=True)
    with writing(store) as connection:
        entry = begin_entry(connection, "withdraw", "penwise withdraw", "Ida", "counted\ntwice")
        for sheet in ("climate", "opened_eggs"):
            key = connection.execute(f"SELECT min(row_key) FROM {sheet}").fetchall()[0][0]
            connection.execute(f"UPDATE {sheet} SET withdrawn_in = ? WHERE row_key = ?", [entry, key])
            record_change(connection, entry, sheet, key, WITHDRAWN, None, entry)
        finish_entry(connection, entry, 0, 2, 0)


def _whole(store: Path) -> dict[str, list[tuple[object, ...]]]:
    """Every row of every table that belongs to the records."""
    with reading(store) as connection:
        return {
            name: connection.execute(f"SELECT * FROM {name} ORDER BY ALL").fetchall() for name in RECORDED
        }


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a past, and its export in the folder `out` beside it."""
    folder = tmp_path_factory.mktemp("lived")
    _lived(folder / "flock.duckdb", folder / "sheets", 7)
    export(folder / "flock.duckdb", folder / "out")
    return folder / "flock.duckdb"


@pytest.fixture
def out(lived: Path, tmp_path: Path) -> Path:
    """That export, to be changed."""
    return Path(shutil.copytree(lived.parent / "out", tmp_path / "out"))


@pytest.mark.parametrize("seed", range(3))
def test_an_export_loaded_into_an_empty_store_is_the_same_store(tmp_path: Path, seed: int) -> None:
    first, second = tmp_path / "first.duckdb", tmp_path / "second.duckdb"
    _lived(first, tmp_path / "sheets", seed)
    export(first, tmp_path / "out")
    report = load(second, [tmp_path / "out"])
    whole = _whole(second)
    assert whole == _whole(first)
    assert len(whole["history"]) >= 4
    assert change_count(second) == change_count(first) == 3
    assert report.entry_no is None
    with reading(first) as one, reading(second) as two:
        sums = table_sums(one), table_sums(two)
    assert {name: sums[0][name] for name in RECORDED} == {name: sums[1][name] for name in RECORDED}
    assert check(second).is_sound


def test_exporting_what_was_loaded_gives_the_same_files(out: Path, tmp_path: Path) -> None:
    load(tmp_path / "second.duckdb", [out])
    export(tmp_path / "second.duckdb", tmp_path / "two")
    files = sorted(path.relative_to(out) for path in out.rglob("*.*"))
    assert len(files) == 2 * len(SHEETS) + 4
    for name in files:
        assert (out / name).read_bytes() == (tmp_path / "two" / name).read_bytes(), name


def test_the_sheets_are_the_contract_with_iso_dates_and_blanks(
    tmp_path: Path, store_of: Callable[..., Path]
) -> None:
    batch, egg = {"incubator": "M", "set_on": "2026-03-14"}, {"batch": "B1", "tray": "T", "class": "rotten"}
    store = store_of(
        pens=[{"pen": "P,1", "species": "chicken", "from": "2026-03-01", "males": 0}],
        batches=[
            batch | {"batch": "B1", "pulled_on": "2026-04-01 18:30"},
            batch | {"batch": "B2", "set_on": "2026-03-14 00:00:09"},
        ],
        opened_eggs=[egg | {"egg": 1, "smell": True, "malformed": False}],
    )
    rows = export(store, tmp_path / "out")
    assert rows == {
        sheet.name: {"pens": 1, "batches": 2, "opened_eggs": 1}.get(sheet.name, 0) for sheet in SHEETS
    }
    for sheet in SHEETS:
        heading = (tmp_path / "out" / f"{sheet.name}.csv").read_text(encoding="utf-8").splitlines()[0]
        assert heading.split(",") == [column.name for column in BY_NAME[sheet.name].columns]
    assert (tmp_path / "out" / "pens.csv").read_text().splitlines()[1] == '"P,1",chicken,,,2026-03-01,,0,,'
    assert (tmp_path / "out" / "batches.csv").read_text().splitlines()[1:] == [
        "B1,M,,2026-03-14,,2026-04-01T18:30,",
        "B2,M,,2026-03-14T00:00:09,,,",
    ]
    assert (tmp_path / "out" / "opened_eggs.csv").read_text().splitlines()[1] == "B1,T,1,rotten,,,,no,yes,,"


def test_withdrawn_rows_are_in_the_record_only(out: Path) -> None:
    sheet = list(csv.reader((out / "climate.csv").open(newline="", encoding="utf-8")))
    record = list(csv.DictReader((out / "record" / "climate.csv").open(newline="", encoding="utf-8")))
    assert len(sheet) == 50
    assert len(record) == 50
    assert [row["withdrawn_in"] for row in record if row["withdrawn_in"]] == ["3"]


def test_corrected_sheets_of_an_export_are_corrections_on_top_of_the_record(
    lived: Path, out: Path, tmp_path: Path
) -> None:
    rows = list(csv.DictReader((out / "pens.csv").open(newline="", encoding="utf-8")))
    rows[1]["females"] = "12"
    _write(out, "pens", [*rows, dict.fromkeys(rows[0], "") | {"pen": "new", "species": "chicken"}])
    report = load(tmp_path / "second.duckdb", [out], accept_corrections=True)
    assert report.entry_no == 4
    assert change_count(tmp_path / "second.duckdb") == 4
    before, after = _whole(lived), _whole(tmp_path / "second.duckdb")
    assert set(before["history"]) < set(after["history"])
    assert set(before["ledger"]) < set(after["ledger"])
    assert len(after["pens"]) == len(before["pens"]) + 1


def test_a_store_that_goes_on_takes_the_sheets_and_names_the_record_as_ignored(
    lived: Path, out: Path
) -> None:
    before = _whole(lived)
    report = load(lived, [out])
    assert [name for name in report.ignored if "record" in name]
    assert not report.kept
    assert _whole(lived) == before


def test_a_store_whose_rows_were_all_withdrawn_comes_back_too(tmp_path: Path) -> None:
    store = tmp_path / "flock.duckdb"
    _sheets(tmp_path / "sheets", 6)
    load(store, [tmp_path / "sheets"])
    with writing(store) as connection:
        entry = begin_entry(connection, "withdraw", "x")
        for sheet in SHEETS:
            connection.execute(f"UPDATE {sheet.name} SET withdrawn_in = ?", [entry])
    export(store, tmp_path / "out")
    load(tmp_path / "second.duckdb", [tmp_path / "out"])
    assert _whole(tmp_path / "second.duckdb") == _whole(store)


def _flip_a_letter(path: Path) -> None:
    whole = path.read_bytes()
    path.write_bytes(whole[:-3] + bytes([whole[-3] ^ 1]) + whole[-2:])


@pytest.mark.parametrize(
    ("name", "damage"), [("ledger.csv", "gone"), ("trays.csv", "cut"), ("history.csv", "edited")]
)
def test_a_record_that_is_not_as_written_is_rejected_and_leaves_no_store(
    out: Path, tmp_path: Path, name: str, damage: str
) -> None:
    path = out / "record" / name
    if damage == "gone":
        path.unlink()
    elif damage == "cut":
        path.write_bytes(path.read_bytes()[:-30])
    else:
        _flip_a_letter(path)
    with pytest.raises(InputRejected) as refused:
        load(tmp_path / "second.duckdb", [out])
    assert f"record: {name} is" in refused.value.problems[0].sentence()
    assert not (tmp_path / "second.duckdb").exists()


@pytest.mark.parametrize(
    ("change", "words"),
    [({"schema": "penwise.record/2"}, "later penwise"), ({"schema_version": 99}, "later penwise"),
     ({"tables": {}}, "does not list every table"), ({"change_count": "many"}, "cannot be read")],
)  # fmt: skip
def test_a_list_that_does_not_fit_is_rejected(
    out: Path, tmp_path: Path, change: dict[str, object], words: str
) -> None:
    path = out / "record" / "record.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | change))
    create(tmp_path / "second.duckdb")
    with (
        pytest.raises(InputRejected) as refused,
        writing(tmp_path / "second.duckdb", may_read=[out]) as within,
    ):
        carry_over(within, out)
    assert words in refused.value.problems[0].sentence()
    assert change_count(tmp_path / "second.duckdb") == 0


def test_an_export_never_writes_into_a_folder_that_holds_something(tmp_path: Path) -> None:
    create(tmp_path / "flock.duckdb")
    with pytest.raises(WrongUsage, match="is there already"):
        export(tmp_path / "flock.duckdb", tmp_path)
    (tmp_path / "empty").mkdir()
    export(tmp_path / "flock.duckdb", tmp_path / "empty")
    with pytest.raises(WrongUsage):
        export(tmp_path / "flock.duckdb", tmp_path / "empty")


def test_an_export_that_fails_leaves_no_folder(tmp_path: Path) -> None:
    with pytest.raises(StoreMissing):
        export(tmp_path / "no.duckdb", tmp_path / "out")
    assert list(tmp_path.iterdir()) == []


def test_no_text_of_an_exported_sheet_runs_as_a_formula_and_each_comes_back(
    tmp_path: Path, store_of: Callable[..., Path]
) -> None:
    """What a spreadsheet would run (OWASP, CSV injection; from memory), without the record."""
    labels = ["=1+1", "+49", "-", "@home", "'=1", "'quoted'", "''@"]
    store = store_of(
        pens=[{"pen": label, "species": "chicken", "notes": "=HYPERLINK(1)"} for label in labels]
    )
    export(store, tmp_path / "out")
    with (tmp_path / "out" / "pens.csv").open(encoding="utf-8", newline="") as file:
        cells = [cell for row in csv.DictReader(file) for cell in (row["pen"], row["notes"])]
    assert len(cells) == 2 * len(labels)
    assert not [cell for cell in cells if cell.startswith(("=", "+", "-", "@"))]
    shutil.rmtree(tmp_path / "out" / "record")
    load(tmp_path / "second.duckdb", [tmp_path / "out"])
    with reading(tmp_path / "second.duckdb") as connection:
        found = connection.execute("SELECT pen, notes FROM pens ORDER BY rowid").fetchall()
    assert found == [(label, "=HYPERLINK(1)") for label in labels]
