from __future__ import annotations

import threading

import pytest

from analytics.errors import StoreBusy
from analytics.store.turns import Turns


def _in_a_thread(action: object) -> threading.Thread:
    assert callable(action)
    thread = threading.Thread(target=action)
    thread.start()
    return thread


def test_readers_share() -> None:
    turns, met = Turns(), threading.Barrier(3, timeout=5)

    def read() -> None:
        with turns.shared(5):
            met.wait()

    threads = [_in_a_thread(read), _in_a_thread(read)]
    with turns.shared(5):
        met.wait()
    for thread in threads:
        thread.join(5)
    assert not met.broken


def test_a_writer_is_alone_and_gives_up_after_its_time() -> None:
    turns, outcome = Turns(), []

    def write() -> None:
        try:
            with turns.alone(0.05):
                outcome.append("in")
        except StoreBusy:
            outcome.append("busy")

    with turns.shared(1):
        _in_a_thread(write).join(5)
    with turns.alone(1):
        _in_a_thread(write).join(5)
    _in_a_thread(write).join(5)
    assert outcome == ["busy", "busy", "in"]


def test_new_readers_wait_behind_a_waiting_writer_but_not_a_reader_within_its_own_turn() -> None:
    turns, order = Turns(), []
    writer_waits = threading.Event()

    def write() -> None:
        writer_waits.set()
        with turns.alone(5):
            order.append("writer")

    def read() -> None:
        with turns.shared(5):
            order.append("second reader")

    with turns.shared(1):
        writer = _in_a_thread(write)
        writer_waits.wait(5)
        while not turns._writers_waiting:
            pass
        reader = _in_a_thread(read)
        with turns.shared(1):
            order.append("first reader again")
    writer.join(5)
    reader.join(5)
    assert order == ["first reader again", "writer", "second reader"]


def test_a_writer_that_gave_up_keeps_nobody_waiting() -> None:
    turns, told = Turns(), []

    def write() -> None:
        with pytest.raises(StoreBusy), turns.alone(0.01):
            told.append("writer came in")
        told.append("writer gave up")

    def read() -> None:
        with turns.shared(1):
            told.append("reader came in")

    with turns.shared(1):
        _in_a_thread(write).join(5)
        _in_a_thread(read).join(5)
    assert told == ["writer gave up", "reader came in"]
