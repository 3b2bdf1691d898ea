"""The tally: a small file beside the store that says how many changes the store must hold.

DuckDB opens a store whose log was cut short, or replaced by an older copy, without a word and without its
last changes. The tally is written after each of them, so that we notice.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path

from analytics.errors import StoreDamaged
from analytics.store.files import write_whole


@dataclass(frozen=True, slots=True)
class Tally:
    """What a store must hold at least.

    Attributes:
        store_id: the store's random name.
        change_count: changes kept so far.
    """

    store_id: str
    change_count: int


def tally_of(store: Path) -> Path:
    """Where the tally of a store is."""
    return store.with_name(store.name + ".tally")


def read_tally(store: Path) -> Tally | None:
    """The tally beside the store, or None when there is none that can be read."""
    try:
        kept = json.loads(tally_of(store).read_text(encoding="utf-8"))
        return Tally(str(kept["store_id"]), int(kept["change_count"]))
    except (OSError, ValueError, TypeError, KeyError):
        return None


def write_tally(store: Path, tally: Tally) -> None:
    """Writes the tally; after a crash the old or the new one is there.

    Raises:
        OSError: the folder may not be written, or the disk is full.
    """
    write_whole(tally_of(store), json.dumps({"schema": "penwise.tally/1", **asdict(tally)}))


def missing_changes(kept: Tally | None, found: Tally) -> int:
    """How many changes that were kept are not found; 0 when none, or when the tally is of another store.

    Args:
        kept: what the tally says, read while nobody could change the store.
        found: what the store itself says.
    """
    if kept is None or kept.store_id != found.store_id:
        return 0
    return max(kept.change_count - found.change_count, 0)


def refuse_behind(store: Path, found: Tally, kept: Tally | None) -> None:
    """Raises StoreDamaged when changes that were kept are missing from the store; see `missing_changes`."""
    missing = missing_changes(kept, found)
    if missing:
        raise StoreDamaged(
            f"{store.name} lacks its last {missing} change{'' if missing == 1 else 's'}",
            f"It holds {found.change_count} of the {found.change_count + missing} in {tally_of(store).name}",
            "Put a newer copy in its place (penwise restore COPY),"
            " or go on without them (penwise check --accept-loss)",
        )
