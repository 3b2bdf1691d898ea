"""The same aggregate on an engine that runs on many machines: Apache Spark, by its own SQL.

Optional: `pip install 'penwise[spark]'` and a Java of version 17 or newer. The text of the aggregate is
translated by SQLGlot from DuckDB's SQL to Spark's; nothing is written twice. Started by spark-submit, or with
SPARK_CONF_DIR set, it runs where that says; else on two threads of this computer. The set lies in a folder
that all machines reach under the same path; object stores are not read.
"""

# ruff: noqa: S608 - the one path is our own
from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import duckdb

from analytics.errors import StoreError, WrongUsage
from analytics.store.farm_set import STRATA_SQL, check_set, literal, reaching
from analytics.store.files import fresh_beside

MEMORY = "2g"
"""Java's heap where nothing else is said."""
_ALONE = {
    "spark.master": "local[2]",
    "spark.driver.host": "127.0.0.1",
    "spark.driver.bindAddress": "127.0.0.1",
    "spark.ui.enabled": "false",
    "spark.ui.showConsoleProgress": "false",
    "spark.log.level": "ERROR",
    "spark.sql.shuffle.partitions": "16",
    "spark.sql.sources.parallelPartitionDiscovery.threshold": "1000000",
}
"""What Spark is told on this computer: two threads, quiet, and open to nobody else."""
_SET_UP_ELSEWHERE = ("PYSPARK_GATEWAY_PORT", "SPARK_CONF_DIR")
"""Set by spark-submit, and by who keeps a configuration of Spark."""


def translated() -> str:
    """The aggregate in Spark's SQL.

    Raises:
        WrongUsage: SQLGlot is not installed.
    """
    try:
        import sqlglot
    except ImportError as error:
        raise _not_installed(error) from error
    return str(sqlglot.transpile(STRATA_SQL, read="duckdb", write="spark", comments=False)[0])


@contextlib.contextmanager
def strata_of_farms(folder: Path, memory: str = MEMORY) -> Iterator[duckdb.DuckDBPyConnection]:
    """Counts per stratum by Spark: the same table `strata` as `farm_set.strata_of_farms` makes.

    Args:
        folder: the set, where every machine of a cluster can read and write.
        memory: Java's heap.

    Raises:
        WrongUsage: as `check_set`; Spark, SQLGlot or Java is missing.
        StoreError: Spark could not do it.
    """
    check_set(folder)
    with aggregated(folder, memory) as strata, reaching(strata) as connection:
        files = literal(str(strata / "*.parquet"))
        connection.execute(f"CREATE TEMP TABLE strata AS SELECT * FROM read_parquet({files})")
        yield connection


@contextlib.contextmanager
def aggregated(folder: Path, memory: str = MEMORY) -> Iterator[Path]:
    """A folder within the set that holds Spark's answer as Parquet, taken away at the end of the block."""
    text = translated()
    answer = fresh_beside(folder.resolve() / "_strata")
    try:
        with _session(memory) as session:
            session.read.parquet(_address(folder.resolve())).createOrReplaceTempView("farm_trays")
            session.sql(text).write.parquet(_address(answer))
        yield answer
    finally:
        shutil.rmtree(answer, ignore_errors=True)


@contextlib.contextmanager
def _session(memory: str) -> Iterator[Any]:
    """A session of Spark that is quiet, reads labels as text, and listens on this computer only."""
    try:
        from py4j.protocol import Py4JError
        from pyspark.errors import PySparkException
        from pyspark.sql import SparkSession
    except ImportError as error:
        raise _not_installed(error) from error
    if not (os.environ.get("JAVA_HOME") or shutil.which("java")):
        raise WrongUsage(
            "There is no Java", "Spark runs on Java 17 or newer", "Install it, or --engine duckdb"
        )
    os.environ.setdefault("PYSPARK_SUBMIT_ARGS", f"--driver-memory {memory} pyspark-shell")
    set_up = SparkSession.builder.appName("penwise").config(
        "spark.sql.sources.partitionColumnTypeInference.enabled", "false"
    )
    if not any(os.environ.get(name) for name in _SET_UP_ELSEWHERE):
        os.environ.setdefault("SPARK_LOCAL_IP", "127.0.0.1")
        for name, value in _ALONE.items():
            set_up = set_up.config(name, value)
    try:
        session = set_up.getOrCreate()
    except (PySparkException, Py4JError, RuntimeError, OSError) as error:
        raise _refused(error) from error
    try:
        yield session
    except (PySparkException, Py4JError) as error:
        raise _refused(error) from error
    finally:
        session.stop()


def _address(path: Path) -> str:
    """As Spark wants it: blanks and accents as they are."""
    return f"file:///{path.as_posix().lstrip('/')}"


def _not_installed(error: ImportError) -> WrongUsage:
    return WrongUsage(
        f"The engine spark needs {error.name}",
        "It is an extra of this program",
        "pip install 'penwise[spark]', or --engine duckdb",
    )


def _refused(error: Exception) -> StoreError:
    return StoreError(
        "Spark could not do it",
        str(error).strip().splitlines()[0],
        "Look at its messages, or --engine duckdb",
    )
