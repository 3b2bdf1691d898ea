"""Setting a row aside: kept with its reason, refused while others name it."""

from __future__ import annotations

import pytest

from analytics.errors import WrongUsage
from analytics.sheets.withdraw import StillNamed, withdraw
from analytics.store.audit import history_of
from analytics.store.connection import change_count


def test_a_row_is_set_aside_with_its_reason(kept) -> None:  # type: ignore[no-untyped-def]
    done = withdraw(kept.store, "trays", ["b1", " T1 "], "counted twice", "Ada")
    assert (done.sheet, done.row_key, done.shown, done.entry_no) == ("trays", "b1|t1", "B1, T1", 2)
    assert kept.ask("SELECT withdrawn_in, hatched FROM trays WHERE row_key = 'b1|t1'") == [(2, 38)]
    (change,) = history_of(kept.store, "trays", "b1|t1")
    assert (change.kind, change.who, change.why, change.column, change.new) == (
        "withdraw",
        "Ada",
        "counted twice",
        "withdrawn_in",
        "2",
    )
    assert change_count(kept.store) == 2


def test_days_and_blank_parts_in_keys(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("lay", [{"pen": "Rowan", "on": "2026-03-02", "eggs": "5"}])
    kept.write("hatch_counts", [{"batch": "B1", "counted_at": "2026-03-18T18:20", "out_so_far": "4"}])
    kept.write("changes", [{"changed_on": "2026-03-02", "scope": "all", "what": "Less | more light"}])
    kept.load()
    withdraw(kept.store, "Lay", ["rowan", "2026-03-02"], "wrong day")
    withdraw(kept.store, "hatch counts", ["B1", "", "2026-03-18T18:20"], "not read well")
    withdraw(kept.store, "changes", ["2026-03-02", "all", "", "less | more light"], "did not happen")
    for name in ("lay", "hatch_counts", "changes"):
        assert kept.ask(f"SELECT count(*) FROM {name} WHERE withdrawn_in IS NULL") == [(0,)]


def test_a_row_that_others_name_stays(kept) -> None:  # type: ignore[no-untyped-def]
    for sheet, key, named in (
        ("pens", ["Rowan"], "trays B1, T1"),
        ("incubators", ["North"], "batches B1"),
        ("batches", ["B2"], "trays B2, T1"),
    ):
        before = kept.everything()
        with pytest.raises(StillNamed) as refused:
            withdraw(kept.store, sheet, key, "wrong")
        assert named in str(refused.value)
        assert refused.value.exit_code == 1
        assert kept.everything() == before
    assert change_count(kept.store) == 1


def test_what_names_rows_in_other_ways(kept) -> None:  # type: ignore[no-untyped-def]
    kept.write("birds", [{"bird": "A", "sex": "m"}, {"bird": "B", "sex": "f", "sire": "A"}])
    kept.write(
        "opened_eggs", [{"batch": "B1", "tray": "T1", "egg": str(n), "class": "rotten"} for n in range(1, 8)]
    )
    kept.write("changes", [{"changed_on": "2026-03-02", "scope": "pen", "target": "Hazel", "what": "feed"}])
    kept.load()
    with pytest.raises(StillNamed, match=r"birds B\."):
        withdraw(kept.store, "birds", ["A"], "wrong")
    with pytest.raises(StillNamed, match=r"opened_eggs B1, T1, 5 and 2 more"):
        withdraw(kept.store, "trays", ["B1", "T1"], "wrong")
    withdraw(kept.store, "trays", ["B2", "T1"], "wrong")
    with pytest.raises(StillNamed, match="changes 2026-03-02, pen, Hazel, feed"):
        withdraw(kept.store, "pens", ["Hazel"], "wrong")
    withdraw(kept.store, "birds", ["B"], "wrong")
    withdraw(kept.store, "birds", ["A"], "wrong")


def test_rows_that_are_not_there(kept) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage, match="Did you mean B1, T1"):
        withdraw(kept.store, "trays", ["B1", "T11"], "wrong")
    withdraw(kept.store, "trays", ["B1", "T1"], "wrong")
    with pytest.raises(WrongUsage, match="withdrawn in entry 2"):
        withdraw(kept.store, "trays", ["B1", "T1"], "wrong")


@pytest.mark.parametrize(
    ("sheet", "key", "why", "word"),
    [
        ("tray", ["B1", "T1"], "wrong", "Did you mean trays"),
        ("trays", ["B1"], "wrong", "batch, tray"),
        ("trays", ["B1", "T1"], "  ", "No reason"),
    ],
)
def test_what_cannot_be_meant(sheet: str, key: list[str], why: str, word: str, kept) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(WrongUsage, match=word):
        withdraw(kept.store, sheet, key, why)
    assert change_count(kept.store) == 1
