"""The demo store: the smallholding's sheets, loaded like anybody's."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

from analytics.errors import WrongUsage
from analytics.sheets.load import load
from analytics.store.care import restore
from analytics.store.connection import reading
from seed_demo.generate import generate, randomness, write_sheets
from seed_demo.world import DEFAULT_SEED, TODAY, world

WHO = "penwise demo"
"""The name under which the demo's records stand in the ledger."""


def build_demo(
    store: Path, seed: int | None = None, progress: Callable[[float, str], None] | None = None
) -> None:
    """Builds the demo store, whole or not at all.

    Args:
        store: where; an older demo without records of anybody else gives way and is kept beside.
        seed: seed of the chance, None = the usual one.
        progress: told the share done (0..1) and what is being done.

    Raises:
        WrongUsage: there is a store with somebody's records at that place.
        StoreError and its kinds: as `load` and `restore`.
    """
    if store.exists() and not is_demo(store):
        raise WrongUsage(
            f"{store} holds records", "The demo never writes over anybody's records", "Give another file"
        )
    drawn = world(DEFAULT_SEED if seed is None else seed)
    with tempfile.TemporaryDirectory(prefix="penwise-demo-") as folder:
        sheets, fresh = Path(folder) / "sheets", Path(folder) / "demo.duckdb"
        write_sheets(generate(drawn, randomness(drawn)), sheets)
        load(fresh if store.exists() else store, [sheets], who=WHO, today=TODAY, progress=progress)
        if fresh.exists():
            restore(fresh, store)


def is_demo(store: Path) -> bool:
    """Whether the store holds the demo's records and nobody else's.

    Raises:
        as `reading`.
    """
    with reading(store) as connection:
        row = connection.execute(
            "SELECT count(*) FILTER (WHERE who = ?), count(*) FILTER (WHERE who <> ? AND kind <> 'restore')"
            " FROM ledger",
            [WHO, WHO],
        ).fetchone()
    return row is not None and row[0] > 0 and row[1] == 0
