"""Who is signed in: a secret for each browser, kept in memory only, so that a new start signs all out."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass

IDLE_SECONDS = 12 * 3600
"""A session ends when it was not used for so long."""
WHOLE_SECONDS = 7 * 24 * 3600
"""A session ends after this time however much it is used."""
MOST_SESSIONS = 100
"""When more sign in, the one not used for longest ends."""


@dataclass(slots=True)
class _Session:
    """One browser that signed in.

    Attributes:
        seal: the kept hash of the passphrase it signed in with.
        begun: when, in seconds of the clock.
        used: when it was last used.
    """

    seal: str
    begun: float
    used: float


class Sessions:
    """The sessions of one start; all calls come from one thread."""

    def __init__(self, clock: Callable[[], float] = time.time) -> None:
        self._clock = clock
        self._open: dict[str, _Session] = {}

    def begin(self, seal: str) -> str:
        """A new session; returns its secret, which only the browser keeps.

        Args:
            seal: the hash of the passphrase that was given; when another is set, the session ends.
        """
        self._drop_ended()
        if len(self._open) >= MOST_SESSIONS:
            del self._open[min(self._open, key=lambda name: self._open[name].used)]
        secret = secrets.token_urlsafe(32)
        now = self._clock()
        self._open[_name(secret)] = _Session(seal, now, now)
        return secret

    def is_open(self, secret: str | None, seal: str | None, *, used: bool = False) -> bool:
        """Whether this secret belongs to a session that has not ended.

        Args:
            secret: what the browser sent.
            seal: the hash of the passphrase that is set now; None when none is.
            used: whether this is a use of the session, from which its idle time counts anew.
        """
        session = self._open.get(_name(secret)) if secret else None
        if session is None or session.seal != seal or self._has_ended(session):
            return False
        if used:
            session.used = self._clock()
        return True

    def end(self, secret: str | None) -> None:
        """Ends a session at once."""
        if secret:
            self._open.pop(_name(secret), None)

    def _has_ended(self, session: _Session) -> bool:
        now = self._clock()
        return now - session.used >= IDLE_SECONDS or now - session.begun >= WHOLE_SECONDS

    def _drop_ended(self) -> None:
        self._open = {name: one for name, one in self._open.items() if not self._has_ended(one)}


def _name(secret: str) -> str:
    """What a secret is looked up by; the secret itself is not kept, nor compared letter by letter."""
    return hashlib.sha256(secret.encode()).hexdigest()
