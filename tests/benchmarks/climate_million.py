"""What about the machines, with a million logger readings: 6 machines, one every 10 minutes for three years.

Run by hand: `python tests/benchmarks/climate_million.py [READINGS]`. Prints the time, wall and processor, of
the whole answer and of the step that makes hours of readings, the most memory held, and how many readings
were set aside of those put in as impossible. Exits 1 when the answer takes more than LIMIT seconds of
processor or MEMORY MB, or when an impossible reading was not set aside.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import resource
import sys
import tempfile
import time
from datetime import datetime
from pathlib import Path

from analytics.options import Selection
from analytics.store.climate import lay_out_climate
from analytics.store.connection import create, writing
from analytics.store.counts import counting
from analytics.store.machines import lay_out_stays
from analytics.studies.incubators import incubators

LIMIT, MEMORY = 10.0, 800
MACHINES, MINUTES = 6, 10
MACHINE_ROWS = """
INSERT INTO incubators (incubator, role, air, row_key, added_in)
SELECT 'M' || m, 'both', 'forced', 'm' || m, 1 FROM range($machines) machine(m)"""
BATCH_ROWS = """
INSERT INTO batches (batch, incubator, set_on, transfer_on, pulled_on, row_key, added_in)
SELECT 'M' || m || ' ' || w, 'M' || m, day, day + to_days(18), day + to_days(21) + to_hours(12),
    'm' || m || ' ' || w, 1
FROM range($machines) machine(m), range($weeks) week(w),
    LATERAL (SELECT $first::TIMESTAMP + to_days(CAST(7 * w AS INTEGER)) + to_hours(18) AS day)"""
TRAY_ROWS = """
INSERT INTO trays (batch, tray, pen, eggs_set, hatched, infertile, row_key, added_in)
SELECT batch, '1', 'A', 30, 24, 6, row_key || '|1', 1 FROM batches"""
CLIMATE_ROWS = """
INSERT INTO climate (incubator, "at", temperature_c, humidity_pct, row_key, added_in)
SELECT 'M' || m, $first::TIMESTAMP + to_minutes($minutes * n),
    CASE WHEN n % 5000 = 0 THEN -127 WHEN n % 7001 = 0 THEN 85
        ELSE 37.6 + 0.1 * sin(n / 50) + 0.05 * hash(n + m)::DOUBLE / 18446744073709551615 END,
    55 + 3 * cos(n / 70), 'm' || m || '|' || n, 1
FROM range($machines) machine(m), range($each) reading(n)"""
FIRST = datetime.fromisoformat("2023-01-02T00:00")


def fill(store: Path, readings: int) -> int:
    """Puts batches and readings into a new store, as a load would leave them; returns the impossible ones."""
    create(store)
    each = readings // MACHINES
    with writing(store) as connection:
        connection.execute(
            "INSERT INTO pens (pen, species, row_key, added_in) VALUES ('A', 'chicken', 'a', 1)"
        )
        connection.execute(MACHINE_ROWS, {"machines": MACHINES})
        asked = {"machines": MACHINES, "weeks": each * MINUTES // 10_080 - 3, "first": FIRST}
        connection.execute(BATCH_ROWS, asked)
        connection.execute(TRAY_ROWS)
        climate = {"machines": MACHINES, "each": each, "first": FIRST, "minutes": MINUTES}
        connection.execute(CLIMATE_ROWS, climate)
        row = connection.execute(
            "SELECT count(*) FILTER (WHERE temperature_c IN (-127, 85)), count(*) FROM climate"
        ).fetchone()
    assert row
    print(f"{row[1]:,} readings of {MACHINES} machines, {row[0]:,} of them impossible")
    return int(row[0])


def hours(store: Path) -> float:
    """Wall time of the step that makes hours of readings."""
    with counting(store, Selection()) as connection:
        lay_out_stays(connection, with_open=True)
        begun = time.perf_counter()
        lay_out_climate(connection)
        return time.perf_counter() - begun


def main(readings: int) -> int:
    """Fills, asks, prints."""
    with tempfile.TemporaryDirectory(prefix="climate-") as name:
        store = Path(name) / "farm.duckdb"
        wrong = fill(store, readings)
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"  hours of readings: {hours(store):.1f} s")
        wall, processor = time.perf_counter(), time.process_time()
        found = incubators(store, Selection())
        wall, processor = time.perf_counter() - wall, time.process_time() - processor
    read = sum(one.climate.readings for one in found.machines)
    aside = sum(sum(one.climate.set_aside.values()) for one in found.machines)
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  {read:,} readings while eggs were in, {aside:,} set aside, up to {found.last_day}")
    print(f"  whole answer: {wall:.1f} s, {processor:.1f} s of processor")
    print(f"  {most:.0f} MB at most ({before:.0f} before it was asked)")
    missed = aside < wrong * read / readings * 0.95
    print(f"  {sum(len(one.climate.days) for one in found.machines):,} machine days left the store")
    return int(processor > LIMIT or most > MEMORY or missed)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000))
