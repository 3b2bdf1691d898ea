"""The one passphrase of this computer, kept as an Argon2id hash."""

from __future__ import annotations

import unicodedata
from pathlib import Path

from analytics.errors import WrongUsage
from dashboard.access.private import write_private

FEWEST = 12
"""Letters that a passphrase has at least."""
MOST = 200
"""Letters that it has at most; more is not looked at."""
_FILE = "passphrase"


def keep(folder: Path, passphrase: str) -> None:
    """Sets the passphrase; whoever signed in with an earlier one is signed out.

    Args:
        folder: where this computer keeps what belongs to access.
        passphrase: as it was typed; blanks at its ends and how letters are composed do not count.

    Raises:
        WrongUsage: it is too short or too long.
        StoreError: the folder cannot be written.
    """
    from argon2 import PasswordHasher

    tidy = _tidy(passphrase)
    if not FEWEST <= len(tidy) <= MOST:
        raise WrongUsage(
            f"A passphrase of {len(tidy)} letters",
            f"It needs {FEWEST} letters at least and {MOST} at most, for anybody in the network may guess",
            "Take four or five words that do not belong together",
        )
    write_private(folder / _FILE, PasswordHasher().hash(_as_bytes(tidy)).encode())


def forget(folder: Path) -> bool:
    """Removes the passphrase and says whether there was one; whoever was signed in is signed out."""
    was_there = is_set(folder)
    (folder / _FILE).unlink(missing_ok=True)
    return was_there


def is_set(folder: Path) -> bool:
    """Whether a passphrase was set on this computer."""
    return stored(folder) is not None


def stored(folder: Path) -> str | None:
    """The hash that is kept, with its salt and costs; None where no passphrase was set."""
    try:
        return (folder / _FILE).read_text(encoding="ascii") or None
    except (OSError, UnicodeDecodeError):
        return None


def agrees(kept: str, passphrase: str) -> bool:
    """Whether a passphrase is the one of this hash; takes about the same time either way."""
    from argon2 import PasswordHasher
    from argon2.exceptions import InvalidHashError, VerificationError

    try:
        return PasswordHasher().verify(kept, _as_bytes(_tidy(passphrase)))
    except (VerificationError, InvalidHashError):
        return False


def _tidy(passphrase: str) -> str:
    """The passphrase as every keyboard writes it."""
    return unicodedata.normalize("NFKC", passphrase).strip()


def _as_bytes(tidy: str) -> bytes:
    """The passphrase as bytes, whatever letters were typed."""
    return tidy.encode("utf-8", "surrogatepass")
