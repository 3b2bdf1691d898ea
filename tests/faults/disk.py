"""A full disk, a folder that may not be written, a clock set back: nothing lost, and said what to do.

    python tests/faults/disk.py [--rounds N] [--seed N]

Every command that writes is given less room than it needs, down to none: files that may not grow beyond a
limit (`RLIMIT_FSIZE`, as any user), and a small disk in memory (as root, where one may be mounted). It must
end well, or say in our words what to do and keep nothing; with room again, the store opens, is sound and
goes on. Then the folder may not be written, and then the clock goes back by a year while rows come in.
Exits 1 on a miss.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import io
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta, tzinfo
from pathlib import Path
from random import Random
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from kill import bases
from programs import State, elsewhere, look, state_of

from analytics.cli.main import run
from analytics.sheets import bench, load
from analytics.store import audit, care, connection, migrations

CLEAR = re.compile(r"room|right to|may not|may write|full|Make room")
UNCLEAR = re.compile(r"Traceback|Errno|\bError:|_duckdb\.|\.part-")


@dataclass(slots=True)
class Tally:
    """What became of one kind of trouble."""

    name: str
    rounds: int = 0
    refused: int = 0
    misses: list[str] = field(default_factory=list)

    def line(self) -> str:
        """As it is printed."""
        head = (
            f"{self.name:<44}{self.rounds:>7} times, {self.refused:>4} refused, {len(self.misses):>3} missed"
        )
        return "\n".join([head, *(f"    {one}" for one in self.misses[:4])])


def screen_of(words: list[str], before: Callable[[], object]) -> tuple[int, str]:
    """Exit code and screen of a command in a fork, after something was done to that fork."""

    def act() -> tuple[int, str]:
        before()
        screen = io.StringIO()
        with redirect_stdout(screen), redirect_stderr(screen):
            code = run(words)
        return code, screen.getvalue()

    try:
        code, said = elsewhere(act)
    except RuntimeError as error:
        return 1, str(error)
    return int(code), str(said)


def commands(room: Path, here: Path) -> dict[str, tuple[str, list[str]]]:
    """Name -> folder to begin from, and the command."""
    store = ["--store", str(here / "farm.duckdb")]
    books = room / "books"
    return {
        "first load": ("none", ["load", str(room / "sheets"), *store]),
        "load of a workbook": ("store", ["load", str(books / "records.xlsx"), *store]),
        "load of another encoding": ("store", ["load", str(books / "climate.csv"), *store]),
        "correction": ("store", ["load", str(room / "corrected"), "--accept-corrections", *store]),
        "note": ("store", ["note", "lamp", "--on", "2026-03-06", *store]),
        "row set aside": ("store", ["withdraw", "lay", "Rowan", "2026-03-01", "--why", "wrong", *store]),
        "migration": ("older", ["check", *store]),
        "backup": ("copy", ["backup", str(here / "copy.duckdb"), "--replace", *store]),
        "nightly copy": ("store", ["backup", str(here), "--keep", "2", *store]),
        "restore": ("copy", ["restore", str(here / "copy.duckdb"), *store]),
        "export": ("store", ["export", str(here / "out"), *store]),
        "blank sheets": ("store", ["blank", str(here / "blank")]),
    }


def write_books(folder: Path) -> None:
    """Sheets that have to be written anew before they are read: a workbook, and a file in UTF-16."""
    import openpyxl

    folder.mkdir()
    book = openpyxl.Workbook()
    page = book.active
    page.title = "climate"
    page.append(["incubator", "at", "temperature_c"])
    for minute in range(600):
        page.append(["South", f"2026-05-01T{minute // 60:02d}:{minute % 60:02d}", 37.5])
    book.save(folder / "records.xlsx")
    lines = [f"South,2026-05-02T{minute // 60:02d}:{minute % 60:02d},37.5" for minute in range(600)]
    (folder / "climate.csv").write_text("\n".join(["incubator,at,temperature_c", *lines]), encoding="utf-16")


def judge(store: Path, before: State | None, code: int, said: str) -> str:
    """What missed after a command had trouble, or ""."""
    unclear = UNCLEAR.search(said)
    if unclear:
        return f"says {unclear[0]!r}: {said[-300:]}"
    if code and not CLEAR.search(said):
        return f"does not say what to do ({code}): {said[-300:]}"
    if not store.exists():
        return "" if before is None else "the store is gone"
    found = elsewhere(
        lambda: look(store, lambda: run(["note", "more", "--on", "2026-03-09", "--store", str(store)]))
    )
    if code and before and found.state != before:
        return f"refused, and yet the store differs: {said[-200:]}"
    if found.checked or not found.goes_on:
        return found.said[-300:]
    return ""


def files_that_may_not_grow(room: Path, rounds: int, dice: Random) -> Iterator[Tally]:
    """Every command with less and less room for a file."""
    here = room / "here"
    for name, (base, words) in commands(room, here).items():
        tally = Tally(f"{name}, file may not grow")
        for number in range(rounds):
            before = _renew(room / "bases" / base, here)
            limit = 0 if number == 0 else int(dice.uniform(0.02, 1.1) * 7_000_000 * dice.random())

            def narrow(limit: int = limit) -> None:
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))

            code, said = screen_of(words, narrow)
            tally.rounds += 1
            tally.refused += code != 0
            missed = judge(here / "farm.duckdb", None if name == "migration" else before, code, said)
            if missed:
                tally.misses.append(f"{limit} bytes: {missed}")
        yield tally


@contextmanager
def small_disk(place: Path, kilobytes: int) -> Iterator[Callable[..., object]]:
    """A disk in memory; yields what mounts it with other options. OSError where none may be mounted."""
    place.mkdir(exist_ok=True)

    def mount(*options: str) -> object:
        return subprocess.run(
            ["mount", "-t", "tmpfs", "-o", ",".join(options), "penwise-test", str(place)],
            check=True,
            capture_output=True,
        )

    try:
        mount(f"size={kilobytes}k")
    except (OSError, subprocess.CalledProcessError) as error:
        raise OSError("no disk may be mounted here") from error
    try:
        yield lambda *options: mount("remount", *options)
    finally:
        subprocess.run(["umount", "-l", str(place)], check=False, capture_output=True)


def full_disks(room: Path, rounds: int, dice: Random) -> Iterator[Tally]:
    """Every command on a disk with hardly any room left, for the store, and for the files on the way."""
    disk = room / "disk"
    here = disk / "here"
    for name, (base, words) in commands(room, here).items():
        tally = Tally(f"{name}, disk full")
        for _ in range(rounds):
            size = sum(path.stat().st_size for path in (room / "bases" / base).iterdir()) // 1024
            with small_disk(disk, size + 8 + int(dice.random() ** 3 * 6000)) as again:
                before = _renew(room / "bases" / base, here)
                code, said = screen_of(words, lambda: None)
                again("size=200000k")
                missed = judge(here / "farm.duckdb", None if name == "migration" else before, code, said)
            tally.rounds += 1
            tally.refused += code != 0
            if missed:
                tally.misses.append(missed)
        yield tally
    yield _no_room_on_the_way(room)


def _no_room_on_the_way(room: Path) -> Tally:
    tally, here = Tally("load, no room for files on the way"), room / "here"
    with small_disk(room / "disk", 4) as _:
        for name in ("load of a workbook", "load of another encoding"):
            base, words = commands(room, here)[name]
            before = _renew(room / "bases" / base, here)
            code, said = screen_of(words, lambda: setattr(tempfile, "tempdir", str(room / "disk")))
            missed = judge(here / "farm.duckdb", before, code, said) or (
                "" if code == 4 else f"exit code {code}"
            )
            tally.rounds += 1
            tally.refused += code != 0
            tally.misses += [f"{name}: {missed}"] if missed else []
    return tally


_MAY_READ = ("backup elsewhere", "check")


def read_only(room: Path) -> Iterator[Tally]:
    """Every command in a folder that may not be written; reading goes on."""
    disk = room / "disk"
    here = disk / "here"
    asked = commands(room, here)
    asked["backup elsewhere"] = (
        "store",
        ["backup", str(room / "elsewhere.duckdb"), "--store", str(here / "farm.duckdb")],
    )
    asked["check"] = ("store", ["check", "--store", str(here / "farm.duckdb")])
    for name, (base, words) in asked.items():
        tally = Tally(f"{name}, may not be written")
        with _shut(disk, room / "bases" / base, here) as (before, open_again):
            code, said = screen_of(words, lambda: None)
            open_again()
            missed = judge(here / "farm.duckdb", None if name == "migration" else before, code, said)
        tally.rounds, tally.refused = 1, int(code != 0)
        if not missed and (code == 0) != (name in _MAY_READ):
            missed = f"exit code {code}: {said[-200:]}"
        tally.misses += [missed] if missed else []
        yield tally


@contextmanager
def _shut(disk: Path, base: Path, here: Path) -> Iterator[tuple[State | None, Callable[[], object]]]:
    if os.geteuid() == 0:
        with small_disk(disk, 200_000) as again:
            before = _renew(base, here)
            again("ro")
            yield before, lambda: again("rw")
        return
    disk.mkdir(exist_ok=True)
    before = _renew(base, here)
    paths = [*here.iterdir(), here]
    for path in paths:
        path.chmod(0o555)
    yield before, lambda: [path.chmod(0o755) for path in reversed(paths)]


def _renew(base: Path, here: Path) -> State | None:
    shutil.rmtree(here, ignore_errors=True)
    shutil.copytree(base, here)
    store = here / "farm.duckdb"
    return elsewhere(lambda: state_of(store)) if store.exists() else None


BACK = timedelta(days=400)


class _Earlier(datetime):
    @classmethod
    def now(cls, tz: tzinfo | None = None) -> Any:
        return datetime.now(tz) - BACK


class _EarlierDay(date):
    @classmethod
    def today(cls) -> Any:
        return date.today() - BACK  # noqa: DTZ011


def _set_back() -> None:
    for module in (audit, care, connection, migrations, bench):
        module.datetime = _Earlier  # type: ignore[attr-defined]
    load.date = _EarlierDay  # type: ignore[attr-defined]


def clock_set_back(room: Path) -> Tally:
    """Rows come in by a clock that was set back: the order of changes is that of the ledger."""
    tally, here = Tally("clock set back"), room / "here"
    _renew(room / "bases" / "store", here)
    store = ["--store", str(here / "farm.duckdb")]
    steps = [
        ["note", "first", "--on", "2026-03-06", *store],
        ["withdraw", "lay", "Rowan", "2026-03-01", "--why", "by the old clock", *store],
        ["withdraw", "lay", "Rowan", "2026-03-01", "--undo", "--why", "and back", *store],
        ["backup", str(here), "--keep", "2", *store],
        ["backup", str(here), "--keep", "1", *store],
    ]
    for number, words in enumerate(steps):
        set_back = number != 0 and number != 4
        code, said = screen_of(words, _set_back if set_back else lambda: None)
        tally.rounds += 1
        if code:
            tally.misses.append(f"{' '.join(words[:2])}: {said[-300:]}")
    code, said = screen_of(["load", str(room / "few_later"), *store], _set_back)
    tally.refused += code == 3
    if code != 3 or "by this computer's clock today is" not in said:
        tally.misses.append(f"days ahead of the clock: {code} {said[-300:]}")
    entries = elsewhere(lambda: _entries(here / "farm.duckdb"))
    if entries != ["and back", "by the old clock"]:
        tally.misses.append(f"the history's order is {entries}")
    copies = sorted(path.name[:16] for path in here.glob("farm-copy-*"))
    if copies != ["farm-copy-000002"]:
        tally.misses.append(f"the copies that stay are {copies}")
    found = elsewhere(
        lambda: look(here / "farm.duckdb", lambda: run(["note", "more", "--on", "2026-03-09", *store]))
    )
    if found.checked or not found.goes_on:
        tally.misses.append(found.said)
    return tally


def _entries(store: Path) -> list[str]:
    with connection.reading(store) as opened:
        changes, _ = audit.last_changes(opened)
    return [change.why for change in changes]


def main() -> int:
    """Runs, prints a line per trouble, and returns 1 on a miss."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--rounds", type=int, default=8, help="how often each command has too little room")
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    dice, missed = Random(asked.seed), 0
    with tempfile.TemporaryDirectory(prefix="disk-") as folder:
        room = Path(folder)
        bases(room)
        write_books(room / "books")
        (room / "few_later").mkdir()
        (room / "few_later" / "lay.csv").write_text(f"pen,on,eggs\nRowan,{date.today()},3\n")  # noqa: DTZ011

        def told() -> Iterator[Tally]:
            yield from files_that_may_not_grow(room, asked.rounds, dice)
            try:
                yield from full_disks(room, max(asked.rounds // 2, 2), dice)
            except OSError as error:
                print(f"full disks: {error}; the files that may not grow stand for them")
            yield from read_only(room)
            yield clock_set_back(room)

        for tally in told():
            print(tally.line(), flush=True)
            missed += len(tally.misses)
    print(f"{missed} missed")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
