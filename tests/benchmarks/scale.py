"""Counting, loading and fitting at 10,000, a million and ten million trays, as one table with its limits.

    python tests/benchmarks/scale.py [--sizes N ...] [--room DIR] [--write]

Every figure is a process of its own: seconds, processor seconds, and MB held at most beyond the imports.
Ratios are of processor seconds within one run, for others may use the machine too.

strata   counts per stratum of a set of farms, by the program, by plain SQL written here, and by pandas; all
         three answers must be the same to the last count. At most 1.3 times the SQL; pandas at least 5 times
         as long.
store    counts of every pen and family out of a store, beside the same statements on a bare connection. At
         most 1.3 times.
load     a checked load of record sheets beside DuckDB's bare COPY of the same file. At most 4 times.
memory   at most MOST_MB for each way of the program.
model    seconds and MB of a fit of the crossed model, one likelihood per tray at most 4 times the cheapest.

Where the longer of the two takes under half a second of processor, fixed costs are all: 5 and 4 times are not
judged there. Exits 1 when a limit is missed. `--write` keeps the table beside this file.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import argparse
import csv
import json
import platform
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path
from statistics import median
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

import crossed_curve
import farms_million
import load_trays

SIZES = (10_000, 1_000_000, 10_000_000)
MODEL = (400, 30_000, 500_000)
FARMS, MONTHS = 4, 6
BARE_LIMIT, PANDAS_LIMIT, LOAD_LIMIT, MOST_MB = 1.3, 5.0, 4.0, 5_000
NOT_JUDGED = 0.5
TABLE = Path(__file__).with_suffix(".csv")
COLUMNS = ("what", "trays", "by", "seconds", "processor_seconds", "megabytes", "ratio", "limit", "holds")
KEYS = ("farm", "month", "species", "pen", "incubator", "hatcher", "storage_class")
OF_HATCH = {
    "hatch_eggs_set": "eggs_set",
    "hatch_followed": "followed",
    "hatch_chicks": "chicks",
    "hatch_rotten": "rotten",
}
OF_STAGED = {
    "staged_eggs_set": "eggs_set", "staged_followed": "followed", "staged_chicks": "chicks",
    "staged_rotten": "rotten", "infertile": "infertile", "clear": "clear", "early": "early", "mid": "mid",
    "late": "late", "shell": "shell", "unknown": "unknown",
}  # fmt: skip
Answer = dict[str, Any]
DAY = "DATE '2010-01-01' + CAST({batch} // 10 % 5000 AS INTEGER)"
BATCHES = f"""
    SELECT printf('B%07d', b) AS batch, CASE WHEN b % 2 = 0 THEN 'South' ELSE 'North' END AS incubator,
        strftime({DAY.format(batch="b")}, '%Y-%m-%dT09:00') AS set_on,
        {DAY.format(batch="b")} + 18 AS pulled_on
    FROM range({{batches}}) AS made (b) ORDER BY b"""
TRAYS = f"""
    SELECT printf('B%07d', i // 20) AS batch, printf('T%02d', i % 20) AS tray, 'Pen ' || i % {{pens}} AS pen,
        {DAY.format(batch="(i // 20)")} - 8 AS laid_from, {DAY.format(batch="(i // 20)")} - 2 AS laid_to,
        15.5 AS storage_c, 40 AS eggs_set,
        40 - infertile - clear - early_dead - mid_dead - late_dead - internal_pip - not_opened AS hatched,
        0 AS culled, infertile, clear, early_dead, mid_dead, late_dead, internal_pip, 0 AS external_pip,
        0 AS rotten, 0 AS cracked, not_opened, 350.5 AS tare_g,
        {DAY.format(batch="(i // 20)")} + 19 AS opened_on
    FROM (SELECT i, h % 5 AS infertile, h // 5 % 3 AS clear, h // 15 % 4 AS early_dead,
            h // 60 % 3 AS mid_dead,
            h // 180 % 5 AS late_dead, h // 900 % 3 AS internal_pip, h // 2700 % 2 AS not_opened
        FROM (SELECT i, CAST(hash(i) % 1000003 AS BIGINT) AS h FROM range({{trays}}) AS made (i)))
    ORDER BY i"""
"""Of load_trays.py's columns, in their order."""


def strata_by_program(folder: Path) -> Answer:
    """The program's own way."""
    from analytics.store.farm_set import strata_of_farms

    with strata_of_farms(folder / "set") as connection:
        return dict(connection.execute("SELECT * FROM strata").fetchnumpy())


def strata_by_sql(folder: Path) -> Answer:
    """The same question as somebody would write it by hand, on a connection as it comes."""
    import duckdb

    hatch = ", ".join(f"sum({of}) FILTER (in_hatch) AS {name}" for name, of in OF_HATCH.items())
    staged = ", ".join(f"sum({of}) FILTER (in_staged) AS {name}" for name, of in OF_STAGED.items())
    question = f"""
        SELECT farm, month, species, pen, incubator, hatcher,
            CASE WHEN storage_tenths <= 30 THEN 0 WHEN storage_tenths <= 70 THEN 1
                WHEN storage_tenths <= 140 THEN 2 WHEN storage_tenths IS NULL THEN -1
                ELSE 3 END AS storage_class,
            count(*) AS trays, sum(eggs_set) AS eggs_set, count(*) FILTER (in_hatch) AS hatch_trays, {hatch},
            count(*) FILTER (in_staged) AS staged_trays, {staged},
            sum(eggs_set) FILTER (storage_tenths IS NOT NULL) AS storage_eggs,
            sum(storage_tenths * eggs_set) AS storage_egg_tenths,
            sum(eggs_set) FILTER (hen_days IS NOT NULL) AS hen_eggs, sum(hen_days * eggs_set) AS hen_egg_days
        FROM read_parquet('{folder}/set/*/*/*.parquet', hive_partitioning = true)
        GROUP BY ALL"""
    with duckdb.connect() as connection:
        return dict(connection.execute(question).fetchnumpy())


def strata_by_pandas(folder: Path) -> Answer:
    """The same question in pandas: read, mark, multiply, group, sum."""
    import numpy as np
    import pandas as pd

    trays = pd.read_parquet(folder / "set").drop(columns=["batch", "tray", "set_on", "hatch_on"])
    stored = trays["storage_tenths"].to_numpy(dtype=float, na_value=np.nan)
    trays["storage_class"] = np.select(
        [stored <= 30, stored <= 70, stored <= 140, stored > 140], [0, 1, 2, 3], -1
    )
    for name, of in OF_HATCH.items():
        trays[name] = trays[of] * trays["in_hatch"]
    new = {name: trays[of] * trays["in_staged"] for name, of in OF_STAGED.items()}
    sums = pd.DataFrame({name: trays[name] for name in (*KEYS, "eggs_set", *OF_HATCH)} | new)
    sums["hatch_trays"], sums["staged_trays"], sums["trays"] = (
        trays["in_hatch"] * 1,
        trays["in_staged"] * 1,
        1,
    )
    for name, of in (("storage", "storage_tenths"), ("hen", "hen_days")):
        unit = "tenths" if name == "storage" else "days"
        sums[f"{name}_eggs"] = trays["eggs_set"] * trays[of].notna()
        sums[f"{name}_egg_{unit}"] = trays["eggs_set"] * trays[of].fillna(0).astype("int64")
    found = sums.groupby(list(KEYS), observed=True, sort=False).sum().reset_index()
    return {name: found[name].to_numpy() for name in found.columns}


def store_by_program(folder: Path) -> Answer:
    """Every pen's counts in every family, by the program."""
    from analytics.options import Selection
    from analytics.store.counts import Span, counting, strata
    from analytics.values import Period

    with counting(folder / "farm.duckdb", Selection()) as connection:
        found = strata(connection, [Span(Period(None, None))])
    return {"eggs": [one.eggs_set for one in found], "chicks": [one.chicks for one in found]}


def store_by_sql(folder: Path) -> Answer:
    """The same statements on a bare connection."""
    from datetime import date

    import duckdb

    from analytics.reference.species import species_table
    from analytics.store.counts import LABEL_OF, query_text

    known = species_table().values()
    days = {
        "species": [one.key for one in known],
        "shortest_days": [float(one.shortest_days) for one in known],
        "longest_days": [float(one.longest_days) for one in known],
    }
    every = {"earliest": date.min, "latest": date.max, "species": [], "pens": [], "incubators": []}
    span = {"span_no": [0], "first_day": [date.min], "last_day": [date.max], "each_pen": [True], "enough": 5}
    with duckdb.connect(str(folder / "farm.duckdb"), read_only=True) as connection:
        connection.execute(f"SET memory_limit = '4GB'; {LABEL_OF}")
        connection.execute(query_text("trays"), days)
        connection.execute(query_text("chosen"), every)
        rows = connection.execute(query_text("strata"), span).fetchall()
        names = [column[0] for column in connection.description or ()]
    whole = [row for row in (dict(zip(names, row, strict=True)) for row in rows) if row["family"] == "all"]
    return {
        "eggs": [row["eggs_set"] for row in whole],
        "chicks": [row["hatched"] + row["culled"] for row in whole],
    }


WORKS: dict[str, dict[str, Callable[[Path], Answer]]] = {
    "strata": {"penwise": strata_by_program, "SQL": strata_by_sql, "pandas": strata_by_pandas},
    "store": {"penwise": store_by_program, "SQL": store_by_sql},
}


def work(what: str, by: str, folder: Path) -> None:
    """Does a piece of work a few times and prints what it took, with a digest of its answer."""
    import duckdb  # noqa: F401 - what is imported is not counted
    import pandas  # noqa: F401

    import analytics.store.counts
    import analytics.store.farm_set  # noqa: F401

    before, seconds, processor, answer = _held(), [], [], {}
    while len(seconds) < 1 or (sum(seconds) < 2 and len(seconds) < 7):
        wall, used = time.perf_counter(), time.process_time()
        answer = WORKS[what][by](folder)
        seconds.append(time.perf_counter() - wall)
        processor.append(time.process_time() - used)
    found = {"seconds": median(seconds), "processor": median(processor), "megabytes": _held() - before}
    print(json.dumps(found | {"digest": digest(answer)}))


def digest(answer: Answer) -> str:
    """The same for the same counts, in whatever order and kind of number they come."""
    import hashlib

    import pandas as pd

    table = pd.DataFrame(answer)
    for name in table.columns:
        if name not in KEYS or name == "storage_class":
            table[name] = table[name].fillna(0).astype("int64")
    names = sorted(table.columns)
    if set(KEYS) <= set(names):
        table = table.sort_values(list(KEYS))
    return hashlib.sha256(table[names].to_csv(index=False).encode()).hexdigest()


def _held() -> float:
    """MB held at most; of this process alone, where the system tells it apart from who started it."""
    try:
        lines = Path("/proc/self/status").read_text().splitlines()
    except OSError:
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024


def measured(what: str, by: str, folder: Path) -> dict[str, Any]:
    """A piece of work in a process of its own."""
    command = [sys.executable, __file__, "--work", what, by, str(folder)]
    done = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return json.loads(done.strip().splitlines()[-1])


def prepare(folder: Path, trays: int) -> None:
    """A set of farms, record sheets, and a store without trays."""
    farms_million.FARMS, farms_million.MONTHS = FARMS, MONTHS
    farms_million.make(folder / "set", trays)
    write_sheets(folder, trays)
    load_trays.prepared(folder)


def write_sheets(folder: Path, trays: int) -> None:
    """Sheets of the same shape as those of load_trays.py, made by DuckDB: batches of 20 trays, ten a day."""
    import duckdb

    names = [f"Pen {number}" for number in range(load_trays.PENS)]
    pens = "".join(f"{name},coturnix_quail\n" for name in names)
    (folder / "pens.csv").write_text("pen,species\n" + pens)
    (folder / "incubators.csv").write_text("incubator\nNorth\nSouth\n")
    with duckdb.connect() as connection:
        for sheet, question in (("batches", BATCHES), ("trays", TRAYS)):
            text = question.format(trays=trays, batches=-(-trays // 20), pens=load_trays.PENS)
            connection.execute(f"COPY ({text}) TO '{folder / sheet}.csv' (HEADER)")


def rows_of(folder: Path, trays: int) -> list[tuple[Any, ...]]:
    """Every line of the table for one size."""
    lines = _loading(folder, trays)
    for what, ways in WORKS.items():
        costs = {by: measured(what, by, folder) for by in ways}
        alike = len({cost["digest"] for cost in costs.values()}) == 1
        own = costs["penwise"]
        for by, cost in costs.items():
            ratio = (
                cost["processor"] / own["processor"]
                if by == "pandas"
                else own["processor"] / cost["processor"]
            )
            limit = {"penwise": "", "SQL": f"<= {BARE_LIMIT}", "pandas": f">= {PANDAS_LIMIT}"}[by]
            within = ratio <= BARE_LIMIT
            if by == "pandas":
                within = ratio >= PANDAS_LIMIT or cost["processor"] < NOT_JUDGED
                limit = limit if cost["processor"] >= NOT_JUDGED else "not judged"
            if by == "penwise":
                ratio, limit, within = "", f"<= {MOST_MB} MB", cost["megabytes"] <= MOST_MB
            lines.append(_line(what, trays, by, cost, ratio, limit, within and alike))
    return lines


def _loading(folder: Path, trays: int) -> list[tuple[Any, ...]]:
    names = ("seconds", "processor", "megabytes")
    bare, own = (dict(zip(names, load_trays.timed(by, folder), strict=True)) for by in load_trays.WORKS)
    ratio, judged = own["processor"] / bare["processor"], own["processor"] >= NOT_JUDGED
    limit = f"<= {LOAD_LIMIT:.0f}" if judged else "not judged"
    return [
        _line("load", trays, "penwise", own, "", f"<= {MOST_MB} MB", own["megabytes"] <= MOST_MB),
        _line("load", trays, "COPY", bare, ratio, limit, ratio <= LOAD_LIMIT or not judged),
    ]


def _line(
    what: str, trays: int, by: str, cost: dict[str, Any], ratio: float | str, limit: str, holds: bool
) -> tuple[Any, ...]:
    figures = (f"{cost['seconds']:.3f}", f"{cost['processor']:.3f}", f"{cost['megabytes']:.0f}")
    shown = f"{ratio:.2f}" if isinstance(ratio, float) else ratio
    return what, trays, by, *figures, shown, limit, "yes" if holds else "NO"


def model_rows() -> list[tuple[Any, ...]]:
    """The crossed model's curve; the ratio is of one likelihood per tray against the cheapest."""
    costs = {size[0]: crossed_curve.in_own_process(size) for size in crossed_curve.SIZES if size[0] in MODEL}
    each = {trays: cost["seconds"] / cost["likelihoods"] / trays for trays, cost in costs.items()}
    lines = []
    for trays, cost in costs.items():
        ratio = each[trays] / min(each.values())
        holds = cost["miss"] <= 4 and (trays < max(costs) or ratio <= crossed_curve.DEAREST)
        limit = f"<= {crossed_curve.DEAREST:.0f}" if trays == max(costs) else ""
        lines.append(
            _line("model", trays, "penwise", cost | {"processor": float("nan")}, ratio, limit, holds)
        )
    return lines


def main(sizes: list[int], room: Path | None, write: bool) -> int:
    """Prints the table line by line; returns the exit code."""
    heading = (
        f"{'what':<7} {'trays':>11} {'by':<8} {'seconds':>9} {'processor':>10} {'MB':>6} {'ratio':>7}  limit"
    )
    print(heading)
    lines: list[tuple[Any, ...]] = []
    for trays in sizes:
        with tempfile.TemporaryDirectory(prefix="scale-", dir=room) as name:
            # apart, so that the processes measured are not started by a large one
            subprocess.run([sys.executable, __file__, "--prepare", name, str(trays)], check=True)
            lines += _told(rows_of(Path(name), trays))
    lines += _told(model_rows())
    if write:
        with TABLE.open("w", encoding="utf-8", newline="") as out:
            packages = ", ".join(f"{one} {version(one)}" for one in ("duckdb", "pandas", "numpy", "scipy"))
            out.write(f"# {datetime.now(UTC):%Y-%m-%d}; Python {platform.python_version()}; {packages}\n")
            csv.writer(out, lineterminator="\n").writerows([COLUMNS, *lines])
    missed = sum(line[-1] == "NO" for line in lines)
    print(f"{missed} of {len(lines)} lines miss a limit")
    return int(missed > 0)


def _told(lines: list[tuple[Any, ...]]) -> list[tuple[Any, ...]]:
    for what, trays, by, seconds, processor, held, ratio, limit, holds in lines:
        missed = "" if holds == "yes" else "  MISSED"
        cost = f"{seconds:>9} {processor:>10} {held:>6} {ratio:>7}"
        print(f"{what:<7} {trays:>11,} {by:<8} {cost}  {limit}{missed}")
    sys.stdout.flush()
    return lines


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIZES))
    parser.add_argument(
        "--room", type=Path, help="a folder with 10 GB free; else the usual one for such files"
    )
    parser.add_argument("--write", action="store_true", help="keep the table")
    parser.add_argument("--work", nargs=3, help=argparse.SUPPRESS)
    parser.add_argument("--prepare", nargs=2, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.prepare:
        prepare(Path(asked.prepare[0]), int(asked.prepare[1]))
    elif asked.work:
        work(*asked.work[:2], Path(asked.work[2]))
    else:
        sys.exit(main(asked.sizes, asked.room, asked.write))
