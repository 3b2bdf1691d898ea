"""How the store came to its present shape, step by step, and how an older store is brought along.

A new store runs every step; an older one runs the steps it lacks on a copy, each step in one transaction
with its row in `migrations`. Only when all have run does the copy take the store's place, and the old file
stays beside under a dated name. A step that fails leaves the old store as it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import duckdb

from analytics.errors import StoreDamaged, StoreError, StoreTooNew
from analytics.store import files
from analytics.store.engine import not_a_store, open_file
from analytics.store.tally import Tally, read_tally, refuse_behind, write_tally


@dataclass(frozen=True, slots=True)
class Step:
    """One change of the schema.

    Attributes:
        version: schema version after it; the steps count 1, 2, 3, ...
        name: what it does.
        script: SQL, run as a whole. It may drop and rename; comments have to be set again.
    """

    version: int
    name: str
    script: str

    @property
    def checksum(self) -> str:
        """SHA-256 of the script."""
        return sha256(self.script.encode()).hexdigest()


def _script(name: str) -> str:
    return Path(__file__).with_name(name).read_text(encoding="utf-8")


STEPS: tuple[Step, ...] = (
    Step(1, "first schema", _script("schema.sql")),
    Step(2, "taps at the bench", _script("schema_taps.sql")),
)
"""Every step ever made; one that has been released is never edited."""


def newest() -> int:
    """The schema version that this program works with."""
    return STEPS[-1].version


def version_of(connection: duckdb.DuckDBPyConnection, store: Path) -> int:
    """The schema version of an open store.

    Raises:
        NotAStore, StoreTooNew.
    """
    try:
        row = connection.execute(
            "SELECT max(version) FROM migrations WHERE (SELECT application FROM store_meta) = 'penwise'"
        ).fetchone()
    except (duckdb.CatalogException, duckdb.BinderException) as error:
        raise not_a_store(store) from error
    if row is None or row[0] is None:
        raise not_a_store(store)
    if row[0] > newest():
        raise StoreTooNew(
            f"{store.name} has schema {row[0]}",
            f"This program knows schemas up to {newest()}",
            "Update penwise",
        )
    return int(row[0])


def run_steps(connection: duckdb.DuckDBPyConnection, steps: Sequence[Step]) -> None:
    """Runs steps, each in a transaction of its own together with its row in `migrations`."""
    for step in steps:
        connection.begin()
        try:
            connection.execute(step.script)
            connection.execute(
                "INSERT INTO migrations VALUES (?, ?, ?, ?)",
                [step.version, step.name, datetime.now(UTC).replace(tzinfo=None), step.checksum],
            )
            connection.commit()
        except duckdb.Error:
            with suppress(duckdb.Error):  # a commit that fails has ended the transaction
                connection.rollback()
            raise


def tally_in(connection: duckdb.DuckDBPyConnection) -> Tally:
    """Name and change count of an open store."""
    row = connection.execute("SELECT store_id, change_count FROM store_meta").fetchone()
    if row is None:
        raise StoreDamaged(
            "The store has lost its own description", "store_meta has one row", "Put a copy in its place"
        )
    return Tally(str(row[0]), int(row[1]))


def upgrade(connection: duckdb.DuckDBPyConnection, store: Path) -> bool:
    """Runs the steps that an open store lacks; `store` names it in messages.

    Returns:
        Whether any was lacking.

    Raises:
        NotAStore, StoreTooNew, StoreError.
    """
    version = version_of(connection, store)
    if version == newest():
        return False
    try:
        run_steps(connection, [step for step in STEPS if step.version > version])
        connection.execute("UPDATE store_meta SET change_count = change_count + 1")
    except duckdb.Error as error:
        raise StoreError(
            f"{store.name} could not be brought up to date",
            f"It was left as it was ({str(error).splitlines()[0]})",
            "Keep it and report this",
        ) from error
    return True


def bring_up_to_date(store: Path, wait: float) -> Path | None:
    """Migrates an older store on a copy; the caller has it to itself within this process.

    Returns:
        Where the old file is kept; None when another program had migrated it already.

    Raises:
        StoreBusy, NotAStore, StoreTooNew, StoreDamaged, StoreError.
    """
    fold_log(store, wait)
    copy = files.fresh_beside(store)
    try:
        with files.held(store, wait) as hold:
            hold.copy_to(copy)
            tally = _upgraded(copy, store)
            if tally is None:
                return None
            kept = hold.replace_by(copy, datetime.now(UTC))
            write_tally(store, tally)
            return kept
    finally:
        files.discard(copy)


def fold_log(store: Path, wait: float) -> None:
    """Puts a log that a crash left into its file, so that the file alone is the whole store.

    A file that gives way to another then takes nothing with it that lies beside: between two names, the log's
    and the file's, a program can be killed. The caller has the store to itself within this process.

    Raises:
        StoreBusy, StoreDamaged, StoreTooNew, NotAStore, StoreError.
    """
    if not files.log_of(store).exists():
        return
    for read_only in (True, False):  # a log that was cut short is not used up
        connection = open_file(store, read_only=read_only, wait=wait)
        try:
            version_of(connection, store)
            refuse_behind(store, tally_in(connection), read_tally(store))
        finally:
            connection.close()


def _upgraded(copy: Path, store: Path) -> Tally | None:
    connection = open_file(copy, read_only=False, wait=0)
    try:
        refuse_behind(store, tally_in(connection), read_tally(store))
        if not upgrade(connection, store):
            return None
        connection.execute("CHECKPOINT")
        return tally_in(connection)
    finally:
        connection.close()
