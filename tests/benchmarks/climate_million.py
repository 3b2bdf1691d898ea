"""What about the machines, with a million logger readings: 6 machines, a reading every 10 minutes for three years.

Run by hand: `python tests/benchmarks/climate_million.py [READINGS]`. Prints the time, wall and processor, of the
whole answer and of the step that makes hours of readings, the most memory held, and how many readings were set
aside of those put in as impossible. Exits 1 when the answer takes more than LIMIT seconds of processor or
MEMORY MB, or when an impossible reading was not set aside.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import resource
import sys
import tempfile
import time
from datetime import date, datetime, timedelta
from pathlib import Path

from analytics.options import Selection
from analytics.store.climate import lay_out_climate
from analytics.store.connection import create, writing
from analytics.store.counts import counting
from analytics.store.machines import lay_out_stays
from analytics.studies.incubators import incubators

LIMIT, MEMORY = 30.0, 1500
MACHINES, MINUTES = 6, 10
FIRST = datetime.fromisoformat("2023-01-02T00:00")


def fill(store: Path, readings: int) -> int:
    """Puts batches and readings into a new store, as a load would leave them; returns the impossible ones."""
    create(store)
    each = readings // MACHINES
    days = each * MINUTES // 1440
    with writing(store) as connection:
        connection.execute(
            "INSERT INTO pens (pen, species, row_key, added_in) VALUES ('A', 'chicken', 'a', 1)"
        )
        for number in range(MACHINES):
            name = f"M{number}"
            connection.execute(
                "INSERT INTO incubators (incubator, role, air, row_key, added_in)"
                " VALUES (?, 'both', 'forced', lower(?), 1)",
                [name, name],
            )
            for week in range(days // 7 - 3):
                set_on = FIRST + timedelta(days=7 * week, hours=18)
                batch = f"{name} {week}"
                moved, pulled = set_on + timedelta(days=18), set_on + timedelta(days=21, hours=12)
                connection.execute(
                    "INSERT INTO batches (batch, incubator, set_on, transfer_on, pulled_on, row_key, added_in)"
                    " VALUES (?, ?, ?, ?, ?, lower(?), 1)",
                    [batch, name, set_on, moved, pulled, batch],
                )
                connection.execute(
                    "INSERT INTO trays (batch, tray, pen, eggs_set, hatched, infertile, row_key, added_in)"
                    " VALUES (?, '1', 'A', 30, 24, 6, lower(?) || '|1', 1)",
                    [batch, batch],
                )
        connection.execute(
            'INSERT INTO climate (incubator, "at", temperature_c, humidity_pct, row_key, added_in)'
            " SELECT 'M' || m, $first::TIMESTAMP + to_minutes($minutes * n),"
            " CASE WHEN n % 5000 = 0 THEN -127 WHEN n % 7001 = 0 THEN 85"
            " ELSE 37.6 + 0.1 * sin(n / 50) + 0.05 * hash(n + m)::DOUBLE / 18446744073709551615 END,"
            " 55 + 3 * cos(n / 70), 'm' || m || '|' || n, 1"
            " FROM range($machines) machine(m), range($each) reading(n)",
            {"first": FIRST, "minutes": MINUTES, "machines": MACHINES, "each": each},
        )
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
    print(
        f"  whole answer: {wall:.1f} s, {processor:.1f} s of processor; {most:.0f} MB at most ({before:.0f} before)"
    )
    days = (date.fromisoformat(str(found.last_day)) - FIRST.date()).days
    missed = aside < wrong * read / readings * 0.95
    print(
        f"  {days} days, {sum(len(one.climate.days) for one in found.machines):,} machine days crossed over"
    )
    return int(processor > LIMIT or most > MEMORY or missed)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000))
