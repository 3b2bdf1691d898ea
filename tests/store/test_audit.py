from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from analytics.store.audit import (
    WITHDRAWN,
    begin_entry,
    finish_entry,
    history_of,
    next_entry_no,
    record_change,
    user_name,
)
from analytics.store.connection import LeaveUnchanged, change_count, reading, writing

from .short_writes import add_pen


def test_the_entry_number_is_the_change_count_that_it_makes(store: Path) -> None:
    for expected in (1, 2, 3):
        with writing(store) as connection:
            assert next_entry_no(connection) == expected
            assert begin_entry(connection, "load", "pens.csv") == expected
        assert change_count(store) == expected


def test_a_write_without_entry_counts_too_and_numbers_go_on_after_it(store: Path) -> None:
    with writing(store) as connection:
        connection.execute("UPDATE pens SET notes = 'x'")
    with writing(store) as connection:
        assert begin_entry(connection, "load", "pens.csv") == 2


def test_an_entry_keeps_who_when_what_and_how_many(store: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PENWISE_WHO", " Ida ")
    before = datetime.now(UTC).replace(tzinfo=None)
    with writing(store) as connection:
        entry = begin_entry(connection, "withdraw", "penwise withdraw", why="counted twice")
        finish_entry(connection, entry, 3, 2, 1)
    with reading(store) as connection:
        row = connection.execute(
            "SELECT kind, who, source, added, corrected, unchanged, why, made_at FROM ledger"
        ).fetchall()[0]
    assert row[:7] == ("withdraw", "Ida", "penwise withdraw", 3, 2, 1, "counted twice")
    assert before <= row[7] <= before + timedelta(minutes=1)


def test_the_name_is_the_system_user_unless_one_is_given(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("PENWISE_WHO", raising=False)
    monkeypatch.setenv("LOGNAME", "henkeeper")
    assert user_name() == "henkeeper"
    monkeypatch.setenv("PENWISE_WHO", "Ida")
    assert user_name() == "Ida"


def test_history_tells_every_change_of_a_row_in_order_and_of_no_other(store: Path) -> None:
    add_pen(store, "P1")
    with writing(store) as connection:
        entry = begin_entry(connection, "load", "pens.csv", who="Ida")
        record_change(connection, entry, "pens", "p1", "males", None, 2)
        record_change(connection, entry, "pens", "p1", "from", date(2026, 3, 1), date(2026, 3, 2))
        record_change(connection, entry, "pens", "p2", "males", 1, 2)
        record_change(connection, entry, "birds", "p1", "sex", "m", "f")
    with writing(store) as connection:
        entry = begin_entry(connection, "withdraw", "penwise withdraw", who="Jo", why="no such pen")
        record_change(connection, entry, "pens", "p1", WITHDRAWN, None, entry)
    told = [
        (c.entry_no, c.who, c.kind, c.why, c.column, c.old, c.new) for c in history_of(store, "pens", "p1")
    ]
    assert told == [
        (2, "Ida", "load", "", "males", None, "2"),
        (2, "Ida", "load", "", "from", "2026-03-01", "2026-03-02"),
        (3, "Jo", "withdraw", "no such pen", "withdrawn_in", None, "3"),
    ]


@pytest.mark.parametrize(
    ("value", "text"),
    [(True, "true"), (0.1, "0.1"), (datetime(2026, 3, 1, 18, 30), "2026-03-01T18:30:00"), ("a|b\n", "a|b\n")],  # noqa: DTZ001
)
def test_cells_are_kept_as_plain_text(store: Path, value: object, text: str) -> None:
    with writing(store) as connection:
        record_change(connection, begin_entry(connection, "load", "x"), "pens", "k", "c", None, value)
    assert [change.new for change in history_of(store, "pens", "k")] == [text]


def test_a_change_that_is_rolled_back_leaves_no_history(store: Path) -> None:
    with writing(store) as connection:
        record_change(connection, begin_entry(connection, "load", "x"), "pens", "k", "c", "old", "new")
        raise LeaveUnchanged
    assert history_of(store, "pens", "k") == ()
