"""Wrong passphrases: who gives one has to wait before the next, each time twice as long."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

FREE = 3
"""Wrong tries of one address before it has to wait."""
LONGEST_WAIT = 900.0
"""Seconds that one address waits at most."""
FREE_IN_ALL = 20
"""Wrong tries of all addresses together before everybody has to wait."""
LONGEST_WAIT_IN_ALL = 60.0
"""Seconds that everybody waits at most, so that a stranger cannot keep the owner out for long."""
FORGOTTEN_AFTER = 3600.0
"""Seconds without a wrong try after which earlier ones are forgotten."""
MOST_ADDRESSES = 1000
"""Addresses that are remembered; beyond that the one that tried longest ago is forgotten."""


@dataclass(slots=True)
class _Count:
    """Wrong tries in a row.

    Attributes:
        tries: how many.
        last: when the last one was, in seconds of the clock.
    """

    tries: int = 0
    last: float = 0.0


class Tries:
    """Counts wrong tries; all calls come from one thread."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._by_address: dict[str, _Count] = {}
        self._in_all = _Count()

    def seconds_to_wait(self, address: str) -> float:
        """How long this address has to wait until it may try; 0 when it may now."""
        own = self._by_address.get(address, _Count())
        return max(
            self._left(own, FREE, LONGEST_WAIT), self._left(self._in_all, FREE_IN_ALL, LONGEST_WAIT_IN_ALL)
        )

    def count(self, address: str) -> None:
        """Counts a try as wrong, before it is looked at, so that tries at the same time count too."""
        own = self._by_address.pop(address, _Count())
        if len(self._by_address) >= MOST_ADDRESSES:
            del self._by_address[next(iter(self._by_address))]
        self._by_address[address] = own
        for counted in (own, self._in_all):
            self._add(counted)

    def was_right(self, address: str) -> None:
        """The try that was counted was right: the tries of this address are forgotten."""
        own = self._by_address.pop(address, _Count())
        self._in_all.tries = max(0, self._in_all.tries - own.tries)

    def _add(self, counted: _Count) -> None:
        now = self._clock()
        if now - counted.last >= FORGOTTEN_AFTER:
            counted.tries = 0
        counted.tries += 1
        counted.last = now

    def _left(self, counted: _Count, free: int, longest: float) -> float:
        if counted.tries < free:
            return 0.0
        wait = min(2.0 ** min(counted.tries - free, 30), longest)
        return max(0.0, counted.last + wait - self._clock())
