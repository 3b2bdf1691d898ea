"""What is missing and what is still in the machine."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from analytics.options import Selection
from analytics.store.counts import breeder_targets, counting
from analytics.store.gaps import Missing, batches_in_machine, closed_months, missing_records
from analytics.values import Month, Period

Make = Callable[..., Path]
AT = datetime.fromisoformat
PENS = [{"pen": "Rowan", "species": "coturnix_quail"}, {"pen": "Broody", "species": "chicken"}]
MARCH = {"batch": "B1", "incubator": "North", "set_on": AT("2026-03-01"), "pulled_on": AT("2026-03-19")}
APRIL = {"batch": "B0", "incubator": "North", "set_on": AT("2026-04-01"), "pulled_on": AT("2026-04-19")}
INSIDE = {"batch": "B2", "incubator": "South", "hatcher": "Box", "set_on": AT("2026-03-10T09:00")}
EMPTY = {"batch": "B3", "incubator": "South", "set_on": AT("2026-03-11")}
TRAY = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": 20, "storage_days": 3.0}


def _missing(store: Path, as_of: date = date(2026, 5, 1)) -> dict[str, Missing]:
    with counting(store, Selection()) as connection:
        return missing_records(connection, date(2026, 3, 1), date(2026, 3, 31), as_of)


@pytest.mark.parametrize(
    ("cells", "kind", "eggs"),
    [
        ({}, "no_hatched", 20),
        ({"hatched": 15}, "unaccounted", 5),
        ({"hatched": 15, "not_opened": 5}, "not_opened", 5),
        ({"hatched": 15, "clear": 2, "early_dead": 3}, "clear", 2),
        ({"hatched": 15, "infertile": 2}, "unstaged", 3),
        ({"hatched": 20, "storage_days": None}, "no_storage", 20),
    ],
)
def test_each_gap_is_found_alone(store_of: Make, cells: dict[str, Any], kind: str, eggs: int) -> None:
    checked = {"incubator": "north", "at": AT("2026-02-01"), "displayed_c": 37.5, "reference_c": 37.6}
    store = store_of(pens=PENS, batches=[MARCH], trays=[TRAY | cells], checks=[checked])
    assert _missing(store) == {kind: Missing(1, eggs, ("B1 / T1",))}


def test_at_most_ten_labels_and_the_true_number(store_of: Make) -> None:
    trays = [TRAY | {"tray": f"T{number:02}"} for number in range(12)]
    found = _missing(store_of(pens=PENS, batches=[MARCH], trays=trays))["no_hatched"]
    assert (found.how_many, found.eggs, len(found.labels)) == (12, 240, 10)


@pytest.mark.parametrize(
    ("check", "unchecked"),
    [
        ({"at": AT("2026-03-31T23:00"), "reference_c": 37.6}, ["Box", "South"]),
        ({"at": AT("2025-12-31"), "reference_c": 37.6}, ["Box", "South"]),  # 90 days before 31 March
        ({"at": AT("2025-12-30"), "reference_c": 37.6}, ["Box", "North", "South"]),
        ({"at": AT("2026-04-01"), "reference_c": 37.6}, ["Box", "North", "South"]),
        ({"at": AT("2026-03-01"), "reference_rh": 50.0}, ["Box", "North", "South"]),
        ({"at": AT("2026-03-01"), "reference_c": 37.6, "withdrawn_in": 2}, ["Box", "North", "South"]),
    ],
)
def test_machines_without_a_reference_reading(
    store_of: Make, check: dict[str, Any], unchecked: list[str]
) -> None:
    also_used = MARCH | {"batch": "B4", "incubator": "South", "hatcher": "Box"}
    later = {"batch": "B0", "incubator": "Attic", "set_on": AT("2026-04-01")}
    trays = [TRAY, TRAY | {"batch": "B4"}, TRAY | {"batch": "B0"}]
    store = store_of(
        pens=PENS, batches=[MARCH, also_used, later], trays=trays, checks=[{"incubator": "NORTH"} | check]
    )
    found = _missing(store)["no_check"]
    assert found == Missing(len(unchecked), 0, tuple(unchecked))


def test_batches_in_the_machine(store_of: Make) -> None:
    """Published days: Coturnix 16 to 18.4, chicken 20.25 to 21.25; from 10 March 9:00."""
    trays = [
        TRAY,
        TRAY | {"batch": "B2", "eggs_set": 7},
        TRAY | {"batch": "B2", "tray": "T2", "pen": "Broody", "eggs_set": 5, "hatched": 3},
    ]
    withdrawn = INSIDE | {"batch": "B9", "withdrawn_in": 2}
    store = store_of(pens=PENS, batches=[MARCH, INSIDE, EMPTY, withdrawn], trays=trays)
    with counting(store, Selection()) as connection:
        first, second = batches_in_machine(connection, Selection())
    assert (first.batch, first.incubator, first.species) == ("B2", "South", ("chicken", "coturnix_quail"))
    assert (first.eggs_set, first.set_on) == (12, date(2026, 3, 10))
    assert (first.due_from, first.due_to) == (date(2026, 3, 26), date(2026, 3, 31))
    assert (second.batch, second.species, second.eggs_set, second.due_to) == ("B3", (), 0, None)


@pytest.mark.parametrize(
    ("selection", "batches"),
    [
        (Selection(pens=("broody",)), ["B2"]),
        (Selection(incubators=("box",)), ["B2"]),
        (Selection(incubators=("North",)), []),
        (Selection(Period(date(2020, 1, 1), date(2020, 1, 2))), ["B2", "B3"]),
    ],
)
def test_batches_in_the_machine_by_filter(store_of: Make, selection: Selection, batches: list[str]) -> None:
    trays = [TRAY, TRAY | {"batch": "B2", "pen": "Broody"}]
    store = store_of(pens=PENS, batches=[MARCH, INSIDE, EMPTY], trays=trays)
    with counting(store, selection) as connection:
        assert [batch.batch for batch in batches_in_machine(connection, selection)] == batches


def test_months_that_have_a_hatch(store_of: Make) -> None:
    trays = [TRAY, TRAY | {"batch": "B0"}, TRAY | {"batch": "B2"}]
    store = store_of(pens=PENS, batches=[MARCH, APRIL, INSIDE], trays=trays)
    with counting(store, Selection()) as connection:
        assert closed_months(connection) == (Month(2026, 3), Month(2026, 4))


def test_the_breeders_own_aims(store_of: Make) -> None:
    aims = [
        {"species": "Coturnix_quail", "measure": "hatch_of_set", "target": 0.8},
        {"species": "chicken", "measure": "fertility", "target": 0.9, "withdrawn_in": 4},
    ]
    store = store_of(pens=PENS, targets=aims)
    with counting(store, Selection()) as connection:
        assert breeder_targets(connection) == {"coturnix_quail": {"hatch_of_set": 0.8}}
