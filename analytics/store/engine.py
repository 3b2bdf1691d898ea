"""The only place that asks DuckDB to open a file, and that puts its refusals into our words.

What DuckDB says is known by its wording alone; the tests bring each of these about on real files.
"""

from __future__ import annotations

import os
import re
import time
from collections.abc import Sequence
from pathlib import Path

import duckdb

from analytics.errors import NotAStore, StoreDamaged, StoreError, StoreMissing, StoreTooNew
from analytics.store.files import pause_before_next_try
from analytics.store.tally import read_tally

_MOST_MEMORY = 4_000
"""MB that DuckDB may hold, or half of this computer's where that is less; beyond it works on the disk."""


def _memory() -> str:
    try:
        mine = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE") // 2_000_000
    except (AttributeError, OSError, ValueError):  # a system that does not tell
        mine = _MOST_MEMORY
    return f"{min(_MOST_MEMORY, mine)}MB"


_LOCKED_IN: dict[str, str | bool | int | float | list[str]] = {
    "enable_external_access": "false",
    "lock_configuration": "true",
    "memory_limit": _memory(),
}
_NO_EXTENSIONS: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
    "memory_limit": _memory(),
}
_BUSY = re.compile("Could not set lock|used by another process")
_FOREIGN = re.compile("not a valid DuckDB database|Loading external extensions is disabled|Is a directory")
_LATER = re.compile("with version number|newer version of DuckDB|newer DuckDB")
_GONE = re.compile("No such file or directory")
_NO_RIGHT = re.compile("Permission denied|Read-only file system")
_NO_ROOM = re.compile("No space left|File too large|[Oo]ut of disk|Could not write|quota")
_BROKEN = re.compile(
    "[Cc]orrupt|checksum|Could not read|replaying WAL|has been invalidated|[Ff]ailed to deserialize"
)


def open_file(
    path: Path,
    *,
    read_only: bool,
    wait: float,
    may_read: Sequence[Path] = (),
    named: Path | None = None,
) -> duckdb.DuckDBPyConnection:
    """A connection that can reach this file, its log and the folders given, and nothing else.

    Args:
        path: the store.
        read_only: several readers may share the file, also with other programs; a writer is alone.
        wait: seconds to wait for another program.
        may_read: folders whose files the SQL of a writing connection may read.
        named: file to name in messages, if not this one.

    Raises:
        StoreBusy, StoreMissing, NotAStore, StoreTooNew, StoreDamaged, StoreError.
    """
    started = time.monotonic()
    while True:
        before = _file_number(path)
        try:
            connection = _connect(path, read_only, may_read)
        except duckdb.Error as error:
            if not _BUSY.search(str(error)):
                raise _refused_to_open(error, named or path) from error
            pause_before_next_try(started, wait, _who_holds(error, named or path))
            continue
        if before in (None, _file_number(path)):
            return connection
        connection.close()  # the file was replaced while we opened it


def _file_number(path: Path) -> int | None:
    try:
        return os.stat(path).st_ino
    except FileNotFoundError:
        return None


def _connect(path: Path, read_only: bool, may_read: Sequence[Path]) -> duckdb.DuckDBPyConnection:
    if not may_read:
        return duckdb.connect(str(path), read_only=read_only, config=_LOCKED_IN)
    connection = duckdb.connect(str(path), read_only=read_only, config=_NO_EXTENSIONS)
    folders = ", ".join("'" + str(folder.resolve()).replace("'", "''") + "'" for folder in may_read)
    connection.execute(f"SET allowed_directories = [{folders}]")
    connection.execute("SET enable_external_access = false")
    connection.execute("SET lock_configuration = true")
    return connection


def _who_holds(error: duckdb.Error, path: Path) -> str:
    process = re.search(r"\(PID (\d+)\)", str(error))
    by = f" (process {process[1]})" if process else ""
    return f"{path.name} is in use by another program{by}"


def _damaged(error: duckdb.Error, path: Path) -> StoreDamaged:
    first = str(error).splitlines()[0]
    return StoreDamaged(
        f"{path.name} is damaged",
        f"The file could not be read as it was written ({first})",
        "Put a copy in its place: penwise restore COPY",
    )


def _refused_to_open(error: duckdb.Error, path: Path) -> StoreError:
    text = str(error)
    if _FOREIGN.search(text):
        return _damaged(error, path) if read_tally(path) else not_a_store(path)
    if _LATER.search(text):
        return StoreTooNew(
            f"{path.name} was written by a later DuckDB", "This program cannot read it", "Update penwise"
        )
    if _GONE.search(text):
        return StoreMissing(f"No store at {path}", "The file or its folder is gone", "Look who moved it")
    if _NO_RIGHT.search(text):
        return StoreError(
            f"{path} may not be opened", "You need the right to read and write it", "Ask who owns the file"
        )
    return failure_within(error, path) or _damaged(error, path)


def failure_within(error: duckdb.Error, path: Path) -> StoreError | None:
    """What went wrong while a store was open, in our words; None when it says nothing about the file."""
    text = str(error)
    if _NO_ROOM.search(text):
        return StoreError(
            f"{path.name} could not be written",
            "The disk is full or the file may not grow; nothing of this was kept",
            "Make room and try again",
        )
    if _NO_RIGHT.search(text):
        return StoreError(
            f"{path.name} could not be written",
            "You need the right to write the file and into its folder; nothing of this was kept",
            "Ask who owns the folder",
        )
    if _BROKEN.search(text):
        return _damaged(error, path)
    return None


def not_a_store(path: Path) -> NotAStore:
    """The refusal of a file that penwise did not make."""
    return NotAStore(
        f"{path.name} is not a store of penwise", "A store is a file made by penwise", "Give another file"
    )
