"""Sessions beyond what the gate shows: how many there may be."""

from __future__ import annotations

from dashboard.access.sessions import IDLE_SECONDS, MOST_SESSIONS, Sessions


def test_when_too_many_sign_in_the_one_unused_for_longest_ends() -> None:
    now = 0.0

    def tick() -> float:
        nonlocal now
        now += 1
        return now

    sessions = Sessions(tick)
    secrets = [sessions.begin("seal") for _ in range(MOST_SESSIONS)]
    assert sessions.is_open(secrets[0], "seal", used=True)
    newest = sessions.begin("seal")
    assert [sessions.is_open(one, "seal") for one in (secrets[0], secrets[1], newest)] == [True, False, True]
    now += IDLE_SECONDS
    sessions.begin("seal")
    assert len(sessions._open) == 1


def test_no_secret_is_given_twice_and_none_fits_another_passphrase() -> None:
    sessions = Sessions()
    secrets = {sessions.begin("seal") for _ in range(MOST_SESSIONS)}
    assert len(secrets) == MOST_SESSIONS
    one = secrets.pop()
    assert sessions.is_open(one, "seal")
    assert not sessions.is_open(one, "another seal")
    assert not sessions.is_open(one, None)
    assert not sessions.is_open("", "seal")
    assert not sessions.is_open(None, "seal")
