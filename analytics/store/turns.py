"""Whose turn it is within this process.

DuckDB refuses to open one file for reading and for writing in the same process. Readers may share the file
and one connection pool; a writer waits until they have left, and new readers wait behind a waiting writer.
"""

from __future__ import annotations

import os
import threading
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from analytics.errors import StoreBusy


class Turns:
    """Many readers or one writer, for one file.

    A reading thread may read again inside. Writing inside reading, or either inside writing, is a mistake
    of the program and raises RuntimeError instead of waiting for itself.
    """

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._readers: Counter[int] = Counter()
        self._writer: int | None = None
        self._writers_waiting = 0

    @contextmanager
    def shared(self, wait: float) -> Iterator[None]:
        """A reader's turn."""
        me = threading.get_ident()
        with self._changed:
            if self._writer == me:
                raise RuntimeError("this thread is writing the store and cannot open it again to read")
            self._await(lambda: self._may_read(me), wait)
            self._readers[me] += 1
        try:
            yield
        finally:
            with self._changed:
                self._readers[me] -= 1
                self._readers += Counter()  # forgets threads that have left
                self._changed.notify_all()

    @contextmanager
    def alone(self, wait: float) -> Iterator[None]:
        """A writer's turn."""
        me = threading.get_ident()
        with self._changed:
            if self._writer == me or self._readers[me]:
                raise RuntimeError("this thread has the store open and cannot open it again to write")
            self._writers_waiting += 1
            try:
                self._await(lambda: self._writer is None and not self._readers.total(), wait)
            finally:
                self._writers_waiting -= 1
                self._changed.notify_all()
            self._writer = me
        try:
            yield
        finally:
            with self._changed:
                self._writer = None
                self._changed.notify_all()

    def _may_read(self, me: int) -> bool:
        return self._writer is None and (not self._writers_waiting or self._readers[me] > 0)

    def _await(self, my_turn: Callable[[], bool], wait: float) -> None:
        if not self._changed.wait_for(my_turn, wait):
            raise StoreBusy(
                "The store is in use by another page or command of this program",
                f"We waited {wait:.0f} seconds",
                "Try again in a moment",
            )


_turns: dict[str, Turns] = {}
_finding = threading.Lock()


def turns_of(store: Path) -> Turns:
    """The turns of one file, the same for every way of writing its path."""
    with _finding:
        return _turns.setdefault(os.path.realpath(store), Turns())
