"""The same counts of 100 million trays of 100 farms and 60 months by DuckDB and by Spark on this computer.

    python tests/benchmarks/farms_million.py [--trays N] [--room DIR] [--write]

The set is made in place, as a partitioned export leaves it, and taken away afterwards. Each engine runs in
a process of its own; printed are seconds, processor seconds and the most memory of all its processes, Java's
too. Every count of every stratum is held against the other engine's. Exits 1 when one count differs, a tray
is lost, or an engine holds more than its limit. Needs the extra `spark` and Java; `--write` keeps the table.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import csv
import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import UTC, date, datetime
from importlib.metadata import version
from pathlib import Path

import duckdb

FARMS, MONTHS = 100, 60
JAVA_HEAP = "6g"
LIMITS = {"duckdb": 5_000, "spark": 8_000}
"""MB of memory for each engine: what it is allowed, and a quarter for what it holds besides."""
KEPT = Path(__file__).with_name("farms_million.csv")
COLUMNS = (
    "engine", "version", "trays", "strata", "rows_that_differ", "seconds", "processor_seconds", "megabytes",
    "python", "on",
)  # fmt: skip
MONTH_ROWS = """
COPY (
    SELECT 'coturnix_quail' AS species, 'Pen ' || h % 10 AS pen, 'M' || h // 10 % 2 AS incubator,
        CASE WHEN h // 20 % 3 = 0 THEN 'H' ELSE 'M' || h // 10 % 2 END AS hatcher,
        'B' || i // 50 AS batch, 'T' || i % 50 AS tray,
        $first::DATE + CAST(i % 28 AS INTEGER) - 18 AS set_on,
        $first::DATE + CAST(i % 28 AS INTEGER) AS hatch_on,
        CASE WHEN h // 60 % 20 = 0 THEN NULL ELSE CAST(10 + h // 60 % 150 AS INTEGER) END AS storage_tenths,
        CASE WHEN h // 60 % 33 = 0 THEN NULL ELSE CAST(100 + h // 60 % 300 AS INTEGER) END AS hen_days,
        CAST(infertile + early + mid + late + shell + unknown + chicks + cracked AS INTEGER) AS eggs_set,
        CAST(infertile + early + mid + late + shell + unknown + chicks AS INTEGER) AS followed,
        CAST(chicks AS INTEGER) AS chicks, CAST(infertile AS INTEGER) AS infertile, 0 AS clear,
        CAST(early AS INTEGER) AS early, CAST(mid AS INTEGER) AS mid, CAST(late AS INTEGER) AS late,
        CAST(shell AS INTEGER) AS shell, 0 AS rotten, CAST(unknown AS INTEGER) AS unknown,
        h // 9000 % 50 > 0 AS in_hatch, h // 9000 % 50 > 4 AS in_staged
    FROM (SELECT *, h // 60 % (3 + $farm % 4) AS infertile, h // 180 % 4 AS early, h // 720 % 2 AS mid,
            h // 1440 % 3 AS late, h // 4320 % (2 + h % 10 % 3) AS shell, h // 9000 % 11 // 10 AS unknown,
            20 + h // 100000 % 12 AS chicks, h // 99000 % 40 // 39 AS cracked
        FROM (SELECT i, CAST(hash(i + 1000003 * CAST($farm * 1000 + $month AS BIGINT)) % 1000000007
                AS BIGINT) AS h FROM range($trays) AS made (i)))
) TO '{file}' (FORMAT parquet, COMPRESSION zstd)"""


def make(folder: Path, trays: int) -> None:
    """Writes the set: the same trays every time."""
    with duckdb.connect() as connection:
        for number in range(FARMS * MONTHS):
            farm, month = divmod(number, MONTHS)
            first = date(2020 + month // 12, month % 12 + 1, 1)
            place = folder / f"farm=Farm {farm:03d}" / f"month={first:%Y-%m}"
            place.mkdir(parents=True)
            share = trays * (number + 1) // (FARMS * MONTHS) - trays * number // (FARMS * MONTHS)
            given = {"first": first, "farm": farm, "month": month, "trays": share}
            connection.execute(MONTH_ROWS.format(file=place / "trays.parquet"), given)


def aggregate(engine: str, folder: Path, answer: Path) -> None:
    """The aggregate by one engine, its answer as Parquet."""
    from analytics.store import farm_set, farm_spark

    if engine == "spark":
        with farm_spark.aggregated(folder, JAVA_HEAP) as strata:
            shutil.copytree(strata, answer)
        return
    answer.mkdir()
    with farm_set.farm_trays(folder) as connection:
        connection.execute(f"COPY ({farm_set.STRATA_SQL}) TO '{answer / 'strata.parquet'}' (FORMAT parquet)")


def in_own_process(engine: str, folder: Path, answer: Path) -> dict[str, float]:
    """Seconds, processor seconds and MB of one engine with all its processes."""
    command = [sys.executable, __file__, "--engine", engine, "--set", str(folder), "--answer", str(answer)]
    started = time.perf_counter()
    work = subprocess.Popen(command, stderr=subprocess.PIPE, text=True)
    most, processor = 0.0, 0.0
    while work.poll() is None:
        tree = [_of_process(number) for number in _with_children(work.pid)]
        most, processor = (
            max(most, sum(held for held, _ in tree)),
            max(processor, sum(used for _, used in tree)),
        )
        time.sleep(1)
    if work.returncode:
        raise SystemExit(work.stderr.read() if work.stderr else engine)
    return {"seconds": time.perf_counter() - started, "processor": processor, "megabytes": most}


def _with_children(number: int) -> list[int]:
    """A process and all below it."""
    try:
        below = Path(f"/proc/{number}/task/{number}/children").read_text().split()
        threads = [
            thread.name for thread in Path(f"/proc/{number}/task").iterdir() if thread.name != str(number)
        ]
        for thread in threads:
            below += Path(f"/proc/{number}/task/{thread}/children").read_text().split()
    except OSError:
        return [number]
    return [number, *(one for child in below for one in _with_children(int(child)))]


def _of_process(number: int) -> tuple[float, float]:
    """MB held now and processor seconds used so far."""
    try:
        pages = int(Path(f"/proc/{number}/statm").read_text().split()[1])
        used = Path(f"/proc/{number}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0, 0.0
    ticks = int(used[11]) + int(used[12])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6, ticks / os.sysconf("SC_CLK_TCK")


def compare(answers: list[Path], trays: int) -> tuple[int, int, bool]:
    """Strata, rows that one engine has and the other has not, and whether every tray was counted."""
    one, two = (f"SELECT * FROM read_parquet('{answer}/*.parquet')" for answer in answers)
    with duckdb.connect() as connection:
        ((strata, counted),) = connection.execute(f"SELECT count(*), sum(trays) FROM ({one})").fetchall()
        apart = 0
        for left, right in ((one, two), (two, one)):
            ((rows,),) = connection.execute(
                f"SELECT count(*) FROM (({left}) EXCEPT ALL ({right}))"
            ).fetchall()
            apart += rows
    return strata, apart, counted == trays


def main(trays: int, room: Path | None, write: bool) -> int:
    """Makes, runs, compares, prints; returns the exit code."""
    with tempfile.TemporaryDirectory(prefix="farms-", dir=room) as name:
        folder = Path(name) / "set"
        started = time.perf_counter()
        make(folder, trays)
        size = sum(file.stat().st_size for file in folder.rglob("*.parquet")) / 1e6
        print(f"{trays:,} trays, {FARMS} farms, {MONTHS} months: {size:,.0f} MB in {FARMS * MONTHS:,} files,")
        print(f"made in {time.perf_counter() - started:.0f} s", flush=True)
        answers = [folder / f"_{engine}" for engine in LIMITS]
        costs = {engine: in_own_process(engine, folder, folder / f"_{engine}") for engine in LIMITS}
        strata, apart, whole = compare(answers, trays)
    print(f"{'engine':<8} {'seconds':>8} {'processor s':>12} {'MB':>7} {'limit MB':>9}")
    for engine, cost in costs.items():
        print(
            f"{engine:<8} {cost['seconds']:>8.1f} {cost['processor']:>12.1f} {cost['megabytes']:>7.0f} "
            f"{LIMITS[engine]:>9}{'' if cost['megabytes'] <= LIMITS[engine] else '  TOO MUCH'}"
        )
    print(f"{strata:,} strata, rows that differ: {apart}; every tray counted: {whole}")
    if write:
        _keep(trays, strata, apart, costs)
    within = all(cost["megabytes"] <= LIMITS[engine] for engine, cost in costs.items())
    return int(apart > 0 or not whole or not within)


def _keep(trays: int, strata: int, apart: int, costs: dict[str, dict[str, float]]) -> None:
    with KEPT.open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(COLUMNS)
        for engine, cost in costs.items():
            of = version("pyspark" if engine == "spark" else engine)
            figures = [round(cost[name], 1) for name in ("seconds", "processor", "megabytes")]
            rows.writerow(
                [
                    engine,
                    of,
                    trays,
                    strata,
                    apart,
                    *figures,
                    platform.python_version(),
                    datetime.now(UTC).date(),
                ]
            )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--trays", type=int, default=100_000_000)
    parser.add_argument(
        "--room", type=Path, help="a folder with 5 GB free; else the usual one for such files"
    )
    parser.add_argument("--write", action="store_true", help="keep the table")
    for hidden in ("--engine", "--set", "--answer"):
        parser.add_argument(hidden, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.engine:
        aggregate(asked.engine, Path(asked.set), Path(asked.answer))
    else:
        sys.exit(main(asked.trays, asked.room, asked.write))
