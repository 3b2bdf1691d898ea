"""kill -9 at random moments of everything that changes a store: no committed row lost, nothing half kept.

    python tests/faults/kill.py [--moments N] [--seed N] [--only OPERATION ...]

Each operation is steps (commands of penwise, or taps); the program says after each that it is done. It is
killed at moments spread evenly over the time that it takes, and besides right before every single thing
that it does with a file. Then another program opens the store: it must hold what it holds after the steps
that were said to be done, or after one step more, table by table; `penwise check` must be clean, and one
more row must go in. What lies beside (copies, stores that gave way) must be whole or not there. Then logs
and stores are cut and bytes in them turned over: what is missing must be said to whoever reads or writes.
Prints a line per operation; exits 1 on a loss.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import os
import shutil
import statistics
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from random import Random

sys.path.insert(0, str(Path(__file__).parent))

from damage import DAMAGES, damage_round, leave_log
from farm_sheets import SHEET_NAMES, good
from programs import Program, State, command, elsewhere, look, state_of

from analytics.sheets.bench import Tap, tap
from analytics.store import connection, migrations

Step = Callable[[], object]
READINGS = 4_000
DAMAGE_SHARE = 0.5
"""Damaged logs and stores, beside the moments."""


@dataclass(frozen=True, slots=True)
class Operation:
    """Something that changes a store, or copies it.

    Attributes:
        name: what it is.
        base: folder to begin from.
        steps: makes the steps for a folder.
        beside: names in the folder that, where they are there, are whole stores in one of these states.
    """

    name: str
    base: Path
    steps: Callable[[Path], list[Step]]
    beside: str = ""


@dataclass(slots=True)
class Tally:
    """What became of one operation."""

    moments: int = 0
    points: int = 0
    before: int = 0
    after: int = 0
    left_over: int = 0
    misses: list[str] = field(default_factory=list)


def write_sheets(folder: Path, readings: int) -> None:
    """The small smallholding with a logger's readings."""
    folder.mkdir(parents=True)
    for name in SHEET_NAMES:
        lines = [",".join(row) for row in good(name)]
        if name == "climate":
            lines += [
                f"North,2026-04-{1 + n // 1440:02d}T{n // 60 % 24:02d}:{n % 60:02d},37.6,45"
                for n in range(readings)
            ]
        (folder / f"{name}.csv").write_text("\n".join(lines) + "\n")


def correct_sheet(folder: Path) -> None:
    """The same readings, every one of them a little warmer."""
    folder.mkdir(parents=True)
    lines = (folder.parent / "sheets" / "climate.csv").read_text().replace(",37.6,", ",37.7,")
    (folder / "climate.csv").write_text(lines)


def bases(room: Path) -> dict[str, Path]:
    """The folders from which operations begin: no store, a store, an older one, one with a copy."""
    made = {
        name: room / "bases" / name for name in ("none", "store", "older", "copy", "older log", "copy log")
    }
    write_sheets(room / "sheets", READINGS)
    correct_sheet(room / "corrected")
    (room / "few").mkdir()
    days = [f"Alder,2026-0{3 + n // 28}-{1 + n % 28:02d},{n % 5}" for n in range(1, 140)]
    (room / "few" / "lay.csv").write_text("\n".join(["pen,on,eggs", *days]) + "\n")
    for folder in made.values():
        folder.mkdir(parents=True)
    do(command("load", room / "sheets", "--store", made["store"] / "farm.duckdb"))
    elsewhere(lambda: _older(made["older"] / "farm.duckdb", room / "sheets"))
    shutil.copytree(made["store"], made["copy"], dirs_exist_ok=True)
    at = made["copy"] / "farm.duckdb"
    do(command("backup", at.with_name("copy.duckdb"), "--store", at))
    do(command("note", "after the copy", "--on", "2026-03-05", "--store", at))
    for name in ("older", "copy"):
        shutil.copytree(made[name], made[f"{name} log"], dirs_exist_ok=True)
        elsewhere(lambda name=name: leave_log(made[f"{name} log"] / "farm.duckdb"))
    return made


def do(step: Step) -> None:
    code = elsewhere(lambda: _quiet(step))
    assert code in (0, None), code


def _older(store: Path, sheets: Path) -> None:
    """A store as the program made it before its last step."""
    from analytics.sheets.load import load

    connection.STEPS = migrations.STEPS = migrations.STEPS[:-1]
    load(store, [sheets])


def _taps(store: Path) -> list[Step]:
    def one(number: int) -> Step:
        return lambda: None if tap(store, "B1", "T2", "phone", [Tap(f"t{number}", "clear")]) == () else 1

    return [one(number) for number in range(3)]


def _entries(store: Path) -> list[Step]:
    why = ("--why", "counted twice", "--store", store)
    return [
        command("note", "new lamp", "--on", "2026-03-06", "--store", store),
        command("withdraw", "lay", "Rowan", "2026-03-01", *why),
        command("note", "less water", "--on", "2026-03-07", "--target", "North", "--store", store),
        command("withdraw", "lay", "Rowan", "2026-03-01", "--undo", *why),
    ]


def operations(room: Path) -> list[Operation]:
    """Everything that is killed."""
    base = bases(room)

    def loads(here: Path) -> list[Step]:
        return [command("load", room / "sheets", "--store", here / "farm.duckdb")]

    def corrects(here: Path) -> list[Step]:
        return [command("load", room / "corrected", "--accept-corrections", "--store", here / "farm.duckdb")]

    def opens(here: Path) -> list[Step]:
        return [command("check", "--store", here / "farm.duckdb")]

    def copies(here: Path) -> list[Step]:
        return [command("backup", here / "copy.duckdb", "--replace", "--store", here / "farm.duckdb")]

    def nightly(here: Path) -> list[Step]:
        return [command("backup", here, "--keep", 1, "--store", here / "farm.duckdb")] * 2

    def restores(here: Path) -> list[Step]:
        return [command("restore", here / "copy.duckdb", "--store", here / "farm.duckdb")]

    return [
        Operation("first load", base["none"], loads),
        Operation(
            "load",
            base["copy"],
            lambda here: [command("load", room / "few", "--store", here / "farm.duckdb")],
        ),
        Operation("correction", base["store"], corrects),
        Operation("entry: notes, rows set aside", base["store"], lambda here: _entries(here / "farm.duckdb")),
        Operation("entry: taps at the bench", base["store"], lambda here: _taps(here / "farm.duckdb")),
        Operation("migration", base["older"], opens, "farm-kept-*.duckdb"),
        Operation("migration, log beside", base["older log"], opens, "farm-kept-*.duckdb"),
        Operation("backup", base["copy"], copies, "copy.duckdb"),
        Operation("nightly copies", base["store"], nightly, "farm-copy-*.duckdb"),
        Operation("restore", base["copy"], restores, "farm-kept-*.duckdb"),
        Operation("restore, log beside", base["copy log"], restores, "farm-kept-*.duckdb"),
    ]


class Killer:
    """Kills one operation again and again.

    Attributes:
        states: what the store holds before the first step and after each; None = no store.
    """

    def __init__(self, operation: Operation, room: Path) -> None:
        self.operation, self.here, self.few = operation, room / "here", room / "few"
        self.tally = Tally()
        self.states = self._references()
        self.beside: list[State] = []
        self._learn()

    @property
    def store(self) -> Path:
        return self.here / "farm.duckdb"

    def _renew(self) -> None:
        shutil.rmtree(self.here, ignore_errors=True)
        shutil.copytree(self.operation.base, self.here)

    def _state(self) -> State | None:
        return elsewhere(lambda: state_of(self.store)) if self.store.exists() else None

    def _references(self) -> list[State | None]:
        self._renew()
        states = [self._state()]
        for step in self.operation.steps(self.here):
            do(step)
            states.append(self._state())
        return states

    def _learn(self) -> None:
        """How long it takes, at how many points it touches files, and what may lie beside."""
        took = []
        for _ in range(3):
            self._renew()
            program = Program(self.operation.steps(self.here), folder=self.here)
            done, said, _ = program.end()
            took.append(_since(program))
            assert done == len(self.states) - 1, said
        self.seconds = statistics.median(took)
        self.points = int(said.rpartition("points=")[2])
        self.beside = [state for state in self.states if state]
        first = self.operation.base / "copy.duckdb"
        if first.exists():
            self.beside.append(elsewhere(lambda: state_of(first)))

    def at_random(self, dice: Random) -> bool:
        """Kills it at a moment; False when it had ended before."""
        self._renew()
        program = Program(self.operation.steps(self.here))
        program.kill_after(dice.uniform(0, self.seconds))
        done, said, killed = program.end()
        if killed:
            self.tally.moments += 1
            self._judge(done, said)
        return killed

    def at_point(self, number: int) -> None:
        """Kills it right before the so-manieth thing that it does with a file."""
        self._renew()
        done, said, killed = Program(self.operation.steps(self.here), number, self.here).end()
        if killed:
            self.tally.points += 1
            self._judge(done, said)

    def _judge(self, done: int, said: str) -> None:
        missed = self._missed(done, said)
        if missed:
            self.tally.misses.append(f"{done} steps were said to be done: {missed}")

    def _missed(self, done: int, said: str) -> str:
        if said:
            return said[-300:]
        may_be = self.states[done : done + 2]
        missed = self._missed_beside()
        if missed or not self.store.exists():
            self.tally.before += 1
            return missed or ("" if None in may_be else "there is no store")
        found = elsewhere(lambda: look(self.store, lambda: _one_more(self.store)))
        self.tally.left_over += bool(found.left_over)
        if self.operation.name.startswith("migration"):
            may_be = self.states[1:]  # looking at it migrates it
        if found.state not in may_be:
            return f"the store holds something else: {_differing(found.state, may_be)}"
        self.tally.before += found.state == self.states[done]
        self.tally.after += found.state != self.states[done]
        if found.checked or not found.goes_on:
            return found.said[-400:]
        return ""

    def _missed_beside(self) -> str:
        for path in self.here.glob(self.operation.beside) if self.operation.beside else ():
            if "--" in path.name or os.path.samefile(path, self.store):
                continue
            try:
                if elsewhere(lambda path=path: state_of(path)) not in self.beside:
                    return f"{path.name} holds something else"
            except RuntimeError as error:
                return f"{path.name} cannot be opened: {str(error)[-200:]}"
        return ""


def _since(program: Program) -> float:
    import time

    return time.monotonic() - program.started


def _quiet(step: Step) -> object:
    import io
    from contextlib import redirect_stderr, redirect_stdout

    screen = io.StringIO()
    with redirect_stdout(screen), redirect_stderr(screen):
        code = step()
    return code if code in (0, None) else screen.getvalue()


def _one_more(store: Path) -> int:
    from analytics.cli.main import run

    return run(["note", "one more", "--on", "2026-03-09", "--store", str(store)])


def _differing(found: State, wanted: list[State | None]) -> str:
    return "; ".join(
        f"{name} {found.get(name)} for {[one and one.get(name) for one in wanted]}"
        for name in found
        if all(one is None or one.get(name) != found[name] for one in wanted)
    )


def kill_all(moments: int, seed: int, only: list[str], room: Path, points: int) -> dict[str, Tally]:
    """Kills every operation at its share of the moments, and at all its points (at most so many)."""
    chosen = [one for one in operations(room) if not only or one.name in only]
    tallies = {}
    for number, operation in enumerate(chosen):
        killer = Killer(operation, room)
        share = moments // len(chosen) + (number < moments % len(chosen))
        dice = Random(f"{seed} {operation.name}")
        while killer.tally.moments < share:
            killer.at_random(dice)
        every = list(range(1, killer.points + 1))
        for point in sorted(dice.sample(every, min(points, len(every)))):
            killer.at_point(point)
        tallies[operation.name] = killer.tally
        print(_line(operation.name, killer.tally, killer.seconds), flush=True)
        for missed in killer.tally.misses[:4]:
            print(f"    {missed}", flush=True)
    return tallies


_COLUMNS = f"{'moments':>8}{'points':>8}{'before':>8}{'after':>8}{'left over':>11}{'lost':>6}{'takes':>9}"
_HEADING = f"{'operation':<30}{_COLUMNS}"


def _line(name: str, tally: Tally, seconds: float) -> str:
    return (
        f"{name:<30}{tally.moments:>8}{tally.points:>8}{tally.before:>8}{tally.after:>8}{tally.left_over:>11}"
        f"{len(tally.misses):>6}{seconds:>7.2f} s"
    )


def main() -> int:
    """Runs, prints the table, and returns 1 on a loss."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--moments", type=int, default=200)
    parser.add_argument("--points", type=int, default=1000, help="at most so many points of an operation")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="*", default=[])
    asked = parser.parse_args()
    lost = 0
    with tempfile.TemporaryDirectory(prefix="kill-") as folder:
        room = Path(folder)
        print(_HEADING, flush=True)
        tallies = kill_all(asked.moments, asked.seed, asked.only, room, asked.points)
        lost += sum(len(tally.misses) for tally in tallies.values())
        moments = sum(tally.moments for tally in tallies.values())
        print(f"{moments} random moments, {sum(t.points for t in tallies.values())} points, {lost} losses")
        if not asked.only or "damage" in asked.only:
            each = max(round(asked.moments * DAMAGE_SHARE / len(DAMAGES)), 3)
            for name in DAMAGES:
                told = damage_round(name, each, Random(f"{asked.seed} {name}"), room)
                print(told.line(), flush=True)
                lost += len(told.misses)
    return 1 if lost or moments < asked.moments else 0


if __name__ == "__main__":
    sys.exit(main())
