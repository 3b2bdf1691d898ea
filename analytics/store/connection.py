"""Opening the store: one module, short-lived connections, retry while another program writes.

DuckDB lets one process write, and while it does no other may even read. So every piece of work opens
the file, does its work and closes it again; who finds it taken waits and tries again.
"""

from __future__ import annotations

import random
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import duckdb

from analytics.errors import NotAStore, StoreBusy, StoreDamaged, StoreMissing, StoreTooNew

WAIT_SECONDS = 15.0
"""How long a connection waits for another program before it gives up."""
SCHEMA = Path(__file__).with_name("schema.sql")
SCHEMA_VERSION = 1
_in_this_process = threading.RLock()


def create(store: Path) -> None:
    """Makes an empty store; does nothing when there is one.

    Raises:
        StoreBusy, StoreDamaged, NotAStore, StoreTooNew.
    """
    if store.exists():
        return
    store.parent.mkdir(parents=True, exist_ok=True)
    script = SCHEMA.read_text(encoding="utf-8")
    with _in_this_process:
        connection = _connect(store, read_only=False, wait=WAIT_SECONDS)
        try:
            now = datetime.now(UTC).replace(tzinfo=None)
            connection.begin()
            connection.execute(script)
            connection.execute(
                "INSERT INTO store_meta VALUES (1, 'penwise', ?, ?, 0)", [uuid.uuid4().hex, now]
            )
            connection.execute(
                "INSERT INTO migrations VALUES (?, 'first schema', ?, ?)",
                [SCHEMA_VERSION, now, sha256(script.encode()).hexdigest()],
            )
            connection.commit()
        finally:
            connection.close()


@contextmanager
def reading(store: Path, wait: float = WAIT_SECONDS) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection, closed at the end of the block.

    Raises:
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew.
    """
    _must_exist(store)
    with _in_this_process:
        connection = _connect(store, read_only=True, wait=wait)
        try:
            _recognise(connection, store)
            yield connection
        finally:
            connection.close()


@contextmanager
def writing(store: Path, wait: float = WAIT_SECONDS) -> Iterator[duckdb.DuckDBPyConnection]:
    """One transaction: committed when the block ends, rolled back when it raises.

    Raises:
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew.
    """
    _must_exist(store)
    with _in_this_process:
        connection = _connect(store, read_only=False, wait=wait)
        try:
            _recognise(connection, store)
            connection.begin()
            yield connection
            connection.execute("UPDATE store_meta SET change_count = change_count + 1")
            connection.commit()
        except BaseException:
            connection.rollback()
            raise
        finally:
            connection.close()


def change_count(store: Path) -> int:
    """How often the store was changed; the key of every cache.

    Raises:
        as `reading`.
    """
    with reading(store) as connection:
        row = connection.execute("SELECT change_count FROM store_meta").fetchone()
    return int(row[0]) if row else 0


def _must_exist(store: Path) -> None:
    if not store.exists():
        raise StoreMissing(
            f"No store at {store}", "A store is made by the first load", "Run penwise load, or penwise demo"
        )


def _connect(store: Path, *, read_only: bool, wait: float) -> duckdb.DuckDBPyConnection:
    deadline = time.monotonic() + wait
    pause = 0.01
    while True:
        try:
            return duckdb.connect(str(store), read_only=read_only)
        except duckdb.IOException as error:
            if "lock" not in str(error).lower():
                raise NotAStore(
                    f"{store.name} is not a store of penwise",
                    "A store is a DuckDB file made by penwise",
                    "Give another file",
                ) from error
            if time.monotonic() > deadline:
                raise StoreBusy(
                    f"{store.name} is in use by another program",
                    f"We waited {wait:.0f} seconds",
                    "Close it there or try again",
                ) from error
            time.sleep(pause * random.uniform(0.5, 1.5))
            pause = min(pause * 2, 0.5)
        except duckdb.Error as error:
            raise StoreDamaged(
                f"{store.name} cannot be opened",
                str(error).splitlines()[0],
                "Restore a copy: penwise restore",
            ) from error


def _recognise(connection: duckdb.DuckDBPyConnection, store: Path) -> None:
    try:
        row = connection.execute("SELECT max(version) FROM migrations").fetchone()
    except duckdb.CatalogException as error:
        raise NotAStore(
            f"{store.name} is a DuckDB file, but not of penwise",
            "A store has a table of migrations",
            "Give another file",
        ) from error
    if row and row[0] is not None and row[0] > SCHEMA_VERSION:
        raise StoreTooNew(
            f"{store.name} has schema {row[0]}",
            f"This program knows schemas up to {SCHEMA_VERSION}",
            "Install a newer penwise",
        )
