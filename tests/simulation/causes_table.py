"""All that is claimed of whose loss it is in one table: level, power, coverage, bias, right cause, aliased.

    python tests/simulation/causes_table.py [--committed]

Runs the scripts of the claims one after the other (hours), each with its own table and limits; with
--committed it only prints the figures that lie beside the scripts and holds them to their limits. Exits 1
when one misses.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import analytics  # noqa: F401 - before numpy: it says how many threads small matrices take

# isort: split
import findings
import findings_worlds
import ledger_coverage
from figures import Figures

SCRIPTS = ("ledger_coverage", "findings", "findings_worlds")
TABLES: dict[str, Figures] = {"findings": findings.FIGURES, "findings_worlds": findings_worlds.FIGURES}


def committed() -> tuple[list[str], int]:
    """The lines of all committed tables, and how many figures miss their limits."""
    lines, missed = [], 0
    for (farms, line), row in ledger_coverage.read_table().items():
        bad = ledger_coverage.misses(row, row)
        missed += bad
        bias = f"  bias {row['bias']}" if row["bias"] else ""
        said = f"{row['coverage']} +- {row['error']}  limits {row['lowest']} to {row['highest']}{bias}"
        lines.append(f"coverage: {farms:<34} {line:<24} {said}{'  MISSED' if bad else ''}\n")
    for name, table in TABLES.items():
        for row in table.read().values():
            missed += table.misses(row)
            lines.append(f"{name}: {table.line(row)}")
    return lines, missed


def main() -> int:
    """Runs or reads, prints, and says with the exit code whether every figure holds."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    asked.add_argument("--committed", action="store_true")
    if not asked.parse_args().committed:
        folder = Path(__file__).parent
        ended = [subprocess.call([sys.executable, str(folder / f"{name}.py")]) for name in SCRIPTS]
        return int(any(ended))
    lines, missed = committed()
    sys.stdout.write("".join(lines) + f"{missed} of {len(lines)} figures miss their limits\n")
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
