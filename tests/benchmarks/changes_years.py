"""Did the changes work, on a large farm: 30 pens, 6 machines, ten years, some 40,000 trays, ten changes.

Run by hand: `python tests/benchmarks/changes_years.py [YEARS]`. Prints the time, wall and processor, and the
most memory held. Exits 1 when the processor time passes LIMIT seconds.
"""

# ruff: noqa: T201 - a script that prints
from __future__ import annotations

import resource
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

# analytics first: it sets how many threads small matrices get
from analytics.options import Selection  # isort: skip
from analytics.sheets.load import load  # isort: skip
from analytics.studies.changes import changes  # isort: skip

from causes_years import write_sheets

LIMIT = 20.0
CHANGES = 10
SHEETS = ("pens", "incubators", "batches", "trays", "changes")


def write_changes(folder: Path, years: int) -> None:
    """A change of two pens, or of a machine, at even distances."""
    rows = ["changed_on,scope,target,what"]
    for place in range(CHANGES):
        day = date(2016, 1, 4) + timedelta(days=(place + 1) * 364 * years // (CHANGES + 1))
        scope, targets = ("incubator", (f"M{place % 6}",)) if place % 3 == 2 else ("pen", _two(place))
        rows += [f"{day},{scope},{target},change {place}" for target in targets]
    (folder / "changes.csv").write_text("\n".join(rows) + "\n")


def _two(place: int) -> tuple[str, str]:
    return f"Pen {2 * place:02d}", f"Pen {2 * place + 1:02d}"


def main(years: int) -> int:
    """Loads, asks, prints."""
    with tempfile.TemporaryDirectory(prefix="changes-") as name:
        folder = Path(name)
        write_sheets(folder, years)
        write_changes(folder, years)
        store = folder / "farm.duckdb"
        load(store, [folder / f"{sheet}.csv" for sheet in SHEETS])
        wall, processor = time.perf_counter(), time.process_time()
        answer = changes(store, Selection())
        wall, processor = time.perf_counter() - wall, time.process_time() - processor
    print(answer.sentence)
    print(answer.notes[0])
    for one in answer.changes:
        print(f"  {one.event.what}: {one.compared.trays} trays, {len(one.compared.controls)} untouched")
    print(f"  {wall:.1f} s, {processor:.1f} s of processor")
    print(f"  {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB at most")
    return int(processor > LIMIT)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 10))
