"""What the simulations share: a table of figures with their limits, and the run that holds one to the other.

A script names its cells and makes the rows of one; the committed figures lie in a CSV of its name, each with
its limits in its own row; a new row brings its first limits along. A figure misses when it lies beyond its
limits by more than chance allows at the runs made (99.9 % band); a row without limits is there for contrast
and misses nothing.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TypeVar

import numpy as np
import scipy

BAND = 3.29
Row = dict[str, str]
Plan = TypeVar("Plan")


@dataclass(frozen=True, slots=True)
class Figures:
    """The table of one script.

    Attributes:
        file: the CSV.
        keys: columns that name a row.
        columns: all columns in their order; `lowest`, `highest` and `error` (Monte-Carlo) are among them.
        figure: the column that the limits are for.
        about: what the first line says: seed and choices; day and versions are added.
        band: standard errors that chance is allowed.
    """

    file: Path
    keys: tuple[str, ...]
    columns: tuple[str, ...]
    figure: str
    about: str
    band: float = BAND

    def read(self) -> dict[tuple[str, ...], Row]:
        """The committed rows by their keys."""
        if not self.file.exists():
            return {}
        lines = self.file.read_text(encoding="utf-8").splitlines()
        rows = csv.DictReader(line for line in lines if not line.startswith("#"))
        return {self.key(row): row for row in rows}

    def key(self, row: Row) -> tuple[str, ...]:
        """What names a row."""
        return tuple(row[name] for name in self.keys)

    def misses(self, row: Row) -> bool:
        """Whether a figure misses its limits by more than chance allows; no limits, no miss."""
        slack, figure = self.band * float(row["error"]), float(row[self.figure])
        low, high = (float(row[name] or "nan") for name in ("lowest", "highest"))
        return figure < low - slack or figure > high + slack

    def write(self, rows: Iterable[Row]) -> None:
        """Puts rows into the file."""
        versions = f"{datetime.now(UTC):%Y-%m-%d}; numpy {np.__version__}, scipy {scipy.__version__}"
        with self.file.open("w", encoding="utf-8", newline="") as file:
            file.write(f"# {self.about}; {versions}; error = Monte-Carlo standard error\n")
            out = csv.DictWriter(file, self.columns, lineterminator="\n")
            out.writeheader()
            out.writerows(rows)

    def line(self, row: Row) -> str:
        """A row as it is printed."""
        names = "".join(f"{row[name]:<34} " for name in self.keys)
        limits = f"limits {row['lowest'] or 'none'} to {row['highest'] or 'none'}"
        mark = "  MISSED" if self.misses(row) else ""
        return f"{names}{row[self.figure]} +- {row['error']}  {limits}{mark}\n"


def run(
    figures: Figures,
    about: str | None,
    cells: Mapping[str, Plan],
    rows_of: Callable[[str, Plan, int], Iterable[Row]],
    runs: int = 1000,
) -> int:
    """Runs the cells asked for, prints a line a figure; 1 when one misses its limits.

    Args:
        figures: the table.
        about: what `--help` says.
        cells: what is simulated, by name.
        rows_of: rows of one cell from its name, plan and number of runs.
        runs: runs of a cell unless asked otherwise.
    """
    asked = argparse.ArgumentParser(description=about, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--runs", type=int, default=runs)
    asked.add_argument("--only", nargs="*", default=[""], metavar="TEXT")
    asked.add_argument("--write", action="store_true")
    options = asked.parse_args()
    table, missed, told = figures.read(), 0, 0
    for name, plan in cells.items():
        if not any(text in name for text in options.only):
            continue
        for row in rows_of(name, plan, options.runs):
            before = table.get(figures.key(row), row)
            row |= {"lowest": before["lowest"], "highest": before["highest"]}
            missed, told = missed + figures.misses(row), told + 1
            table[figures.key(row)] = row
            sys.stdout.write(figures.line(row))
        sys.stdout.flush()
        if options.write:
            figures.write(table.values())
    sys.stdout.write(f"{missed} of {told} figures miss their limits\n")
    return int(missed > 0)
