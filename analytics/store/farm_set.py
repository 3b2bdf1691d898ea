"""A set of many farms: each farm's trays as Parquet by farm and month, and counts per stratum out of all.

The folder holds `farm=NAME/month=YYYY-MM/trays.parquet`. A farm writes its own months and no others; each
file is replaced as a whole. `farm_strata.sql` is the only aggregate, whichever engine runs it.
"""

# ruff: noqa: S608 - identifiers and the one path are our own
from __future__ import annotations

import json
import os
import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from urllib.parse import unquote

import duckdb

from analytics.errors import DataTooThin, StoreError, WrongUsage
from analytics.options import Selection
from analytics.store.connection import reading
from analytics.store.counts import lay_out, query_text
from analytics.store.files import fresh_beside, sync, write_whole

SCHEMA = "penwise.farms/1"
TRAYS = "trays.parquet"
ABOUT = "_farm.json"
"""Says which store a farm's folder is of. Engines pass over names that begin with an underscore."""
STRATA_SQL = query_text("farm_strata")
"""The aggregate, in DuckDB's SQL, over a view `farm_trays`."""
MEMORY = "4GB"
"""Most that DuckDB may hold; beyond it, it works on the disk."""
_NOT_IN_NAMES = re.compile(r"[\x00-\x1f\x7f\"#%'*/:=?\\{}\[\]^<>|]")
_GLOB = re.compile(r"[*?\[\]]")


@dataclass(frozen=True, slots=True)
class Written:
    """What an export into a set wrote.

    Attributes:
        farm: its name.
        trays: trays of closed batches.
        months: months of hatch that hold them.
        dropped: months that were there before and hold no tray any more.
    """

    farm: str
    trays: int
    months: int
    dropped: int


def write_farm(store: Path, folder: Path, farm: str) -> Written:
    """Writes a store's trays of closed batches into a set, as one farm; other farms are not touched.

    Args:
        store: the store.
        folder: the set; made if it is not there.
        farm: the farm's name in it.

    Raises:
        WrongUsage: a name that cannot be one, or one that another store has in this set.
        DataTooThin: the store has no closed batch.
        StoreError and its kinds: as `reading`, or it cannot be written.
    """
    name = _checked(farm)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with reading(store, may_reach=[folder]) as connection:
            place = _own_place(connection, folder, name)
            lay_out(connection, Selection())
            connection.execute(query_text("farm_rows"))
            found = connection.execute("SELECT month, count(*) FROM farm_rows GROUP BY month ORDER BY month")
            months = dict(found.fetchall())
            if not months:
                raise DataTooThin("No batch of this store has hatched", "A set holds trays of closed batches")
            for month in months:
                _write_month(connection, place / f"month={month}", month)
            dropped = _drop_others(place, set(months))
            sync(place)
    except OSError as error:
        raise StoreError(
            f"{folder} could not be written",
            error.strerror or str(error),
            "Look whether you may write there and whether there is room, and try again",
        ) from error
    return Written(name, sum(months.values()), len(months), dropped)


def _checked(farm: str) -> str:
    name = unicodedata.normalize("NFC", farm).strip()
    if not name or name.startswith((".", "_")) or _NOT_IN_NAMES.search(name):
        raise WrongUsage(
            f'The farm "{farm}"',
            "The name becomes a folder: letters, digits, blanks and hyphens, the first no dot or underscore",
            "Give another name: --farm NAME",
        )
    return name


def _own_place(connection: duckdb.DuckDBPyConnection, folder: Path, name: str) -> Path:
    """The farm's folder, marked as this store's."""
    for other in farms_of(folder):
        if other != name and other.casefold() == name.casefold():
            raise WrongUsage(f"The farm {name}", f"The set has a farm {other}", f"Did you mean {other}?")
    place = folder / f"farm={name}"
    ((store_id,),) = connection.execute("SELECT store_id FROM store_meta").fetchall()
    about = place / ABOUT
    if about.exists() and json.loads(about.read_text(encoding="utf-8"))["store_id"] != store_id:
        raise WrongUsage(
            f"The farm {name}", "In this set it is another store's", "Give a name of its own: --farm NAME"
        )
    place.mkdir(exist_ok=True)
    write_whole(about, json.dumps({"schema": SCHEMA, "store_id": store_id}) + "\n")
    return place


def _write_month(connection: duckdb.DuckDBPyConnection, place: Path, month: str) -> None:
    place.mkdir(exist_ok=True)
    unfinished = fresh_beside(place / f"_{TRAYS}")
    rows = "SELECT * EXCLUDE (month) FROM farm_rows WHERE month = $month"
    try:
        target = literal(str(unfinished))
        connection.execute(f"COPY ({rows}) TO {target} (FORMAT parquet, COMPRESSION zstd)", {"month": month})
        sync(unfinished)
        os.replace(unfinished, place / TRAYS)
    finally:
        unfinished.unlink(missing_ok=True)


def _drop_others(place: Path, months: set[str]) -> int:
    """Takes away the farm's months that hold no tray any more."""
    gone = [old for old in place.glob(f"month=*/{TRAYS}") if old.parent.name[len("month=") :] not in months]
    for old in gone:
        old.unlink()
    return len(gone)


def farms_of(folder: Path) -> tuple[str, ...]:
    """Names of the farms in a set."""
    return tuple(sorted(unquote(place.name[len("farm=") :]) for place in folder.glob("farm=*")))


def check_set(folder: Path) -> None:
    """Refuses what is no set.

    Raises:
        WrongUsage: there is none, or a path that engines take for a pattern.
    """
    if _GLOB.search(str(folder)):
        raise WrongUsage(f"The folder {folder}", "Its path holds *, ? or a bracket", "Move it elsewhere")
    if next(folder.glob(f"farm=*/month=*/{TRAYS}"), None) is None:
        raise WrongUsage(
            f"No farm in {folder}",
            "A set holds farm=NAME/month=YYYY-MM folders",
            "Each farm writes its own: penwise export DIR --farm NAME",
        )


@contextmanager
def farm_trays(folder: Path, memory: str = MEMORY) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection on which the set is the view `farm_trays`; it reaches the set and nothing else."""
    check_set(folder)
    place = folder.resolve()
    files = literal(str(place / "farm=*" / "month=*" / TRAYS))
    kinds = "{'farm': VARCHAR, 'month': VARCHAR}"
    with reaching(place, memory) as connection:
        connection.execute(
            "CREATE TEMP VIEW farm_trays AS SELECT * FROM"
            f" read_parquet({files}, hive_partitioning = true, hive_types = {kinds})"
        )
        yield connection


@contextmanager
def reaching(place: Path, memory: str = MEMORY) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection without a file that reaches one folder and holds no more memory than it is given."""
    with TemporaryDirectory(prefix="penwise-") as room, duckdb.connect() as connection:
        connection.execute(f"SET memory_limit = {literal(memory)}")
        connection.execute(f"SET temp_directory = {literal(room)}")
        connection.execute("SET preserve_insertion_order = false")
        connection.execute(f"SET allowed_directories = [{literal(str(place))}]")
        connection.execute("SET enable_external_access = false")
        connection.execute("SET lock_configuration = true")
        yield connection


@contextmanager
def strata_of_farms(folder: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """Counts per stratum by DuckDB: a connection with the temporary table `strata`.

    Args:
        folder: the set.

    Raises:
        WrongUsage: as `check_set`.
    """
    with farm_trays(folder) as connection:
        connection.execute(f"CREATE TEMP TABLE strata AS {STRATA_SQL}")
        yield connection


def literal(text: str) -> str:
    """A text in quotation marks, for the few places that take no parameter."""
    return "'" + text.replace("'", "''") + "'"
