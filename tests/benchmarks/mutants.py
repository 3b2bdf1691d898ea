"""Small changes to the numbers that no test notices, held against those that are explained.

    python tests/benchmarks/mutants.py [MODULE ...]

Needs the extra `mutants`, and Linux or macOS. For each module, in a copy of the working tree, mutmut makes
one change at a time and runs the module's own tests, one process at a time. Exits 1 when a change survives
that `mutants.csv` does not explain, and when that table explains one that is found after all. What follows
`raise` on its line is not changed. What runs only when the module is imported is marked `no mutate`: it
cannot be judged, for mutmut switches later.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

# ruff: noqa: T201 - a script that prints
ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_suffix(".csv")
MODULES = {
    "analytics/measures/intervals.py": ["tests/measures/test_intervals.py"],
    "analytics/measures/clustering.py": ["tests/measures/test_clustering.py"],
    "analytics/measures/ladder.py": [
        "tests/measures/test_ladder.py",
        "tests/byhand/test_ladder_by_hand.py",
    ],
    "analytics/comparisons/differences.py": ["tests/comparisons/test_differences_and_shrinkage.py"],
    "analytics/attribution/expected.py": ["tests/attribution/test_expected.py"],
    "analytics/attribution/runs.py": ["tests/attribution/test_runs.py"],
}
"""Module -> its own tests."""
FOUND = {"killed", "timeout"}
"""What mutmut calls a change that was noticed; a loop without end is."""
Change = tuple[str, str, str]
"""Function, its lines before, and after."""


def copy_tree(folder: Path, module: str) -> None:
    """Copies what git knows into an empty folder, and tells mutmut what to change there."""
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    for name in listed.splitlines():
        if (ROOT / name).is_file() and name.startswith(("analytics/", "tests/", "pyproject")):
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ROOT / name, folder / name)
    settings = folder / "pyproject.toml"
    here = f"only_mutate = {json.dumps([module])}\n"
    here += f"pytest_add_cli_args_test_selection = {json.dumps(MODULES[module])}\n"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace("[tool.mutmut]\n", "[tool.mutmut]\n" + here), encoding="utf-8")


def mutmut(folder: Path, *words: str) -> str:
    """Runs mutmut there and gives back what it printed."""
    threads = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "mutmut", *words]
    return subprocess.run(
        command, cwd=folder, env=os.environ | threads, check=True, text=True, stdout=subprocess.PIPE
    ).stdout


def survivors(folder: Path, module: str) -> tuple[int, dict[Change, str]]:
    """How many changes were made, and those that no test noticed, by mutmut's name."""
    mutmut(folder, "run", "--max-children", "1")
    lines = (line.strip().split(": ") for line in mutmut(folder, "results", "--all", "true").splitlines())
    fates = {name: fate for name, fate in lines if name.startswith(module[:-3].replace("/", "."))}
    left = [name for name, fate in fates.items() if fate not in FOUND]
    return len(fates), {change(name, mutmut(folder, "show", name)): name for name in left}


def change(mutant: str, shown: str) -> Change:
    """What a mutant changes, in words that outlast its number."""
    lines = [line for line in shown.splitlines() if not line.startswith(("---", "+++"))]
    before, after = (" / ".join(line[1:].strip() for line in lines if line[:1] == sign) for sign in "-+")
    module, _, name = mutant.rpartition(".")
    return f"{module}.{name.partition('__mutmut_')[0].removeprefix('x_')}", before, after


def explained(module: str) -> set[Change]:
    """The changes of a module that no test can, or need, notice."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
    place = module[:-3].replace("/", ".") + "."
    return {
        (row["function"], row["before"], row["after"]) for row in rows if row["function"].startswith(place)
    }


def judge(module: str) -> bool:
    """Runs one module and says what is not explained."""
    with tempfile.TemporaryDirectory() as name:
        copy_tree(Path(name), module)
        made, left = survivors(Path(name), module)
    known = explained(module)
    print(f"{module}: {made} changes, {made - len(left)} found, {len(left)} not", flush=True)
    for place, before, after in sorted(set(left) - known):
        print(f"  not explained: {place}\n    - {before}\n    + {after}")
    for place, before, after in sorted(known - set(left)):
        print(f"  explained, but found or gone: {place}\n    - {before}\n    + {after}")
    return set(left) == known


if __name__ == "__main__":
    asked = sys.argv[1:] or list(MODULES)
    sys.exit(sum(not judge(module) for module in asked) > 0)
