"""What a store holds, looked into after loads and withdrawals."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from analytics.sheets.contents import store_contents
from analytics.sheets.contract import SHEETS
from analytics.store.audit import begin_entry, finish_entry
from analytics.store.connection import writing


def test_an_empty_store_is_empty(store_of: Callable[..., Path]) -> None:
    held = store_contents(store_of())
    assert held.is_empty
    assert (held.species, held.pens, held.incubators, held.entries) == ((), (), (), ())
    assert list(held.rows) == [sheet.name for sheet in SHEETS]


def test_pens_stand_in_the_order_in_which_they_were_entered(store_of: Callable[..., Path]) -> None:
    store = store_of(pens=[{"pen": label, "species": "chicken"} for label in ("Zinnia", "Aster")])
    with writing(store) as connection:
        connection.execute(
            "INSERT INTO pens (pen, species, row_key, added_in) VALUES ('Aloe', 'duck', 'aloe', 2)"
        )
    held = store_contents(store)
    assert held.pens == ("Aster", "Zinnia", "Aloe")
    assert held.species == ("chicken", "duck")
    assert held.rows["pens"] == 3


def test_what_was_withdrawn_is_not_there(store_of: Callable[..., Path]) -> None:
    store = store_of(
        pens=[{"pen": "A", "species": "chicken"}],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
    )
    with writing(store) as connection:
        connection.execute("UPDATE pens SET withdrawn_in = 2")
        connection.execute("UPDATE incubators SET withdrawn_in = 2 WHERE incubator = 'North'")
    held = store_contents(store)
    assert (held.pens, held.species, held.incubators) == ((), (), ("South",))
    assert (held.rows["pens"], held.rows["incubators"]) == (0, 1)
    assert not held.is_empty


def test_the_last_changes_come_newest_first(store_of: Callable[..., Path]) -> None:
    store = store_of()
    for number in range(3):
        with writing(store) as connection:
            entry = begin_entry(connection, "load", f"sheets {number}", "Ana")
            finish_entry(connection, entry, number, 0, 0)
    held = store_contents(store, last=2)
    assert [(entry.source, entry.added, entry.who) for entry in held.entries] == [
        ("sheets 2", 2, "Ana"),
        ("sheets 1", 1, "Ana"),
    ]
