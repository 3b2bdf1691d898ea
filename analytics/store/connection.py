"""Opening the store: short-lived connections, retry while another program writes.

DuckDB lets one process write, and while it does no other may even read. So every piece of work opens the
file, does its work and closes it again; who finds it taken waits and tries again. Threads of one process
take turns (see `turns`). An older store is migrated before it is opened, for reading too: the questions
know one shape only, and the old file is kept beside. A store that lacks changes which it once held (see
`tally`) is shown to nobody as if it were whole.
"""

from __future__ import annotations

import logging
import uuid
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

import duckdb

from analytics.errors import StoreDamaged, StoreError, StoreMissing
from analytics.store import files
from analytics.store.engine import failure_within, open_file
from analytics.store.migrations import STEPS, bring_up_to_date, newest, run_steps, tally_in, version_of
from analytics.store.tally import Tally, read_tally, refuse_behind, write_tally
from analytics.store.turns import turns_of

WAIT_SECONDS = 15.0
"""How long a connection waits for another program before it gives up."""
_log = logging.getLogger(__name__)


class LeaveUnchanged(Exception):  # noqa: N818 - a way to leave, not an error
    """Raise it inside `writing` to end the block in peace with nothing kept and nothing counted."""


def create(store: Path, named: Path | None = None) -> None:
    """Makes an empty store; does nothing when there is one.

    Built in a file beside and named when it is whole. Of two programs that do so at once, one wins.

    Args:
        store: where.
        named: file to name in messages, if not this one.

    Raises:
        StoreDamaged: a log is there whose store is gone.
        StoreError: there is no right to write there, or no room.
    """
    if store.exists():
        return
    refuse_orphaned_log(store)
    make_folder_of(store)
    unfinished = files.fresh_beside(store)
    with said_of_disk(named or store), with_our_words(named or store), files.discarded(unfinished):
        tally = _build(unfinished, named or store)
        if files.put_new(unfinished, store):
            write_tally(store, tally)


@contextmanager
def said_of_disk(target: Path) -> Iterator[None]:
    """Puts what the operating system says about a disk or a folder into our words.

    Raises:
        StoreError: a file could not be read or written.
    """
    try:
        yield
    except OSError as error:
        raise StoreError(
            f"{target} could not be written",
            error.strerror or str(error),
            "Nothing was replaced; look whether you may write there and whether there is room, and try again",
        ) from error


def refuse_orphaned_log(store: Path) -> None:
    """Raises StoreDamaged when a log is there whose store is gone: it may hold the last changes."""
    log = files.log_of(store)
    if log.exists():
        raise StoreDamaged(
            f"{log.name} is there, but {store.name} is gone",
            "The log holds the last changes of the store that was here",
            "Bring the store back beside it, or move the log away",
        )


def make_folder_of(store: Path) -> None:
    """Makes the folder in which a store goes.

    Raises:
        StoreError: it cannot be made.
    """
    try:
        store.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"The folder {store.parent} cannot be made",
            error.strerror or str(error),
            "Give a place where you may write: --store FILE",
        ) from error


def _build(path: Path, named: Path) -> Tally:
    connection = open_file(path, read_only=False, wait=0, named=named)
    try:
        run_steps(connection, STEPS)
        connection.execute(
            "INSERT INTO store_meta VALUES (1, 'penwise', ?, ?, 0)",
            [uuid.uuid4().hex, datetime.now(UTC).replace(tzinfo=None)],
        )
        connection.execute("CHECKPOINT")
        return tally_in(connection)
    finally:
        connection.close()


@contextmanager
def reading(
    store: Path, wait: float = WAIT_SECONDS, may_reach: Sequence[Path] = ()
) -> Iterator[duckdb.DuckDBPyConnection]:
    """A read-only connection, closed at the end of the block.

    Nothing can change the store within the block, so several queries see one state.

    Args:
        store: the file.
        wait: seconds to wait for others.
        may_reach: folders whose files the block's SQL may read and write; none unless given.

    Raises:
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew.
    """
    with ExitStack() as leaving, with_our_words(store):
        connection = _enter(leaving, store, read_only=True, wait=wait, may_read=may_reach)
        refuse_behind(store, tally_in(connection), read_tally(store))
        yield connection


@contextmanager
def reading_as_it_is(store: Path, wait: float = WAIT_SECONDS) -> Iterator[duckdb.DuckDBPyConnection]:
    """As `reading`, also where the store lacks changes that it once held: to say what is there.

    Raises:
        as `reading`.
    """
    with ExitStack() as leaving, with_our_words(store):
        yield _enter(leaving, store, read_only=True, wait=wait)


@contextmanager
def writing(
    store: Path, wait: float = WAIT_SECONDS, may_read: Sequence[Path] = (), named: Path | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """One transaction: committed when the block ends, rolled back when it raises.

    Args:
        store: the file.
        wait: seconds to wait for others.
        may_read: folders whose files the block's SQL may read; none unless given.
        named: the store that the file is going to be, where it is built beside its place: messages name that
            one, and a change that its log alone has room for is refused, for the log does not go with it.

    Raises:
        StoreMissing, StoreBusy, StoreDamaged, NotAStore, StoreTooNew.
    """
    with ExitStack() as leaving, with_our_words(named or store), suppress(LeaveUnchanged):
        connection = _enter(leaving, store, read_only=False, wait=wait, may_read=may_read)
        refuse_behind(store, tally_in(connection), read_tally(store))
        connection.begin()
        try:
            yield connection
            connection.execute(
                "UPDATE store_meta SET change_count ="
                " greatest(change_count + 1, (SELECT max(entry_no) FROM ledger))"
            )
            connection.commit()
        except BaseException:
            with suppress(duckdb.Error):
                connection.rollback()
            raise
        _settle(connection, store, whole=named is not None)


def change_count(store: Path) -> int:
    """How often the store was changed; the key of every cache.

    Raises:
        as `reading`.
    """
    with reading(store) as connection:
        return tally_in(connection).change_count


@contextmanager
def holding(store: Path, wait: float = WAIT_SECONDS, *, shared: bool = False) -> Iterator[files.Held]:
    """Holds the closed store against threads and programs alike, to copy (`shared`) or replace the file.

    Raises:
        StoreMissing, StoreBusy, StoreError.
    """
    must_exist(store)
    with turns_of(store).alone(wait), files.held(store, wait, shared=shared) as hold:
        yield hold


def must_exist(store: Path) -> None:
    """Raises StoreMissing when there is no file."""
    if not store.exists():
        raise StoreMissing(
            f"No store at {store}", "A store is made by the first load", "Run penwise load, or penwise demo"
        )


@contextmanager
def with_our_words(store: Path) -> Iterator[None]:
    """Puts what DuckDB says about a damaged file or a full disk into our words."""
    try:
        yield
    except duckdb.Error as error:
        ours = failure_within(error, store)
        if ours is None:
            raise
        raise ours from error


def _enter(
    leaving: ExitStack, store: Path, *, read_only: bool, wait: float, may_read: Sequence[Path] = ()
) -> duckdb.DuckDBPyConnection:
    """Takes a turn and opens the store, migrated if need be; both end with `leaving`."""
    must_exist(store)
    turns = turns_of(store)
    while True:
        with ExitStack() as attempt:
            attempt.enter_context(turns.shared(wait) if read_only else turns.alone(wait))
            if not read_only:
                _refuse_cut_log(store, wait)
            connection = open_file(store, read_only=read_only, wait=wait, may_read=may_read)
            attempt.callback(connection.close)
            if version_of(connection, store) == newest():
                leaving.push(attempt.pop_all())
                return connection
        with turns.alone(wait), said_of_disk(store):
            bring_up_to_date(store, wait)


def _refuse_cut_log(store: Path, wait: float) -> None:
    """Looks at a log left by a crash before a writing connection would use it up."""
    if not files.log_of(store).exists():
        return
    connection = open_file(store, read_only=True, wait=wait)
    try:
        version_of(connection, store)
        refuse_behind(store, tally_in(connection), read_tally(store))
    finally:
        connection.close()


def _settle(connection: duckdb.DuckDBPyConnection, store: Path, *, whole: bool) -> None:
    """After a commit: everything into one file (it must be in it if `whole`), then the tally."""
    tally = tally_in(connection)  # a full disk takes the connection with it
    try:
        connection.execute("CHECKPOINT")
    except duckdb.Error as error:
        if whole:
            raise
        _log.warning("The change is kept, in the log beside %s, which could not grow. Make room.", store.name)
        _log.info("%s", error)
    try:
        write_tally(store, tally)
    except OSError as error:
        why = error.strerror or "the computer does not say why"
        _log.warning("The change is kept, but %s could not be counted: %s. Make room.", store.name, why)
