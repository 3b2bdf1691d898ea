"""What the door says: signing in, signing out, and what is not encrypted."""

from __future__ import annotations

import math

TITLE = "Sign in"
LABEL = "Passphrase"
GO_IN = "Sign in"
LEAVE = "Sign out"
INTRODUCTION = (
    "These are the hatch records of one smallholding. The passphrase was set on the computer that keeps them."
)
WRONG = "That is not the passphrase."
NOT_SET = "No passphrase is set on the computer that keeps the records. Nobody can sign in."
BUSY = "Others are signing in just now. Try again in a moment."
NOT_ENCRYPTED = (
    "This connection is not encrypted. Others in this network can read what you type here,"
    " the passphrase too, and what the pages show."
)
FOREIGN_NAME = (
    "penwise does not answer under this name. Open it at the address that its window on the computer prints."
)
FOREIGN_PAGE = "Another page asked for this. Open penwise itself."
TOO_LARGE = "This is larger than penwise takes."
SIGNED_OUT = "Sign in first."


def wait(seconds: float) -> str:
    """How long to wait after wrong tries."""
    whole = math.ceil(seconds)
    if whole >= 120:
        return f"Too many wrong tries. Wait {math.ceil(whole / 60)} minutes, then try again."
    return f"Too many wrong tries. Wait {whole} second{'' if whole == 1 else 's'}, then try again."
