"""What a load keeps, what it leaves alone, what it corrects, and that a rejected one leaves no trace."""

from __future__ import annotations

import errno
from hashlib import sha256
from pathlib import Path

import pytest

from analytics.errors import InputRejected, StoreError, WrongUsage
from analytics.sheets import load as load_module
from analytics.sheets.export import export
from analytics.sheets.load import CorrectionsNotAccepted, LoadRejected, load
from analytics.sheets.withdraw import withdraw
from analytics.store.audit import history_of
from analytics.store.connection import change_count, create


def _trace(folder: Path) -> dict[str, str]:
    """Every file beside the store with its content."""
    return {path.name: sha256(path.read_bytes()).hexdigest() for path in folder.iterdir() if path.is_file()}


def test_a_first_load_makes_the_store(farm) -> None:  # type: ignore[no-untyped-def]
    report = farm.small().load(who="Ada")
    assert (report.added, report.unchanged, report.corrected, report.kept) == (10, 0, (), True)
    assert report.added_by_sheet == {"pens": 3, "incubators": 2, "batches": 2, "trays": 3}
    assert farm.ask("SELECT entry_no, kind, who, source, added, corrected, unchanged FROM ledger") == [
        (1, "load", "Ada", "pens.csv, incubators.csv, batches.csv, trays.csv", 10, 0, 0)
    ]
    assert report.entry_no == change_count(farm.store) == 1
    assert farm.ask("SELECT DISTINCT added_in, withdrawn_in FROM trays") == [(1, None)]
    assert sorted(_trace(farm.store.parent)) == ["farm.duckdb", "farm.duckdb.tally"]


def test_blank_is_not_recorded_and_never_zero(kept) -> None:  # type: ignore[no-untyped-def]
    found = kept.ask("SELECT hatched, culled, infertile, clear FROM trays ORDER BY row_key")
    assert found == [(38, 2, None, None), (25, None, 15, None), (30, None, None, None)]


def test_names_take_the_spelling_of_the_row_they_name(farm) -> None:  # type: ignore[no-untyped-def]
    tray = {"batch": "b1", "tray": "t9", "pen": " ROWAN", "eggs_set": "5"}
    opened = {"batch": "B1 ", "tray": "T9", "egg": "1", "class": "rotten"}
    change = {"changed_on": "2026-03-01", "scope": "pen", "target": "rowan", "what": "feed"}
    farm.small(trays=[tray], opened_eggs=[opened], changes=[change]).load()
    assert farm.ask("SELECT batch, tray, pen, row_key FROM trays WHERE eggs_set = 5") == [
        ("B1", "t9", "Rowan", "b1|t9")
    ]
    assert farm.ask("SELECT batch, tray FROM opened_eggs") == [("B1", "t9")]
    assert farm.ask("SELECT target FROM changes") == [("Rowan",)]


def test_the_same_again_changes_nothing(kept) -> None:  # type: ignore[no-untyped-def]
    before = _trace(kept.store.parent)
    report = kept.load()
    assert (report.added, report.unchanged, report.kept, report.entry_no) == (0, 10, False, None)
    assert _trace(kept.store.parent) == before


def test_other_case_in_a_key_is_the_same_row(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": "ROWAN", "species": "Coturnix quail"}])
    report = kept.load(kept.sheets / "pens.csv")
    assert (report.added, report.unchanged, report.corrected) == (0, 1, ())


def test_rows_left_out_stay(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": "Elder", "species": "chicken"}])
    assert kept.load(kept.sheets / "pens.csv").added == 1
    assert kept.ask("SELECT count(*) FROM pens") == [(4,)]


CORRECTED = [{"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "hatched": "37", "culled": ""}]


def test_a_correction_is_refused_and_shown(kept) -> None:  # type: ignore[no-untyped-def]
    path = kept.write("trays", CORRECTED)
    before = _trace(kept.store.parent)
    with pytest.raises(CorrectionsNotAccepted) as refused:
        kept.load(path)
    shown = [(c.row_key, c.row, c.column, c.old, c.new) for c in refused.value.report.corrected]
    assert shown == [("b1|t1", 2, "hatched", "38", "37"), ("b1|t1", 2, "culled", "2", None)]
    assert (refused.value.report.corrected_rows, refused.value.report.corrected_cells) == (1, 2)
    assert refused.value.exit_code == 3
    assert "--accept-corrections" in str(refused.value)
    assert _trace(kept.store.parent) == before


def test_an_accepted_correction_keeps_its_history(kept) -> None:  # type: ignore[no-untyped-def]
    report = kept.load(kept.write("trays", CORRECTED), accept_corrections=True, who="Ada")
    assert (report.added, report.corrected_rows, report.kept, report.entry_no) == (0, 1, True, 2)
    assert kept.ask("SELECT hatched, culled FROM trays WHERE row_key = 'b1|t1'") == [(37, None)]
    history = history_of(kept.store, "trays", "b1|t1")
    assert [(c.entry_no, c.who, c.column, c.old, c.new) for c in history] == [
        (2, "Ada", "hatched", "38", "37"),
        (2, "Ada", "culled", "2", None),
    ]
    assert kept.ask("SELECT added, corrected, unchanged FROM ledger WHERE entry_no = 2") == [(0, 1, 0)]
    assert kept.load(kept.sheets / "trays.csv").corrected == ()


def test_every_kind_of_value_is_kept_in_the_history(kept) -> None:  # type: ignore[no-untyped-def]
    egg = {"batch": "B1", "tray": "T1", "egg": "1", "class": "rotten", "smell": "yes", "shell_mm": "0.2"}
    kept.load(kept.write("opened_eggs", [egg]))
    kept.load(
        kept.write("opened_eggs", [{**egg, "smell": "no", "shell_mm": "0.25"}]), accept_corrections=True
    )
    batch = {"batch": "B1", "incubator": "north", "set_on": "2026-03-01T18:31", "pulled_on": "2026-03-19"}
    kept.load(kept.write("batches", [batch]), accept_corrections=True)
    changes = kept.ask(
        "SELECT sheet, column_name, old_value, new_value FROM history ORDER BY entry_no, rowid"
    )
    assert changes == [
        ("opened_eggs", "smell", "true", "false"),
        ("opened_eggs", "shell_mm", "0.2", "0.25"),
        ("batches", "set_on", "2026-03-01T18:30:00", "2026-03-01T18:31:00"),
    ]


def test_a_column_that_is_not_there_is_left_as_it_is(kept) -> None:  # type: ignore[no-untyped-def]
    columns = ("batch", "tray", "pen", "eggs_set", "rotten")
    row = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "rotten": "1"}
    report = kept.load(kept.write("trays", [row], columns), accept_corrections=True)
    assert report.corrected_cells == 1
    assert kept.ask("SELECT hatched, culled, rotten FROM trays WHERE row_key = 'b1|t1'") == [(38, 2, 1)]


def test_rules_see_the_columns_that_are_not_there(kept) -> None:  # type: ignore[no-untyped-def]
    """38 and 2 are recorded; 11 rotten in a file of its own make 51 of 50."""
    row = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "rotten": "11"}
    path = kept.write("trays", [row], ("batch", "tray", "pen", "eggs_set", "rotten"))
    (problem,) = kept.problems(path, accept_corrections=True)
    assert problem.column == "hatched, culled, rotten, eggs_set"


def test_a_corrected_batch_that_makes_an_old_tray_impossible_is_refused(farm) -> None:  # type: ignore[no-untyped-def]
    tray = {"batch": "B1", "tray": "T9", "pen": "Rowan", "eggs_set": "5", "laid_to": "2026-02-28"}
    farm.small(trays=[tray]).load()
    batch = {"batch": "B1", "incubator": "North", "set_on": "2026-02-20", "pulled_on": "2026-03-19"}
    (problem,) = farm.problems(farm.write("batches", [batch]), accept_corrections=True)
    assert (problem.sheet, problem.row, problem.column) == ("batches", 2, "set_on")
    assert "tray T9 of batch B1" in problem.given


def test_the_ledger_names_the_files_that_had_rows(farm) -> None:  # type: ignore[no-untyped-def]
    farm.small(lay=[], shells=[])
    farm.load()
    assert farm.ask("SELECT source FROM ledger") == [("pens.csv, incubators.csv, batches.csv, trays.csv",)]


def test_a_cell_that_cannot_be_read_is_no_correction(kept) -> None:  # type: ignore[no-untyped-def]
    row = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "hatched": "3o"}
    with pytest.raises(LoadRejected) as rejected:
        kept.load(kept.write("trays", [row]))
    report = rejected.value.report
    assert (report.corrected, report.corrected_rows, report.corrected_cells) == ((), 0, 0)


def test_a_loop_through_birds_of_the_store_is_refused(kept) -> None:  # type: ignore[no-untyped-def]
    birds = [{"bird": "A", "sex": "m"}, {"bird": "B", "sex": "m", "sire": "A"}]
    kept.load(kept.write("birds", birds))
    (problem,) = kept.problems(
        kept.write("birds", [{"bird": "A", "sex": "m", "sire": "B"}]), accept_corrections=True
    )
    assert problem.given == "A, whose parent is B, whose parent is A"


def test_an_old_count_between_new_ones_is_seen(kept) -> None:  # type: ignore[no-untyped-def]
    def count(hour: int, out: int) -> dict[str, str]:
        return {"batch": "B1", "counted_at": f"2026-03-18T{hour}:00", "out_so_far": str(out)}

    kept.load(kept.write("hatch_counts", [count(12, 5)]))
    (problem,) = kept.problems(kept.write("hatch_counts", [count(10, 6)]))
    assert (problem.sheet, problem.row) == ("hatch_counts", 2)
    assert kept.load(kept.write("hatch_counts", [count(10, 4), count(14, 9)])).added == 2


def test_a_rejected_load_leaves_no_trace(kept) -> None:  # type: ignore[no-untyped-def]
    before, rows = _trace(kept.store.parent), kept.everything()
    more = [{"pen": f"P{number}", "species": "chicken"} for number in range(500)]
    kept.write("pens", [*more, {"pen": "Q", "species": "griffin"}])
    (problem,) = kept.problems(kept.sheets / "pens.csv")
    assert (problem.row, problem.column) == (502, "species")
    assert _trace(kept.store.parent) == before
    assert kept.everything() == rows


def test_a_check_keeps_nothing(kept) -> None:  # type: ignore[no-untyped-def]
    before = _trace(kept.store.parent)
    kept.write("pens", [{"pen": "Elder", "species": "chicken"}, {"pen": "Rowan", "species": "chicken"}])
    report = kept.load(kept.sheets / "pens.csv", dry_run=True)
    assert (report.added, report.corrected_cells, report.kept) == (1, 1, False)
    assert _trace(kept.store.parent) == before


def test_a_first_check_makes_no_file(farm) -> None:  # type: ignore[no-untyped-def]
    store = farm.store.parent / "not yet" / "farm.duckdb"
    assert load(store, [farm.small().sheets], dry_run=True).added == 10
    farm.write("pens", [{"pen": "Rowan", "species": "griffin"}])
    with pytest.raises(LoadRejected):
        load(store, [farm.sheets])
    assert not store.parent.exists()


def test_a_first_load_needs_four_sheets(farm) -> None:  # type: ignore[no-untyped-def]
    farm.write("pens", [{"pen": "Rowan", "species": "chicken"}])
    problems = farm.problems()
    assert [(problem.sheet, problem.row) for problem in problems] == [
        ("incubators", 0),
        ("batches", 0),
        ("trays", 0),
    ]
    assert "pens, incubators, batches, trays" in problems[0].rule


def test_a_store_without_trays_yet_takes_other_sheets_alone(farm) -> None:  # type: ignore[no-untyped-def]
    farm.small()
    farm.write("trays", [])
    assert farm.load().added == 7
    path = farm.write("lay", [{"pen": "Rowan", "on": "2026-03-02", "eggs": "5"}])
    assert farm.load(path).added == 1


def test_later_loads_need_only_what_is_new(kept) -> None:  # type: ignore[no-untyped-def]
    tray = {"batch": "B2", "tray": "T2", "pen": "rowan", "eggs_set": "12"}
    assert kept.load(kept.write("trays", [tray])).added == 1


def test_into_an_empty_store_that_is_there(farm) -> None:  # type: ignore[no-untyped-def]
    create(farm.store)
    assert farm.small().load().added == 10


def test_two_first_loads_at_once(farm, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """Another program makes the store while we load: both loads are in it."""
    farm.small()
    other = farm.store.parent / "other"
    other.mkdir()
    (other / "pens.csv").write_text("pen,species\nElder,chicken\n")
    for name in ("incubators", "batches", "trays"):
        (other / f"{name}.csv").write_text((farm.sheets / f"{name}.csv").read_text().splitlines()[0])

    def put_new_too_late(finished: Path, target: Path) -> bool:
        monkeypatch.undo()
        load(farm.store, [other])
        return load_module.put_new(finished, target)

    monkeypatch.setattr(load_module, "put_new", put_new_too_late)
    assert farm.load().kept
    assert farm.ask("SELECT count(*) FROM pens") == [(4,)]
    assert sorted(_trace(farm.store.parent)) == ["farm.duckdb", "farm.duckdb.tally"]


def test_a_withdrawn_row_stays_withdrawn(kept) -> None:  # type: ignore[no-untyped-def]
    withdraw(kept.store, "trays", ["B1", "T1"], "counted twice")
    report = kept.load()
    assert (report.added, report.unchanged, report.kept) == (0, 10, False)
    (warning,) = report.warnings
    assert (warning.sheet, warning.row) == ("trays", 2)
    assert "stays withdrawn" in warning.rule


def test_a_withdrawn_row_with_other_values_is_a_correction(kept) -> None:  # type: ignore[no-untyped-def]
    withdraw(kept.store, "trays", ["B1", "T1"], "counted twice")
    path = kept.write("trays", [{**CORRECTED[0], "culled": "2"}])
    with pytest.raises(CorrectionsNotAccepted) as refused:
        kept.load(path)
    assert [(c.column, c.old, c.new) for c in refused.value.report.corrected] == [
        ("hatched", "38", "37"),
        ("withdrawn_in", "2", None),
    ]
    assert refused.value.report.corrected[1].sentence() == (
        "trays, row 2: was withdrawn (entry 2) -> counts again"
    )
    assert kept.load(path, accept_corrections=True).corrected_rows == 1
    assert kept.ask("SELECT hatched, withdrawn_in FROM trays WHERE row_key = 'b1|t1'") == [(37, None)]
    assert [c.column for c in history_of(kept.store, "trays", "b1|t1")] == [
        "withdrawn_in",
        "hatched",
        "withdrawn_in",
    ]


def test_a_withdrawn_row_cannot_be_named(kept) -> None:  # type: ignore[no-untyped-def]
    withdraw(kept.store, "trays", ["B1", "T1"], "counted twice")
    egg = {"batch": "B1", "tray": "T1", "egg": "1", "class": "rotten"}
    (problem,) = kept.problems(kept.write("opened_eggs", [egg]))
    assert problem.given == "tray `T1` in batch B1 is unknown"


def test_an_exported_store_comes_back_with_its_record(kept, tmp_path) -> None:  # type: ignore[no-untyped-def]
    kept.load(kept.write("trays", CORRECTED), accept_corrections=True, who="Ada")
    withdraw(kept.store, "trays", ["B2", "T1"], "counted twice")
    export(kept.store, tmp_path / "out")
    again = tmp_path / "again.duckdb"
    report = load(again, [tmp_path / "out"])
    assert (report.added, report.kept, report.entry_no) == (9, True, None)
    kept.store = again
    assert kept.ask("SELECT entry_no, kind, who FROM ledger WHERE who = 'Ada'") == [(2, "load", "Ada")]
    assert [c.column for c in history_of(again, "trays", "b1|t1")] == ["hatched", "culled"]
    assert kept.ask("SELECT withdrawn_in FROM trays WHERE row_key = 'b2|t1'") == [(3,)]
    assert load(again, [tmp_path / "out"]).kept is False


def test_a_long_list_is_cut_but_counted(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": f"P{number}", "species": "griffin"} for number in range(1000)])
    with pytest.raises(LoadRejected) as rejected:
        kept.load(kept.sheets / "pens.csv")
    assert (len(rejected.value.problems), rejected.value.total) == (200, 1000)
    assert [problem.row for problem in rejected.value.problems] == list(range(2, 202))
    assert str(rejected.value).startswith("1000 problems")
    assert isinstance(rejected.value, InputRejected)


def test_a_long_list_leaves_room_for_other_problems(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": f"P{number}", "species": "griffin"} for number in range(1000)])
    kept.write("lay", [{"pen": "Rowan", "on": "2026-03-02", "eggs": "many"}])
    problems = kept.problems(kept.sheets / "pens.csv", kept.sheets / "lay.csv")
    assert len(problems) == 200
    assert (problems[-1].sheet, problems[-1].column) == ("lay", "eggs")


def test_a_sheet_that_cannot_be_read_does_not_make_its_names_unknown(farm) -> None:  # type: ignore[no-untyped-def]
    farm.small()
    farm.text("pens.csv", "pen,kind\nRowan,quail\n")
    assert [(p.sheet, p.column) for p in farm.problems()] == [("pens", "species")]


def test_a_key_twice_in_one_file(farm) -> None:  # type: ignore[no-untyped-def]
    farm.small(pens=[{"pen": "ROWAN ", "species": "chicken"}])
    (problem,) = farm.problems()
    assert (problem.sheet, problem.row, problem.column) == ("pens", 5, "pen")
    assert problem.given == "`ROWAN`, as in row 2"


def test_the_folder_of_an_unknown_path(farm) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage, match="no file or folder"):
        farm.load(farm.sheets / "nothing.csv")


def test_progress_goes_up(farm) -> None:  # type: ignore[no-untyped-def]
    told: list[float] = []
    farm.small().load(progress=lambda share, text: told.append(share))
    assert told == sorted(told)
    assert (told[0], told[-1]) == (0.0, 1.0)


def test_no_room_for_files_on_the_way_is_said_in_words(kept, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    before = kept.store.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device", "/somewhere/within")

    monkeypatch.setattr("analytics.sheets.text_files._rewrite_as", full)
    path = kept.text("lay.csv", "pen,on,eggs\nRowan,2026-03-02,3\n".encode("utf-16"))
    with pytest.raises(
        StoreError, match=r"nothing of this load was kept\. No space left on device\."
    ) as told:
        kept.load(path)
    assert "/somewhere" not in str(told.value)
    assert kept.store.read_bytes() == before
