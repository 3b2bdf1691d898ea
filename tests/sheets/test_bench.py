"""Taps at the bench: kept one by one, added over devices, taken back by their own, and closed by rules."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from datetime import date
from pathlib import Path

import pytest

from analytics.errors import WrongUsage
from analytics.options import Selection
from analytics.sheets.bench import UNDO, Tap, TrayTally, begun, bench_batches, close_tray, tap, tray_tally
from analytics.sheets.export import export
from analytics.sheets.health import check
from analytics.sheets.history import history
from analytics.sheets.load import ByHand, CorrectionsNotAccepted, LoadRejected, load
from analytics.sheets.typed import keep_rows, of_row
from analytics.store import migrations
from analytics.store.audit import records_mark
from analytics.store.connection import change_count
from analytics.studies.month import month_review

IN = {"batch": "B3", "incubator": "North", "set_on": "2026-03-20T18:00"}
TRAYS = [
    {"batch": "B3", "tray": "T1", "pen": "Rowan", "eggs_set": "24"},
    {"batch": "B3", "tray": "T2", "pen": "Alder", "eggs_set": "24", "clear": "3"},
]
SOURCE = "At the bench"


@pytest.fixture
def store(kept) -> Path:
    """The small smallholding with a batch in the machine, whose second tray lost 3 clear eggs at candling."""
    kept.small(batches=[IN], trays=TRAYS).load()
    return kept.store


def _tap(store: Path, *outcomes: str, device: str = "one", tray: str = "T1", first: int = 0) -> None:
    taps = [Tap(f"{device} {tray} {first + place}", outcome) for place, outcome in enumerate(outcomes)]
    assert tap(store, "B3", tray, device, taps) == ()


def _now(store: Path, device: str = "one", tray: str = "T1") -> TrayTally:
    return tray_tally(store, "b3", tray, device)


def test_two_devices_add_and_each_takes_back_its_own(store: Path) -> None:
    _tap(store, "clear", "early_dead")
    _tap(store, "early_dead", "rotten", device="two")
    assert _now(store).drafted == {"clear": 1, "early_dead": 2, "rotten": 1}
    assert _now(store).devices == 2
    assert _now(store).undo == ("early_dead", 1)
    _tap(store, UNDO, first=10)
    assert _now(store).drafted == {"clear": 1, "early_dead": 1, "rotten": 1}
    _tap(store, UNDO, UNDO, first=20)  # one own tap is left, then none: the other's stay
    assert _now(store).drafted == {"early_dead": 1, "rotten": 1}
    assert _now(store).undo is None
    assert _now(store, device="two").undo == ("rotten", 1)


def test_devices_that_tap_at_once_lose_nothing(store: Path) -> None:
    def work(device: str) -> None:
        for place in range(5):
            _tap(store, "clear", device=device, first=place)

    threads = [threading.Thread(target=work, args=(device,)) for device in ("one", "two")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert _now(store).drafted == {"clear": 10}


def test_a_tap_sent_twice_counts_once_and_changes_nothing(store: Path) -> None:
    _tap(store, "clear")
    before = change_count(store)
    _tap(store, "clear")
    assert (_now(store).drafted, change_count(store)) == ({"clear": 1}, before)


def test_no_more_eggs_than_were_set(store: Path) -> None:
    _tap(store, *["late_dead"] * 20, tray="T2")
    assert _now(store, tray="T2").left == 1
    refused = tap(store, "B3", "T2", "two", [Tap("a", "clear"), Tap("b", "clear"), Tap("c", "clear", 2)])
    assert refused == ("b", "c")
    assert _now(store, tray="T2").counts["clear"] == 4


@pytest.mark.parametrize(
    ("tray", "one"),
    [
        ("T9", Tap("a", "clear")),
        ("T1", Tap("a", "eggs_set")),
        ("T1", Tap("a", "clear", 0)),
        ("T1", Tap("", "clear")),
    ],
)
def test_what_cannot_be_meant_is_refused(store: Path, tray: str, one: Tap) -> None:
    with pytest.raises(WrongUsage):
        tap(store, "B3", tray, "one", [one])
    assert begun(store) == ()


def test_an_older_store_takes_taps_once_it_is_opened(kept, monkeypatch: pytest.MonkeyPatch) -> None:
    older = kept.store.with_name("older.duckdb")
    for module in ("analytics.store.migrations", "analytics.store.connection"):
        monkeypatch.setattr(f"{module}.STEPS", migrations.STEPS[:1])
    load(older, [kept.sheets])
    monkeypatch.undo()
    tap(older, "B1", "T1", "one", [Tap("a", "clear")])
    assert tray_tally(older, "B1", "T1").drafted == {"clear": 1}
    assert export(older, kept.sheets.with_name("out"))["trays"] == 3


def test_a_kill_between_taps_loses_none_that_was_kept(store: Path) -> None:
    program = (
        "import sys\nfrom pathlib import Path\nfrom analytics.sheets.bench import Tap, tap\n"
        "for place in range(24):\n"
        f"    tap(Path({str(store)!r}), 'B3', 'T1', 'phone', [Tap(f't{{place}}', 'clear')])\n"
        "    print(place, flush=True)\n"
    )
    job = subprocess.Popen([sys.executable, "-c", program], stdout=subprocess.PIPE, text=True)
    assert job.stdout
    told = [job.stdout.readline() for _ in range(3)]
    os.kill(job.pid, signal.SIGKILL)
    told += [line for line in job.stdout.read().splitlines() if line.isdigit()]
    job.wait()
    kept = _now(store).drafted["clear"]
    assert len(told) <= kept <= len(told) + 1  # one may have been kept and not been told any more


def test_drafts_are_in_no_rate_no_export_and_no_finding(store: Path, tmp_path: Path) -> None:
    def all_of_it(name: str) -> tuple[object, ...]:
        export(store, tmp_path / name)
        files = {path.name: path.read_bytes() for path in sorted((tmp_path / name).glob("*.csv"))}
        return files, month_review(store, None, Selection(), date(2026, 4, 20)), check(store).ailments

    before, mark = all_of_it("before"), records_mark(store)
    _tap(store, "clear", *["hatched"] * 20)
    assert all_of_it("after") == before
    assert records_mark(store) == mark
    assert [(one.batch, one.tray) for one in begun(store)] == [("B3", "T1")]
    assert bench_batches(store)[0].batch == "B3"


def test_closing_writes_the_counts_and_the_batch_is_out_with_its_last_tray(store: Path) -> None:
    mark = records_mark(store)
    _tap(store, "early_dead", "early_dead", "infertile")
    _tap(store, "clear", tray="T2")
    close_tray(store, "B3", "T1", _now(store).drafted, SOURCE, rest="hatched", opened_on=date(2026, 4, 7))
    row = dict(_row(store, "T1"))
    counts = {name: row[name] for name in ("hatched", "culled", "early_dead", "infertile", "opened_on")}
    assert counts == {"hatched": "21", "culled": None, "early_dead": "2", "infertile": "1",
                      "opened_on": "2026-04-07"}  # fmt: skip
    assert _now(store).is_closed
    close_tray(
        store, "B3", "T2", _now(store, tray="T2").drafted, SOURCE, rest="hatched", pulled_on="2026-04-07"
    )
    assert _now(store, tray="T2").recorded == {"clear": 4, "hatched": 20}
    batch = next(one for one in bench_batches(store) if one.batch == "B3")
    assert batch.is_done
    assert str(batch.pulled_on) == "2026-04-07 00:00:00"
    found = history(store, "trays", ("B3", "T2"))
    assert {(one.change.column, one.before, one.after) for one in found.changes} == {
        ("clear", "3", "4"), ("hatched", "not recorded", "20")}  # fmt: skip
    assert begun(store) == ()
    assert records_mark(store) != mark
    assert check(store).is_sound


def _row(store: Path, tray: str) -> tuple[tuple[str, str | None], ...]:
    row = history(store, "trays", ("B3", tray)).row
    assert row
    return row.cells


def test_a_tray_is_closed_only_with_the_counts_that_were_shown(store: Path) -> None:
    _tap(store, "clear")
    seen = _now(store).drafted
    _tap(store, "clear", device="two")
    with pytest.raises(WrongUsage, match="another device"):
        close_tray(store, "B3", "T1", seen, SOURCE, rest="hatched")
    assert _now(store).drafted == {"clear": 2}
    assert "hatched" not in _now(store).recorded


def test_what_closing_breaks_leaves_draft_and_sheet_alone(store: Path) -> None:
    _tap(store, "clear")
    with pytest.raises(LoadRejected):
        close_tray(store, "B3", "T1", _now(store).drafted, SOURCE, pulled_on="2026-01-01")
    assert _now(store).drafted == {"clear": 1}
    assert _now(store).recorded == {}


def test_typed_rows_make_a_store_and_wrong_ones_make_none(tmp_path: Path) -> None:
    store = tmp_path / "own.duckdb"
    pen = {"pens": [{"pen": "Rowan", "species": "chicken"}]}
    with pytest.raises(LoadRejected) as wrong:
        keep_rows(store, {"pens": [{"pen": "Rowan", "species": "dodo"}]}, ByHand(SOURCE))
    assert [(one.sheet, one.column) for one in wrong.value.problems] == [("pens", "species")]
    assert not store.exists()
    assert keep_rows(store, pen, ByHand(SOURCE), who="Ida").added == 1
    machine = {"incubators": [{"incubator": "North"}]}
    assert keep_rows(store, machine, ByHand(SOURCE)).added == 1
    assert check(store).is_sound


def test_a_typed_correction_asks_first_and_keeps_its_reason(store: Path) -> None:
    cells = of_row(store, "trays", ("B1", "T1"), {"hatched": "37"})
    with pytest.raises(CorrectionsNotAccepted):
        keep_rows(store, {"trays": [cells]}, ByHand(SOURCE))
    keep_rows(store, {"trays": [cells]}, ByHand(SOURCE, why="One was a twin"), accept_corrections=True)
    (change,) = history(store, "trays", ("B1", "T1")).changes
    assert (change.before, change.after, change.change.why) == ("38", "37", "One was a twin")
    assert (change.change.kind, change.change.source) == ("edit", SOURCE)
