"""Small sets of farms for the tests, written by the export itself."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from analytics.store.connection import create, writing
from analytics.store.farm_set import write_farm

Rows = Callable[..., None]
FIRST = datetime.fromisoformat("2026-01-06")
OUTCOMES = ("hatched", "infertile", "early_dead", "mid_dead", "late_dead", "internal_pip", "not_opened")


def farm_store(path: Path, put_rows: Rows, *, batches: int = 6, shift: int = 0) -> Path:
    """Three pens in two machines, a batch a machine every second week; awkward labels."""
    create(path)
    sets, trays = [], []
    for number in range(batches):
        for machine in ("North", "007"):
            batch, day = f"{machine} {number}", FIRST + timedelta(days=14 * number)
            sets.append({"batch": batch, "incubator": machine, "set_on": day,
                         "pulled_on": day + timedelta(days=18)})  # fmt: skip
            for pen in range(3):
                counts = (24 - pen - shift, 2 + pen, 1, number % 2, 1, 0, 2 - number % 2 + shift)
                trays.append({"batch": batch, "tray": f"T{pen}", "pen": f"Pên {pen}", "eggs_set": 30,
                              "storage_days": (2.0, 6.5, None)[pen],
                              **dict(zip(OUTCOMES, counts, strict=True))})  # fmt: skip
    with writing(path) as connection:
        pens = [{"pen": f"Pên {pen}", "species": "coturnix_quail"} for pen in range(3)]
        put_rows(connection, "pens", pens)
        put_rows(connection, "incubators", [{"incubator": name} for name in ("North", "007")])
        put_rows(connection, "batches", sets)
        put_rows(connection, "trays", trays)
    return path


def farm_set(room: Path, put_rows: Rows, farms: dict[str, dict[str, Any]]) -> Path:
    """A set of stores named, each with what `farm_store` is to be given."""
    for number, (name, given) in enumerate(farms.items()):
        write_farm(farm_store(room / f"{number}.duckdb", put_rows, **given), room / "set", name)
    return room / "set"
