"""Copies of the store: made and brought back only after they were read through and compared."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from analytics.errors import NotAStore, StoreBusy, StoreDamaged, StoreError, StoreTooNew, WrongUsage
from analytics.store import files
from analytics.store.audit import begin_entry
from analytics.store.connection import (
    WAIT_SECONDS,
    holding,
    make_folder_of,
    must_exist,
    reading,
    reading_as_it_is,
    refuse_orphaned_log,
    said_of_disk,
    with_our_words,
)
from analytics.store.engine import open_file
from analytics.store.migrations import fold_log, tally_in, upgrade, version_of
from analytics.store.tally import Tally, missing_changes, read_tally, refuse_behind, tally_of, write_tally
from analytics.store.turns import turns_of


@dataclass(frozen=True, slots=True)
class TableSum:
    """What a table holds, in two numbers that two equal tables share.

    Attributes:
        rows: number of rows.
        digest: sum of a hash of every row.
    """

    rows: int
    digest: int


@dataclass(frozen=True, slots=True)
class Copied:
    """A copy that was read through from its first to its last row.

    Attributes:
        path: where it is.
        tally: the store it is of, and its change count.
        tables: every table with its rows and digest.
        kept: where the store that gave way is kept; None when there was none.
    """

    path: Path
    tally: Tally
    tables: dict[str, TableSum]
    kept: Path | None = None


def table_sums(connection: duckdb.DuckDBPyConnection) -> dict[str, TableSum]:
    """Reads every cell of an open store; what is damaged anywhere is found by its checksum."""
    names = connection.execute(
        "SELECT table_name FROM duckdb_tables() WHERE NOT temporary AND NOT internal ORDER BY table_name"
    ).fetchall()
    return {str(name): _table_sum(connection, str(name)) for (name,) in names}


def _table_sum(connection: duckdb.DuckDBPyConnection, name: str) -> TableSum:
    row = connection.execute(
        f'SELECT count(*), coalesce(sum(hash(t)), 0) FROM "{name}" t'  # noqa: S608 - a name from the catalogue
    ).fetchall()[0]
    return TableSum(int(row[0]), int(row[1]))


def backup(store: Path, target: Path, *, replace: bool = False, wait: float = WAIT_SECONDS) -> Copied:
    """Copies the store and verifies the copy.

    Args:
        store: the store; others may read it meanwhile.
        target: file to make; its folder must exist.
        replace: whether a file of that name may be replaced.
        wait: seconds to wait for others.

    Raises:
        WrongUsage: the target is there, or its folder is not.
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew, StoreError.
    """
    must_exist(store)
    _refuse_target(store, target, replace)
    unfinished = files.fresh_beside(target)
    with said_of_disk(target), files.discarded(unfinished):
        copied = _verified_copy(store, unfinished, wait)
        _compare(copied, store, wait)
        if replace:
            os.replace(unfinished, target)
            files.sync(target.parent)
        elif not files.put_new(unfinished, target):
            raise _already_there(target)
    return Copied(target, copied.tally, copied.tables)


def restore(copy: Path, store: Path, *, wait: float = WAIT_SECONDS) -> Copied:
    """Puts a verified copy in the store's place; the present store is kept beside under a dated name.

    The ledger says that it was restored, and the change count goes on from the higher of the two, so that
    no page takes the old store for the new one.

    Raises:
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew, StoreError.
    """
    must_exist(copy)
    if store.exists() and os.path.samefile(copy, store):
        raise WrongUsage(
            "Copy and store are one file", "A store is restored from another file", "Give a copy"
        )
    make_folder_of(store)
    unfinished = files.fresh_beside(store)
    with said_of_disk(store), files.discarded(unfinished):
        _verified_copy(copy, unfinished, wait)
        if store.exists():
            _refuse_foreign(store, wait)
            _fold_log(store, wait)
            with holding(store, wait) as hold:
                copied = _marked_as_restored(unfinished, copy, read_tally(store))
                kept = hold.replace_by(unfinished, datetime.now(UTC))
                _take_over_tally(store, kept, copied.tally)
            return Copied(store, copied.tally, copied.tables, kept)
        refuse_orphaned_log(store)
        copied = _marked_as_restored(unfinished, copy, read_tally(store))
        if not files.put_new(unfinished, store):
            raise StoreError(f"{store} was made by another program just now", "It stays", "Look at it first")
        write_tally(store, copied.tally)
    return Copied(store, copied.tally, copied.tables)


def accept_loss(store: Path) -> int:
    """Goes on with a store that lacks changes which its tally counted; the tally is set to what is there.

    Returns:
        How many changes are given up.

    Raises:
        as `reading`.
    """
    with reading_as_it_is(store) as connection:
        found = tally_in(connection)
        kept = read_tally(store)
        with said_of_disk(tally_of(store)):
            write_tally(store, found)
    return missing_changes(kept, found)


def _refuse_target(store: Path, target: Path, replace: bool) -> None:
    if not target.parent.is_dir():
        raise WrongUsage(f"There is no folder {target.parent}", "A copy goes into a folder that is there",
                         "Make the folder, or look whether the disk is connected")  # fmt: skip
    if target.exists() and os.path.samefile(store, target):
        raise WrongUsage("Copy and store are one file", "A copy is another file", "Give another name")
    if target.exists() and not replace:
        raise _already_there(target)


def _already_there(target: Path) -> WrongUsage:
    return WrongUsage(f"{target} is there already", "A copy replaces nothing unless asked to",
                      "Give another name, or say --replace")  # fmt: skip


def _verified_copy(source: Path, unfinished: Path, wait: float) -> Copied:
    """Copies a store with what is still in its log, and reads all of it."""
    with holding(source, wait, shared=True) as hold:
        hold.copy_to(unfinished)
        kept = read_tally(source)  # while nobody can change either: a change made later is not a lost one
    with _opened(unfinished, source) as connection:
        version_of(connection, source)
        tally = tally_in(connection)
        refuse_behind(source, tally, kept)
        tables = table_sums(connection)
        connection.execute("CHECKPOINT")
    return Copied(unfinished, tally, tables)


@contextmanager
def _opened(unfinished: Path, named: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """A writing connection to a file that only we know; `named` stands in messages."""
    with with_our_words(named):
        connection = open_file(unfinished, read_only=False, wait=0, named=named)
        try:
            yield connection
        finally:
            connection.close()


def _compare(copied: Copied, store: Path, wait: float) -> None:
    """Sets the copy beside the store, unless the store has gone on meanwhile."""
    with reading(store, wait) as connection:
        if tally_in(connection) == copied.tally and table_sums(connection) != copied.tables:
            raise StoreDamaged(
                f"The copy of {store.name} differs from it",
                "Both are read to the last row",
                "Look at the disk",
            )


def _refuse_foreign(store: Path, wait: float) -> None:
    """Refuses to move aside a file that never was a store; a damaged or newer store may give way."""
    try:
        with reading(store, wait):
            pass
    except (NotAStore, StoreBusy):
        raise
    except StoreError:
        return


def _fold_log(store: Path, wait: float) -> None:
    """Puts a log into its file before the file gives way; one that cannot be read goes beside it as it is."""
    with turns_of(store).alone(wait), suppress(StoreDamaged, StoreTooNew):
        fold_log(store, wait)


def _marked_as_restored(unfinished: Path, copy: Path, present: Tally | None) -> Copied:
    with _opened(unfinished, copy) as connection:
        upgrade(connection, copy)
        connection.begin()
        connection.execute(
            "UPDATE store_meta SET change_count = greatest(change_count, ?)",
            [present.change_count if present else 0],
        )
        entry_no = begin_entry(connection, "restore", copy.name)
        connection.execute("UPDATE store_meta SET change_count = ?", [entry_no])
        connection.commit()
        connection.execute("CHECKPOINT")
        return Copied(unfinished, tally_in(connection), table_sums(connection))


def _take_over_tally(store: Path, kept: Path, tally: Tally) -> None:
    if tally_of(store).exists():
        shutil.copyfile(tally_of(store), tally_of(kept))
    write_tally(store, tally)
