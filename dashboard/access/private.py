"""Files that only their owner may read."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from pathlib import Path

from analytics.errors import StoreError

OWNER_ONLY = 0o600
_OWNERS_FOLDER = 0o700


def write_private(path: Path, content: bytes) -> None:
    """Writes a file that no other account may read, whole or not at all.

    Raises:
        StoreError: it cannot be written there.
    """
    unfinished = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=_OWNERS_FOLDER)
        with os.fdopen(os.open(unfinished, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY), "wb") as file:
            file.write(content)
        os.replace(unfinished, path)
    except OSError as error:
        with suppress(OSError):
            unfinished.unlink()
        raise StoreError(
            f"{path} cannot be written",
            error.strerror or str(error),
            "Look whether you may write into that folder",
        ) from error
