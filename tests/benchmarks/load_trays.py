"""A load of a million trays beside DuckDB's own bare copy of the same file into an equal empty table.

Run by hand: `python tests/benchmarks/load_trays.py [TRAYS]`. Prints both times of the same run, wall and
processor, their ratio, and the most memory held. The load also checks every cell and rule, looks up every
name, and writes keys and the ledger.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import json
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import duckdb
import numpy as np

from analytics.sheets.contract import BY_NAME, OUTCOMES
from analytics.sheets.load import load
from analytics.store.connection import create, reading

TRAYS = 1_000_000
TRAYS_IN_BATCH = 20
PENS = 60
EGGS = 40
SHARES = [0.70, 0.02, 0.05, 0.03, 0.05, 0.02, 0.05, 0.02, 0.01, 0.01, 0.01, 0.03]
"""Of the outcomes, in their order; invented."""
BEFORE, AFTER = (
    ("batch", "tray", "pen", "laid_from", "laid_to", "storage_c", "eggs_set"),
    ("tare_g", "opened_on"),
)


def write_sheets(folder: Path, trays: int) -> None:
    """Invented sheets: batches of 20 trays, ten batches a day."""
    names = [f"Pen {number}" for number in range(PENS)]
    (folder / "pens.csv").write_text("pen,species\n" + "".join(f"{name},coturnix_quail\n" for name in names))
    (folder / "incubators.csv").write_text("incubator\nNorth\nSouth\n")
    outcomes = np.random.default_rng(1).multinomial(EGGS, SHARES, size=trays)
    first = date(2010, 1, 1)
    with (folder / "batches.csv").open("w") as batches, (folder / "trays.csv").open("w") as out:
        batches.write("batch,incubator,set_on,pulled_on\n")
        out.write(",".join([*BEFORE, *OUTCOMES, *AFTER]) + "\n")
        for number in range(trays):
            batch = number // TRAYS_IN_BATCH
            day = first + timedelta(days=batch // 10)
            if number % TRAYS_IN_BATCH == 0:
                machine = "North" if batch % 2 else "South"
                batches.write(f"B{batch:06d},{machine},{day}T09:00,{day + timedelta(days=18)}\n")
            laid = f"{day - timedelta(days=8)},{day - timedelta(days=2)}"
            counts = ",".join(map(str, outcomes[number]))
            tray = f"B{batch:06d},T{number % TRAYS_IN_BATCH:02d},{names[number % PENS]},{laid},15.5,{EGGS}"
            out.write(f"{tray},{counts},350.5,{day + timedelta(days=19)}\n")


def bare_copy(folder: Path) -> None:
    """DuckDB's own copy of trays.csv into a table like the store's, in a file of its own."""
    connection = duckdb.connect(str(folder / "bare.duckdb"))
    columns = ", ".join(f'"{column.name}" {column.kind.sql}' for column in BY_NAME["trays"].columns)
    connection.execute(
        f"CREATE TABLE trays ({columns}, row_key VARCHAR, added_in BIGINT, withdrawn_in BIGINT)"
    )
    given = ", ".join([*BEFORE, *OUTCOMES, *AFTER])
    connection.execute(f"COPY trays ({given}) FROM '{folder / 'trays.csv'}' (HEADER)")
    connection.close()


def validated_load(folder: Path) -> None:
    """The load of trays.csv into a store that knows its pens, machines and batches."""
    report = load(folder / "farm.duckdb", [folder / "trays.csv"])
    assert report.kept


def prepared(folder: Path) -> None:
    """The store without its trays."""
    create(folder / "farm.duckdb")
    (folder / "none").mkdir()
    (folder / "none" / "trays.csv").write_text(",".join(BEFORE) + "\n")
    others = [folder / f"{name}.csv" for name in ("pens", "incubators", "batches")]
    load(folder / "farm.duckdb", [*others, folder / "none" / "trays.csv"])


WORKS: dict[str, Callable[[Path], None]] = {"bare copy": bare_copy, "validated load": validated_load}


def timed(what: str, folder: Path) -> list[float]:
    """Wall seconds, processor seconds and MB held of a piece of work in a process of its own."""
    command = [sys.executable, __file__, "--measure", what, str(folder)]
    return json.loads(subprocess.run(command, check=True, capture_output=True, text=True).stdout)


def measure(what: str, folder: Path) -> None:
    """Does a piece of work and prints what it took."""
    before, wall, processor = _held(), time.perf_counter(), time.process_time()
    WORKS[what](folder)
    took = [time.perf_counter() - wall, time.process_time() - processor, _held() - before]
    print(json.dumps(took))


def _held() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def rows_in_order(folder: Path) -> bool:
    """Whether the rows kept the order of the file, by which problems find their row."""
    with reading(folder / "farm.duckdb") as connection:
        row = connection.execute(
            "SELECT bool_and(coalesce(batch >= before, TRUE)) FROM"
            " (SELECT batch, lag(batch) OVER (ORDER BY rowid) AS before FROM trays)"
        ).fetchall()
    return bool(row[0][0])


def main(trays: int) -> None:
    """Prints the comparison."""
    with tempfile.TemporaryDirectory(prefix="penwise-") as name:
        folder = Path(name)
        write_sheets(folder, trays)
        prepared(folder)
        taken = {what: timed(what, folder) for what in WORKS}
        print(f"{trays:,} trays, {(folder / 'trays.csv').stat().st_size / 1e6:.0f} MB of CSV")
        for what, (wall, processor, held) in taken.items():
            print(f"{what:<15} {wall:6.2f} s wall {processor:6.2f} s processor {held:6.0f} MB")
        bare, validated = taken.values()
        print(
            f"ratio           {validated[0] / bare[0]:6.2f}   wall {validated[1] / bare[1]:6.2f}   processor"
        )
        print(f"rows in the order of the file: {'yes' if rows_in_order(folder) else 'NO'}")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--measure"]:
        measure(sys.argv[2], Path(sys.argv[3]))
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else TRAYS)
