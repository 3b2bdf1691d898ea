"""Wrong tries: how long who has to wait."""

from __future__ import annotations

from dashboard.access import tries
from dashboard.access.tries import Tries


class Clock:
    now = 0.0

    def __call__(self) -> float:
        return self.now


def test_each_wrong_try_doubles_the_wait_up_to_a_quarter_of_an_hour() -> None:
    clock = Clock()
    counted, waits = Tries(clock), []
    for _ in range(15):
        waits.append(counted.seconds_to_wait("a"))
        clock.now += waits[-1]
        assert counted.seconds_to_wait("a") == 0
        counted.count("a")
    assert waits == [0, 0, 0, 1, 2, 4, 8, 16, 32, 64, 128, 256, 512, 900, 900]
    # 96 tries a day and address: so few guesses find no phrase of four odd words


def test_many_addresses_wait_together_but_not_for_long() -> None:
    clock = Clock()
    counted = Tries(clock)
    for number in range(100):
        counted.count(f"address {number}")
    assert counted.seconds_to_wait("somebody new") == tries.LONGEST_WAIT_IN_ALL == 60
    clock.now += 60
    assert counted.seconds_to_wait("somebody new") == 0


def test_the_right_passphrase_makes_ones_own_tries_forgotten_and_no_others() -> None:
    clock = Clock()
    counted = Tries(clock)
    for address in ("a", "b", "a", "b", "a", "b"):
        counted.count(address)
    counted.was_right("a")
    assert counted.seconds_to_wait("a") == 0
    assert counted.seconds_to_wait("b") == 1


def test_an_hour_without_a_wrong_try_forgets_them() -> None:
    clock = Clock()
    counted = Tries(clock)
    for _ in range(12):
        counted.count("a")
    clock.now += tries.FORGOTTEN_AFTER
    counted.count("a")
    assert counted.seconds_to_wait("a") == 0


def test_made_up_addresses_do_not_fill_the_memory() -> None:
    counted = Tries(Clock())
    for number in range(tries.MOST_ADDRESSES * 2):
        counted.count(str(number))
    assert len(counted._by_address) == tries.MOST_ADDRESSES
    assert str(tries.MOST_ADDRESSES * 2 - 1) in counted._by_address
