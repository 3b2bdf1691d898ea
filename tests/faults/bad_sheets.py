"""Thousands of bad record sheets: each is refused in clear words without a trace, or loaded as it stands.

    python tests/faults/bad_sheets.py [--sheets N] [--seed N] [--only KIND ...] [--show N]

Sound sheets are spoilt in many ways, by dice and by hypothesis, and loaded into a store that has rows
already: through the command line, every eighth through what the browser's upload calls. A refusal must name
place, rule and repair, say nothing of the program's inside, and leave the folder byte for byte as it was.
What is taken must be in the store as it stood in the file, by a reading of its own (`bad_oracle.py`). Files
that unpack to very much are loaded in processes of their own. Prints a line per kind with the longest time
and the most memory above that of a sound load; exits 1 when anything missed.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
import warnings
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent))

import bad_books
import bad_kinds
from bad_kinds import Bad, Maker, csv_bytes
from bad_oracle import Meaningless, differences, expected, stored, tables_of
from bombs import BOMBS
from click.testing import CliRunner
from farm_sheets import SHEET_NAMES, good
from hypothesis_sheets import by_hypothesis

from analytics.cli.main import penwise
from analytics.errors import InputRejected, PenwiseError
from analytics.sheets.headings import Logger
from dashboard.intake import Given, take

LONGEST = 20.0
"""Seconds that a sheet may take."""
MOST_MB = 500
"""Megabytes that a load may need above a sound one."""
BOMB_SHARE = 0.006
KINDS: dict[str, tuple[Maker, float]] = {
    "cells": (bad_kinds.cells, 16), "labels as orders": (bad_kinds.new_labels, 6),
    "look-alikes": (bad_kinds.look_alikes, 10), "keys twice": (bad_kinds.twice, 6),
    "headings": (bad_kinds.headings, 6), "sums and days": (bad_kinds.counts, 8),
    "long": (bad_kinds.long_text, 2), "encodings": (bad_kinds.encodings, 7),
    "layout": (bad_kinds.layout, 9), "bytes": (bad_kinds.raw_bytes, 8), "file names": (bad_kinds.names, 3),
    "workbook types": (bad_books.typed, 6), "workbook texts": (bad_books.as_text, 4),
    "workbook layout": (bad_books.arranged, 4), "workbook parts": (bad_books.broken_parts, 5),
    "workbook bytes": (bad_books.zip_bytes, 3), "macros and links": (bad_books.macros, 2),
}  # fmt: skip
"""Kind -> how it is made, and how often."""
HYPOTHESIS = "by hypothesis"
HYPOTHESIS_SHARE = 0.1
INSIDE = re.compile(
    r"Traceback|File \"|/site-packages|penwise-\w{8}|\.part-|/dev/shm|/tmp/|has no attribute|NoneType"
    r"|object is not|codec|duckdb|openpyxl|(Binder|Parser|Catalog|Conversion|Invalid Input|IO|Internal) Error"
    r"|CSV Error|not a zip|invalid literal|could not convert|not well-formed|There is no item named"
    r"|KeyError|ValueError|line \d+, column|unexpected end of data|field larger|expected after|list index"
    r"|zlib|CRC|_csv|<class"
)
"""What no message may hold."""


@dataclass(slots=True)
class Tally:
    """What became of the sheets of one kind."""

    sheets: int = 0
    refused: int = 0
    taken: int = 0
    slowest: float = 0.0
    megabytes: float = 0.0
    misses: list[str] = field(default_factory=list)


class Farm:
    """A store with rows, the folder it lies in, and the folder that sheets are brought in."""

    def __init__(self, room: Path) -> None:
        self.base, self.here, self.sheets = room / "base", room / "here", room / "sheets"
        for folder in (self.base, self.sheets):
            folder.mkdir()
        for name in SHEET_NAMES:
            (self.sheets / f"{name}.csv").write_bytes(csv_bytes(good(name)))
        done = CliRunner().invoke(
            penwise, ["load", str(self.sheets), "--store", str(self.base / "farm.duckdb")]
        )
        assert done.exit_code == 0, done.output
        self.rows = stored(self.base / "farm.duckdb")
        self.files = _bytes(self.base)
        self.renew()

    @property
    def store(self) -> Path:
        return self.here / "farm.duckdb"

    def renew(self) -> None:
        """The store as it was."""
        shutil.rmtree(self.here, ignore_errors=True)
        shutil.copytree(self.base, self.here)

    def bring(self, bad: Bad) -> Path:
        """Lays the file in a folder of its own."""
        shutil.rmtree(self.sheets, ignore_errors=True)
        self.sheets.mkdir()
        path = self.sheets / (Path(bad.name.replace("\\", "/")).name or "sheet")
        path.write_bytes(bad.content)
        return path


def _bytes(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def _megabytes() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@contextmanager
def _no_longer_than(seconds: float) -> Iterator[None]:
    def stop(*_: object) -> None:
        raise TimeoutError(f"longer than {seconds} s")

    signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)


def by_command(farm: Farm, bad: Bad) -> tuple[int, str, str]:
    """Loads by the command line; returns exit code, what stood on the screen, and what went wrong beside."""
    path = farm.bring(bad)
    ran = CliRunner().invoke(
        penwise, ["load", "--store", str(farm.store), "--accept-corrections", "--", str(path)]
    )
    trace = ""
    if ran.exception and not isinstance(ran.exception, SystemExit):
        trace = "".join(traceback.format_exception(ran.exception)[-4:])
    return ran.exit_code, ran.output, trace


def by_upload(farm: Farm, bad: Bad) -> tuple[int, str, str]:
    """Loads as the browser's upload does."""
    try:
        take(farm.store, [Given(bad.name, bad.content)], Logger(), keep=True, accept_corrections=True)
    except InputRejected as error:
        return error.exit_code, "\n".join(problem.sentence() for problem in error.problems), _unclear(error)
    except PenwiseError as error:
        return error.exit_code, str(error), ""
    except TimeoutError:
        raise
    except Exception as error:
        return 1, "", "".join(traceback.format_exception(error)[-4:])
    return 0, "", ""


def _unclear(error: InputRejected) -> str:
    if not error.problems:
        return "no problem is named"
    bare = [
        one for one in error.problems if not (one.given.strip() and one.rule.strip() and one.repair.strip())
    ]
    return f"no rule or repair: {bare[0]}" if bare else ""


def judge(farm: Farm, bad: Bad, code: int, screen: str, trace: str) -> str:
    """What missed, or ""."""
    if trace:
        return trace
    said = screen.replace(str(farm.sheets), "").replace(str(farm.here), "").replace(Path(bad.name).name, "")
    inside = INSIDE.search(said)
    if inside:
        line = next((line for line in screen.splitlines() if inside[0] in line), screen)
        return f"says {inside[0]!r}: {line[:200]}"
    if code == 0:
        return _judge_taken(farm, bad)
    if code not in (2, 3):
        return f"exit code {code}: {screen[:200]}"
    if len(screen.strip()) < 30:
        return f"says too little: {screen!r}"
    return "" if _bytes(farm.here) == farm.files else "a refused load left a trace in the store's folder"


def _judge_taken(farm: Farm, bad: Bad) -> str:
    try:
        with warnings.catch_warnings(action="ignore"):
            wanted = expected(farm.rows, tables_of(bad))
        told = differences(wanted, stored(farm.store))
    except Meaningless as error:
        return str(error)
    except Exception as error:
        return f"taken, but by its own reading {type(error).__name__}: {error}"
    finally:
        farm.renew()
    return "; ".join(told[:3])


def load_one(farm: Farm, bad: Bad, way: int, tally: Tally) -> None:
    """Loads one sheet and counts what became of it."""
    started, before = time.monotonic(), _megabytes()
    try:
        with _no_longer_than(LONGEST):
            code, screen, trace = (by_upload if way == 0 else by_command)(farm, bad)
    except TimeoutError as error:
        code, screen, trace = 1, "", str(error)
    took = time.monotonic() - started
    tally.sheets += 1
    tally.taken += code == 0
    tally.refused += code in (2, 3)
    tally.slowest = max(tally.slowest, took)
    tally.megabytes = max(tally.megabytes, _megabytes() - before)
    missed = judge(farm, bad, code, screen, trace)
    if _megabytes() - before > MOST_MB and code:
        missed = missed or f"{_megabytes() - before:.0f} MB more than before"
    if missed:
        tally.misses.append(f"{bad.name} {bad.content[:40]!r}... : {missed}")
        farm.renew()


_LOAD = "import sys; from analytics.cli.main import run; sys.exit(run(sys.argv[1:]))"


def explode(farm: Farm, bad: Bad, floor: float, tally: Tally) -> None:
    """Loads a file that unpacks to much in a process of its own, and looks at its time and memory."""
    path = farm.bring(bad)
    command = [
        sys.executable,
        "-c",
        _LOAD,
        "load",
        "--store",
        str(farm.store),
        "--accept-corrections",
        "--",
        str(path),
    ]
    with tempfile.TemporaryFile("w+") as out:
        started = time.monotonic()
        child = subprocess.Popen(command, stdout=out, stderr=out)
        killer = time.monotonic() + LONGEST * 6
        most = 0.0
        while (ended := os.wait4(child.pid, os.WNOHANG))[0] == 0:
            most = max(most, _most_held(child.pid))
            if time.monotonic() > killer:
                child.kill()
            time.sleep(0.02)
        _, status, used = ended
        out.seek(0)
        screen = out.read()
    took = used.ru_utime + used.ru_stime
    above = most - floor
    code = os.waitstatus_to_exitcode(status)
    child.returncode = code
    tally.sheets += 1
    tally.taken += code == 0
    tally.refused += code in (2, 3)
    tally.slowest, tally.megabytes = max(tally.slowest, took), max(tally.megabytes, above)
    trace = screen[-500:] if "Traceback" in screen else ""
    missed = judge(farm, bad, code, screen, trace)
    if took > LONGEST or above > MOST_MB:
        missed = f"{took:.0f} s ({time.monotonic() - started:.0f} by the clock) and {above:.0f} MB; " + missed
    if missed:
        tally.misses.append(f"{bad.name} of {len(bad.content)} bytes: {missed}")
        farm.renew()


def _most_held(pid: int) -> float:
    """Megabytes that a process has held at most; what the system tells at its end has its parent's in it."""
    try:
        told = re.search(r"VmHWM:\s+(\d+) kB", Path(f"/proc/{pid}/status").read_text())
    except OSError:
        return 0.0
    return int(told[1]) / 1024 if told else 0.0


def floor_of(farm: Farm) -> float:
    """Memory of a process that loads one sound sheet."""
    tally = Tally()
    explode(farm, Bad("pens", "pens.csv", csv_bytes(good("pens")), good("pens")), 0.0, tally)
    assert not tally.misses or "MB" in tally.misses[0], tally.misses
    return tally.megabytes


_STOP: list[int] = []
"""Filled by Ctrl-C or the end of the computer's patience: what was done is printed all the same."""


def run(sheets: int, seed: int, only: list[str]) -> dict[str, Tally]:
    """Loads so many bad sheets and returns what became of them, by kind."""
    tallies: dict[str, Tally] = {}
    names = [name for name in KINDS if not only or name in only]
    weights = [KINDS[name][1] for name in names]
    memory = "/dev/shm" if os.path.isdir("/dev/shm") else None
    with tempfile.TemporaryDirectory(prefix="bad-sheets-", dir=memory) as room:
        farm = Farm(Path(room))
        bombs = max(round(sheets * BOMB_SHARE), len(BOMBS)) if not only or "bombs" in only else 0
        drawn = round(sheets * HYPOTHESIS_SHARE) if not only or HYPOTHESIS in only else 0
        floor = floor_of(farm) if bombs else 0.0
        for number in range(bombs):
            if _STOP:
                break
            maker = BOMBS[number % len(BOMBS)]
            name = f"bomb: {maker.__name__.replace('_', ' ')}"
            explode(farm, maker(Random(f"{seed} bomb {number}")), floor, tallies.setdefault(name, Tally()))
        if drawn:
            tally = tallies.setdefault(HYPOTHESIS, Tally())
            by_hypothesis(drawn, seed, lambda bad: _STOP or load_one(farm, bad, tally.sheets % 8, tally))
        for number in range(sheets - bombs - drawn if names else 0):
            if _STOP:
                break
            dice = Random(f"{seed} {number}")
            name = dice.choices(names, weights)[0]
            load_one(farm, KINDS[name][0](dice), number % 8, tallies.setdefault(name, Tally()))
            if number % 500 == 499:
                print(f"... {number + 1}", file=sys.stderr, flush=True)
    return tallies


def main() -> int:
    """Runs, prints the table, and returns 1 where anything missed."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sheets", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[])
    parser.add_argument("--show", type=int, default=3, help="misses shown of each kind")
    asked = parser.parse_args()
    for ending in (signal.SIGINT, signal.SIGTERM):
        signal.signal(ending, lambda number, _: _STOP.append(number))
    tallies = run(asked.sheets, asked.seed, asked.only)
    print(f"{'kind':<24}{'sheets':>8}{'refused':>9}{'right':>8}{'missed':>8}{'longest':>9}{'memory':>9}")
    total: Counter[str] = Counter()
    for name, tally in tallies.items():
        right = tally.taken
        print(
            f"{name:<24}{tally.sheets:>8}{tally.refused:>9}{right:>8}{len(tally.misses):>8}"
            f"{tally.slowest:>7.1f} s{tally.megabytes:>6.0f} MB"
        )
        for missed in tally.misses[: asked.show]:
            print(f"    {missed}")
        total += Counter(sheets=tally.sheets, refused=tally.refused, right=right, missed=len(tally.misses))
    print(f"{'all':<24}{total['sheets']:>8}{total['refused']:>9}{total['right']:>8}{total['missed']:>8}")
    print(f"limits: {LONGEST:.0f} s and {MOST_MB} MB above a sound load; nothing may miss")
    return 1 if total["missed"] or total["sheets"] < asked.sheets else 0


if __name__ == "__main__":
    sys.exit(main())
