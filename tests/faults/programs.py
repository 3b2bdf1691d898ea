"""Programs that are started to be killed, and what a store holds, without its times, before and after.

A program is a fork of this one, which has the modules loaded but never opens a store itself.
"""

from __future__ import annotations

import io
import os
import pickle
import signal
import sys
import time
import traceback
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb

from analytics.cli import care, history, note, sheets  # noqa: F401 - so that no fork imports them again
from analytics.cli.main import run
from analytics.sheets import health, load, noting, withdraw  # noqa: F401
from analytics.store import copies  # noqa: F401

NOT_COMPARED = ("made_at", "applied_at", "created_at", "store_id")
"""Columns that differ each time."""
State = dict[str, tuple[int, int]]


class Program:
    """A fork that runs steps and says after each that it is done.

    Attributes:
        pid: its number.
        started: when, by the monotonic clock.
    """

    def __init__(
        self, steps: list[Callable[[], object]], kill_at_point: int = 0, folder: Path | None = None
    ) -> None:
        self._read, write = os.pipe()
        sys.stdout.flush()
        sys.stderr.flush()
        self.pid = os.fork()
        if self.pid == 0:
            os.close(self._read)
            _work(steps, write, kill_at_point, folder)
        os.close(write)
        os.read(self._read, 1)  # it is about to begin
        self.started = time.monotonic()

    def kill_after(self, seconds: float) -> None:
        """Kills it so long after it began."""
        time.sleep(max(self.started + seconds - time.monotonic(), 0))
        os.kill(self.pid, signal.SIGKILL)

    def end(self) -> tuple[int, str, bool]:
        """Waits; returns how many steps it said were done, what else it said, and whether it was killed."""
        told = b""
        while part := os.read(self._read, 65536):
            told += part
        os.close(self._read)
        _, status = os.waitpid(self.pid, 0)
        return told.count(b"\1"), told.replace(b"\1", b"").decode(errors="replace"), os.WIFSIGNALED(status)


def _work(steps: list[Callable[[], object]], write: int, kill_at_point: int, folder: Path | None) -> None:
    code = 1
    try:
        points = _count_points(folder, kill_at_point) if folder else [0]
        os.write(write, b"\2")
        screen = io.StringIO()
        with redirect_stdout(screen), redirect_stderr(screen):
            for step in steps:
                if step() not in (0, None):
                    os.write(write, screen.getvalue().encode())
                    break
                os.write(write, b"\1")
            else:
                code = 0
        os.write(write, f"points={points[0]}".encode() if folder else b"")
    except BaseException:
        with suppress(OSError):
            os.write(write, traceback.format_exc().encode())
    finally:
        os._exit(code)


def _count_points(folder: Path, kill_at: int) -> list[int]:
    """Counts what this program does with files in the folder, and kills it right before one of these."""
    points, inside = [0], str(folder)

    def point() -> None:
        points[0] += 1
        if points[0] == kill_at:
            os.kill(os.getpid(), signal.SIGKILL)

    def heard(event: str, arguments: tuple[Any, ...]) -> None:
        named = event in ("os.rename", "os.remove", "os.link", "open", "shutil.copyfile", "os.mkdir")
        if named and any(
            inside in os.fsdecode(one) for one in arguments if isinstance(one, (str, bytes, os.PathLike))
        ):
            point()

    sync = os.fsync

    def counted_sync(number: int) -> None:
        point()
        sync(number)

    os.fsync = counted_sync
    sys.addaudithook(heard)
    return points


def command(*words: object) -> Callable[[], int]:
    """A command of penwise as a step."""
    return lambda: run([str(word) for word in words])


def elsewhere(question: Callable[[], Any]) -> Any:
    """What a function returns in a program of its own."""
    read, write = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(read)
            try:
                answer = (True, question())
            except BaseException:
                answer = (False, traceback.format_exc())
            with os.fdopen(write, "wb") as out:
                pickle.dump(answer, out)
        finally:
            os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb") as back:
        content = back.read()
    os.waitpid(pid, 0)
    well, answer = pickle.loads(content)
    if not well:
        raise RuntimeError(answer)
    return answer


def state_of(store: Path) -> State:
    """Every table with its number of rows and a sum over them, without times. Call it in a fork."""
    with duckdb.connect(str(store), read_only=True) as connection:
        columns = connection.execute(
            "SELECT table_name, string_agg('\"' || column_name || '\"', ', ' ORDER BY column_index)"
            " FROM duckdb_columns() WHERE NOT internal AND NOT list_contains(?, column_name)"
            " GROUP BY table_name",
            [list(NOT_COMPARED)],
        ).fetchall()
        return {
            name: connection.execute(
                f"SELECT count(*), coalesce(sum(hash({those})), 0) FROM {name}"
            ).fetchall()[0]
            for name, those in columns
        }


@dataclass(frozen=True, slots=True)
class Found:
    """A store after something happened to it.

    Attributes:
        state: what it holds.
        checked: exit code of `penwise check`.
        said: what that said.
        goes_on: whether one more row could be written.
        left_over: names in its folder that are no store, tally or log.
    """

    state: State
    checked: int
    said: str
    goes_on: bool
    left_over: tuple[str, ...]


def look(store: Path, write: Callable[[], int]) -> Found:
    """Opens a store, checks it, and writes one more row; not for the program that forks."""
    screen = io.StringIO()
    with redirect_stdout(screen), redirect_stderr(screen):
        checked = run(["check", "--store", str(store)])
        state = state_of(store)
        goes_on = write() == 0
    left = tuple(path.name for path in store.parent.iterdir() if ".part" in path.name)
    return Found(state, checked, screen.getvalue(), goes_on, left)
