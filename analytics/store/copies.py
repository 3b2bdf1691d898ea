"""Copies of the store in a folder, so many of them: made, read through and numbered, then the oldest go.

They follow each other by number, not by day: a clock that was set back makes no old copy the newest.
"""

from __future__ import annotations

import re
from contextlib import suppress
from datetime import date
from pathlib import Path

from analytics.errors import WrongUsage
from analytics.store.care import Copied, backup
from analytics.store.connection import WAIT_SECONDS


def backup_into(
    store: Path, folder: Path, keep: int, *, today: date, wait: float = WAIT_SECONDS
) -> tuple[Copied, tuple[Path, ...]]:
    """Adds a verified copy to a folder and removes the oldest ones beyond so many.

    Only files that were named here are removed, and only when the new copy was read to its last row.

    Args:
        store: the store.
        folder: a folder that is there.
        keep: copies of this store that stay, the new one among them; 1 or more.
        today: the day in the new copy's name.
        wait: seconds to wait for others.

    Returns:
        The new copy, and the copies that were removed.

    Raises:
        WrongUsage: there is no such folder, or nothing would be kept.
        as `backup`.
    """
    if keep < 1:
        raise WrongUsage(f"{keep} copies to keep", "The copy just made stays", "Keep 1 or more")
    if folder.exists() and not folder.is_dir():
        raise WrongUsage(f"{folder} is a file", "Copies that are counted go into a folder", "Give a folder")
    number = max(_numbered(store, folder), default=0) + 1
    copied = backup(store, folder / f"{store.stem}-copy-{number:06d}-{today}{store.suffix}", wait=wait)
    there = _numbered(store, folder)
    old = [there[number] for number in sorted(there)[:-keep]]
    for path in old:
        with suppress(FileNotFoundError):
            path.unlink()
    return copied, tuple(old)


def _numbered(store: Path, folder: Path) -> dict[int, Path]:
    """The copies of this store in the folder by their number."""
    name = re.compile(rf"{re.escape(store.stem)}-copy-(\d{{6,}})-\d{{4}}-\d\d-\d\d{re.escape(store.suffix)}")
    paths = folder.iterdir() if folder.is_dir() else ()
    found = ((name.fullmatch(path.name), path) for path in paths)
    return {int(match[1]): path for match, path in found if match}
