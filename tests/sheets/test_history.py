"""Looking back: each change with its row, and rows to choose from."""

from __future__ import annotations

from datetime import datetime

import pytest

from analytics.errors import WrongUsage
from analytics.sheets.contents import Entry
from analytics.sheets.history import StoredRow, find_rows, history, sheets_with_rows
from analytics.sheets.withdraw import NoLongerFits, bring_back, withdraw
from analytics.store.audit import history_of
from analytics.store.connection import change_count


@pytest.fixture
def changed(kept):  # type: ignore[no-untyped-def]
    """B1, T1 corrected (hatched 38 to 37, early_dead now counted), then set aside; a pen corrected too."""
    trays = [
        {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": "50", "hatched": "37", "culled": "2",
         "early_dead": "3"},
    ]  # fmt: skip
    kept.load(kept.write("trays", trays), accept_corrections=True, who="Ada")
    pens = [{"pen": "Alder", "species": "coturnix_quail", "line": "Blue"}]
    kept.load(kept.write("pens", pens), accept_corrections=True, who="Bo")
    withdraw(kept.store, "trays", ["B1", "T1"], "counted twice", "Ada")
    return kept


def _told(found) -> list[tuple[str, ...]]:  # type: ignore[no-untyped-def]
    return [(one.row, one.change.column, one.before, one.after, one.change.who) for one in found.changes]


def test_the_whole_store_newest_first(changed) -> None:  # type: ignore[no-untyped-def]
    found = history(changed.store)
    assert _told(found) == [
        ("B1, T1", "withdrawn_in", "counted", "set aside", "Ada"),
        ("Alder", "line", "not recorded", "Blue", "Bo"),
        ("B1, T1", "early_dead", "not recorded", "3", "Ada"),
        ("B1, T1", "hatched", "38", "37", "Ada"),
    ]
    assert (found.total, found.row) == (4, None)
    assert [one.origin for one in found.changes[:2]] == ["withdraw (entry 4)", "load of pens.csv (entry 3)"]
    assert found.changes[0].change.why == "counted twice"


def test_only_the_newest_are_listed_and_all_are_counted(changed) -> None:  # type: ignore[no-untyped-def]
    found = history(changed.store, last=1)
    assert (len(found.changes), found.total) == (1, 4)


def test_of_a_sheet_of_a_batch_and_of_a_row(changed) -> None:  # type: ignore[no-untyped-def]
    assert [one.row for one in history(changed.store, "Pens").changes] == ["Alder"]
    assert history(changed.store, "trays", ["b1"]).total == 3
    assert history(changed.store, "trays", ["B"]).total == 0  # a part of a label is another label
    found = history(changed.store, "trays", ["b1", "t1"])
    assert found.row is not None
    assert (found.row.shown, found.row.withdrawn, found.row.added.entry_no) == ("B1, T1", True, 1)
    assert dict(found.row.cells)["hatched"] == "37"
    assert history(changed.store, "trays", ["B2", "T1"]).changes == ()


def test_a_row_that_is_not_there_has_no_history(kept) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage, match=r"There is no row B1, t9 in trays\..*Did you mean B1, T"):
        history(kept.store, "trays", ["B1", "t9"])
    with pytest.raises(WrongUsage, match="is named by batch, tray"):
        history(kept.store, "trays", ["B1", "T1", "x"])
    with pytest.raises(WrongUsage, match="Did you mean trays"):
        history(kept.store, "tray")


def test_a_mark_within_a_label_is_no_end_of_it(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("pens", [{"pen": name, "species": "chicken"} for name in ("A", "A|B")])
    kept.load()
    kept.write("pens", [{"pen": name, "species": "duck"} for name in ("A", "A|B")])
    kept.load(accept_corrections=True)
    assert [one.row for one in history(kept.store, "pens", ["A"]).changes] == ["A"]
    assert [one.row for one in history(kept.store, "pens", ["a|b"]).changes] == ["A|B"]


def test_rows_to_choose_from(changed) -> None:  # type: ignore[no-untyped-def]
    found = find_rows(changed.store, "trays")
    assert found.rows == {("B1", "T1"): True, ("B1", "T2"): False, ("B2", "T1"): False}
    assert list(find_rows(changed.store, "trays", " b2").rows) == [("B2", "T1")]
    few = find_rows(changed.store, "trays", most=1)
    assert (len(few.rows), few.total) == (1, 3)
    assert find_rows(changed.store, "trays", "%").rows == {}


def test_many_files_are_cut_short_in_words_only(kept) -> None:  # type: ignore[no-untyped-def]
    entry = Entry(7, "load", datetime(2026, 3, 1), "Ida", "a.csv, " * 20, 1, 0)  # noqa: DTZ001
    row = StoredRow("pens", "a", "A", (), entry, withdrawn=False)
    assert row.origin == f"load of {('a.csv, ' * 20)[:59]}… (entry 7)"


def test_times_in_words_lose_what_was_not_written_down(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("hatch_counts", [{"batch": "B1", "counted_at": "2026-03-18T18:20", "out_so_far": "4"}])
    kept.load()
    kept.write(
        "batches", [{"batch": "B1", "incubator": "North", "set_on": "2026-03-01", "pulled_on": "2026-03-19"}]
    )
    kept.load(accept_corrections=True)
    withdraw(kept.store, "hatch_counts", ["B1", "", "2026-03-18T18:20"], "x")
    aside, moved = history(kept.store).changes
    assert (aside.row, moved.before, moved.after) == (
        "B1, 2026-03-18 18:20",
        "2026-03-01 18:30",
        "2026-03-01",
    )


def test_sheets_with_rows_in_their_order(kept) -> None:  # type: ignore[no-untyped-def]
    assert sheets_with_rows(kept.store) == ("pens", "incubators", "batches", "trays")
    kept.load(kept.write("lay", [{"pen": "Rowan", "on": "2026-03-02", "eggs": "5"}]))
    withdraw(kept.store, "lay", ["Rowan", "2026-03-02"], "wrong day")
    assert sheets_with_rows(kept.store)[-1] == "lay"


def test_a_withdrawal_that_is_only_tried_keeps_nothing(changed) -> None:  # type: ignore[no-untyped-def]
    before = change_count(changed.store)
    assert withdraw(changed.store, "trays", ["B1", "T2"], "x", keep=False).shown == "B1, T2"
    assert bring_back(changed.store, "trays", ["B1", "T1"], "x", keep=False).shown == "B1, T1"
    assert change_count(changed.store) == before
    assert history(changed.store).total == 4
    assert find_rows(changed.store, "trays").rows[("B1", "T1")]


def test_the_parts_of_a_found_row_name_it(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("hatch_counts", [{"batch": "B1", "counted_at": "2026-03-18T18:20", "out_so_far": "4"}])
    kept.load()
    (parts,) = find_rows(kept.store, "hatch_counts").rows
    assert withdraw(kept.store, "hatch_counts", parts, "not read well").shown == "B1, 2026-03-18T18:20:00"


def test_a_row_counts_again_and_the_history_keeps_both(changed) -> None:  # type: ignore[no-untyped-def]
    before = change_count(changed.store)
    done = bring_back(changed.store, "trays", ["b1", "t1"], "it was right", "Bo")
    assert (done.shown, done.entry_no) == ("B1, T1", before + 1)
    assert changed.ask("SELECT withdrawn_in, hatched FROM trays WHERE row_key = 'b1|t1'") == [(None, 37)]
    last = history_of(changed.store, "trays", "b1|t1")[-1]
    assert (last.kind, last.why, last.old, last.new) == ("edit", "it was right", "4", None)
    assert history(changed.store).changes[0].after == "counts again"


def test_a_row_comes_back_only_if_it_fits_the_records_of_today(kept) -> None:  # type: ignore[no-untyped-def]
    # T1 of B2 was laid on 5 March; while it is set aside its pen goes too, and then B2 moves to 1 March.
    tray = {"batch": "B2", "tray": "T1", "pen": "Hazel", "eggs_set": "40", "hatched": "30",
            "laid_to": "2026-03-05"}  # fmt: skip
    kept.load(kept.write("trays", [tray]), accept_corrections=True)
    withdraw(kept.store, "trays", ["B2", "T1"], "wrong")
    withdraw(kept.store, "pens", ["Hazel"], "wrong")
    count = change_count(kept.store)
    with pytest.raises(NoLongerFits, match="B2, T1 in trays cannot count again: pen `Hazel` is unknown"):
        bring_back(kept.store, "trays", ["B2", "T1"], "right")
    bring_back(kept.store, "pens", ["Hazel"], "right")
    batch = {"batch": "B2", "incubator": "South", "set_on": "2026-03-01T18:30", "pulled_on": "2026-03-26"}
    kept.load(kept.write("batches", [batch]), accept_corrections=True)
    with pytest.raises(NoLongerFits, match="Eggs are laid before they are set"):
        bring_back(kept.store, "trays", ["B2", "T1"], "right")
    assert change_count(kept.store) == count + 2


def test_a_row_that_counts_is_not_brought_back(kept) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage, match="It was not withdrawn"):
        bring_back(kept.store, "trays", ["B1", "T1"], "right")
    with pytest.raises(WrongUsage, match="No reason"):
        bring_back(kept.store, "trays", ["B1", "T1"], " ")
