"""The store as a file: whole or not at all, held against other programs, kept before it is replaced."""

from __future__ import annotations

import glob
import os
import random
import shutil
import sys
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from analytics.errors import StoreBusy, StoreError, StoreMissing

if sys.platform != "win32":
    import fcntl

_PART = 1 << 20
_LEFT_SECONDS = 86_400


def log_of(store: Path) -> Path:
    """DuckDB's write-ahead log beside a store; there only while a write runs, or after a crash."""
    return store.with_name(store.name + ".wal")


def fresh_beside(target: Path) -> Path:
    """A name beside the target that nobody uses, for a file that is not finished.

    What programs that were killed left under such names a day ago and more is cleared away.
    """
    for left in target.parent.glob(f"{glob.escape(target.name)}.part-*"):
        with suppress(OSError):
            if time.time() - left.stat().st_mtime > _LEFT_SECONDS:
                shutil.rmtree(left) if left.is_dir() else left.unlink()
    return target.with_name(f"{target.name}.part-{uuid.uuid4().hex[:12]}")


def discard(unfinished: Path) -> None:
    """Removes an unfinished file and its log, if they are there."""
    for path in (unfinished, log_of(unfinished)):
        with suppress(FileNotFoundError):
            path.unlink()


@contextmanager
def discarded(unfinished: Path) -> Iterator[None]:
    """Removes an unfinished file at the end of the block, if it is still there."""
    try:
        yield
    finally:
        discard(unfinished)


def sync(path: Path) -> None:
    """Makes sure that a file, or the names in a folder, are on the disk."""
    if os.name == "nt" and path.is_dir():
        return
    number = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(number)
    finally:
        os.close(number)


def write_whole(target: Path, text: str) -> None:
    """Writes a small text file so that after a crash the old or the new text is there, never half of it."""
    unfinished = target.with_name(target.name + ".part")
    with unfinished.open("w", encoding="utf-8") as handle:
        handle.write(text)
        handle.flush()
        os.fsync(handle.fileno())
    os.replace(unfinished, target)
    sync(target.parent)


def put_new(finished: Path, target: Path) -> bool:
    """Gives a finished file its name; False if another program was first, whose file then stays."""
    try:
        os.link(finished, target)
    except FileExistsError:
        return False
    except OSError:  # a disk without hard links
        if target.exists():
            return False
        os.replace(finished, target)
    else:
        finished.unlink()
    sync(target.parent)
    return True


def pause_before_next_try(started: float, wait: float, busy: str) -> None:
    """Sleeps a few milliseconds, more after a while; raises StoreBusy when the waiting time is over."""
    waited = time.monotonic() - started
    if waited > wait:
        raise StoreBusy(busy, f"We waited {wait:.0f} seconds", "Close it there or try again")
    time.sleep(min(0.005 + waited / 10, 0.05) * random.uniform(0.5, 1.5))


@contextmanager
def held(store: Path, wait: float, *, shared: bool = False) -> Iterator[Held]:
    """Holds a closed store while it is copied (`shared`: others may read) or replaced (nobody else may).

    DuckDB asks the operating system for the same lock, so its writers wait. No connection of this process
    may be open on the file, because closing either would free both.

    Raises:
        StoreMissing, StoreBusy, StoreError.
    """
    started = time.monotonic()
    while True:
        hold = Held(store, _open(store, shared))
        try:
            if _lock(hold.number, shared) and os.path.samestat(os.fstat(hold.number), os.stat(store)):
                yield hold
                return
        finally:
            hold.release()
        pause_before_next_try(started, wait, f"{store.name} is in use by another program")


def _open(store: Path, shared: bool) -> int:
    flags = (os.O_RDONLY if shared else os.O_RDWR) | getattr(os, "O_BINARY", 0)
    try:
        return os.open(store, flags)
    except FileNotFoundError:
        raise StoreMissing(f"No store at {store}", "It was there a moment ago", "Look who moved it") from None
    except OSError as error:
        raise StoreError(f"{store} may not be opened", str(error), "Ask who owns the file") from error


def _lock(number: int, shared: bool) -> bool:
    if sys.platform != "win32":
        try:
            fcntl.lockf(number, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
        except OSError:
            return False
    return True


class Held:
    """A store file that nobody else can open.

    Attributes:
        store: its path.
        number: open file number, to read from; the lock ends when it is closed.
    """

    def __init__(self, store: Path, number: int) -> None:
        self.store = store
        self.number = number
        self._open = True

    def release(self) -> None:
        """Lets others open the file again."""
        if self._open:
            os.close(self.number)
        self._open = False

    def copy_to(self, target: Path) -> None:
        """Copies file and log byte for byte, puts them on the disk and reads the file back to compare.

        Raises:
            OSError: no room, no right, or what was read back differs.
        """
        os.lseek(self.number, 0, os.SEEK_SET)
        with target.open("xb") as copy:
            read = _digest(lambda: os.read(self.number, _PART), copy.write)
            copy.flush()
            os.fsync(copy.fileno())
        with target.open("rb") as copy:
            if _digest(lambda: copy.read(_PART)) != read:
                raise OSError(f"{target} differs from what was written to it")
        if log_of(self.store).exists():
            shutil.copyfile(log_of(self.store), log_of(target))
            sync(log_of(target))

    def replace_by(self, finished: Path, now: datetime) -> Path:
        """Puts a finished file in the store's place; the old one, and its log, keep a dated name beside.

        At every moment a whole file stands under the store's name.

        Returns:
            Where the old file is.
        """
        kept = kept_name(self.store, now)
        try:
            os.link(self.store, kept)
        except OSError:  # a disk without hard links
            self.copy_to(kept)
        if log_of(self.store).exists():
            os.replace(log_of(self.store), log_of(kept))
        if sys.platform == "win32":  # an open file cannot be replaced there
            self.release()
        os.replace(finished, self.store)
        sync(self.store.parent)
        return kept


def _digest(read: Callable[[], bytes], keep: Callable[[bytes], object] = lambda part: None) -> bytes:
    digest = sha256()
    while part := read():
        digest.update(part)
        keep(part)
    return digest.digest()


def kept_name(store: Path, now: datetime) -> Path:
    """A dated name beside the store that nobody uses, for the file that gives way."""
    dated = store.with_name(f"{store.stem}-kept-{now:%Y-%m-%d-%H%M%S}{store.suffix}")
    number = 1
    while dated.exists():
        number += 1
        dated = dated.with_name(f"{store.stem}-kept-{now:%Y-%m-%d-%H%M%S}-{number}{store.suffix}")
    return dated
