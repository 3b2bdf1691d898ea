"""Two programs on one store at once: entry as on the dashboard's pages, beside loads of the command line.

    python tests/faults/two_programs.py [--minutes M]

One program taps, takes taps back, notes, sets a row aside, brings it back, and reads after each, in one
process as the dashboard does. The other runs `penwise load` again and again, each a process of its own,
every fourth with a correction. A store that is taken longer than they wait is said in words and tried
again. At the end every change that was said to be kept is there once, the ledger has no gap, and `penwise
check` is clean. Exits 1 otherwise.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import duckdb
from kill import do, write_sheets
from programs import Program, command, elsewhere, look

from analytics.cli.main import run
from analytics.errors import StoreBusy
from analytics.sheets.bench import UNDO, Tap, tap, tray_tally
from analytics.sheets.noting import note
from analytics.sheets.withdraw import bring_back, withdraw

READINGS = 60
_AFTER = "2026-06-01"


def enter(store: Path, until: float, counts: Path) -> None:
    """Entry until the time is over; what was kept is counted in a file."""
    done: Counter[str] = Counter()
    number = 0
    while time.time() < until:
        number += 1
        _try(done, "taps", lambda n=number: tap(store, "B1", "T2", "phone", [Tap(f"t{n}", "clear")]))
        assert _seen(store) == 1, "a tap that was kept is not read back"
        _try(done, "taps", lambda n=number: tap(store, "B1", "T2", "phone", [Tap(f"u{n}", UNDO)]))
        assert _seen(store) == 0, "a tap that was taken back is read"
        _try(done, "notes", lambda n=number: note(store, f"change {n}", date(2026, 3, 6)))
        _try(done, "rows aside", lambda: withdraw(store, "lay", ("Rowan", "2026-03-01"), "wrong"))
        _try(done, "rows back", lambda: bring_back(store, "lay", ("Rowan", "2026-03-01"), "right"))
        counts.write_text("\n".join(f"{name},{many}" for name, many in done.items()))


def _seen(store: Path) -> int:
    return tray_tally(store, "B1", "T2").drafted.get("clear", 0)


def _try(done: Counter[str], name: str, work: object) -> None:
    while True:
        try:
            work()  # type: ignore[operator]
        except StoreBusy as error:
            if "in use by another program" not in str(error):
                raise
            done["busy"] += 1
            continue
        done[name] += 1
        return


def bring(store: Path, until: float, counts: Path, sheets: Path) -> None:
    """Loads until the time is over, each in a process of its own."""
    done: Counter[str] = Counter()
    sheets.mkdir()
    number = 0
    while time.time() < until:
        number += 1
        warm = 37.6 if number % 4 else 37.7
        file = number if number % 4 else number - 1  # every fourth corrects the load before
        at = [
            f"{_AFTER}T{n // 60:02d}:{n % 60:02d}:{file % 60:02d}.{file // 60:03d}" for n in range(READINGS)
        ]
        lines = [f"North,{moment},{warm}" for moment in at]
        (sheets / "climate.csv").write_text("\n".join(["incubator,at,temperature_c", *lines]) + "\n")
        program = Program([command("load", sheets, "--accept-corrections", "--store", store)])
        loaded, said, _ = program.end()
        if loaded:
            done["loads"] += 1
            done["corrections"] += number % 4 == 0
        else:
            assert "in use by another program" in said, said
            done["busy"] += 1
            number -= 1
        counts.write_text("\n".join(f"{name},{many}" for name, many in done.items()))


def _counts(path: Path) -> Counter[str]:
    return Counter(
        {name: int(many) for name, many in (line.split(",") for line in path.read_text().splitlines())}
    )


def compare(store: Path, entry: Counter[str], loads: Counter[str], before: int) -> list[str]:
    """What is lost or doubled."""
    readings = (loads["loads"] - loads["corrections"]) * READINGS
    asked = {
        "SELECT count(*) FROM taps": entry["taps"],
        "SELECT count(DISTINCT tap) FROM taps": entry["taps"],
        "SELECT count(*) FROM changes WHERE what LIKE 'change %'": entry["notes"],
        "SELECT count(DISTINCT what) FROM changes WHERE what LIKE 'change %'": entry["notes"],
        f"SELECT count(*) FROM climate WHERE \"at\" >= '{_AFTER}'": readings,
        f"SELECT count(DISTINCT row_key) FROM climate WHERE \"at\" >= '{_AFTER}'": readings,
        "SELECT count(*) FROM history WHERE sheet = 'climate'": loads["corrections"] * READINGS,
        "SELECT count(*) FROM history WHERE sheet = 'lay'": entry["rows aside"] + entry["rows back"],
        "SELECT count(*) FROM ledger": before
        + entry["notes"] + entry["rows aside"] + entry["rows back"] + loads["loads"],
        "SELECT count(*) - count(DISTINCT entry_no) FROM ledger": 0,
        "SELECT change_count FROM store_meta": before + sum(entry.values()) + loads["loads"] - entry["busy"],
    }  # fmt: skip
    with duckdb.connect(str(store), read_only=True) as opened:
        found = {question: opened.execute(question).fetchall()[0][0] for question in asked}
    return [
        f"{question}: {found[question]}, not {wanted}"
        for question, wanted in asked.items()
        if found[question] != wanted
    ]


def _noted(work: object, complaint: Path) -> int:
    try:
        work()  # type: ignore[operator]
    except BaseException:
        complaint.write_text(traceback.format_exc())
        return 1
    return 0


def together(room: Path, minutes: float) -> int:
    """Runs both programs for so long and prints what they did; returns how much is wrong."""
    store, wrong = room / "farm.duckdb", []
    write_sheets(room / "first", 0)
    do(command("load", room / "first", "--store", store))
    shutil.rmtree(room / "first")
    until = time.time() + minutes * 60
    works = {
        "entry": lambda: enter(store, until, room / "entry"),
        "loads": lambda: bring(store, until, room / "loads", room / "sheets"),
    }
    programs = [
        Program([lambda name=name, work=work: _noted(work, room / f"{name} failed")])
        for name, work in works.items()
    ]
    for program in programs:
        program.end()
    wrong += [
        (room / f"{name} failed").read_text()[-600:] for name in works if (room / f"{name} failed").exists()
    ]
    entry, loads = _counts(room / "entry"), _counts(room / "loads")
    print(f"entry, kept: {dict(entry)}; command line, kept: {dict(loads)}")
    wrong += elsewhere(lambda: compare(store, entry, loads, 1))
    found = elsewhere(
        lambda: look(store, lambda: run(["note", "more", "--on", "2026-03-09", "--store", str(store)]))
    )
    wrong += [found.said] if found.checked or not found.goes_on or found.left_over else []
    for one in wrong:
        print(f"    {one}")
    print(
        f"{sum(entry.values()) + loads['loads'] - entry['busy']} changes in {minutes:g} minutes,"
        f" {len(wrong)} wrong"
    )
    return len(wrong)


def main() -> int:
    """Runs, prints, and returns 1 where anything was lost or doubled."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--minutes", type=float, default=10)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="two-programs-") as folder:
        return 1 if together(Path(folder), asked.minutes) else 0


if __name__ == "__main__":
    sys.exit(main())
