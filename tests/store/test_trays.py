"""The trays as the questions see them: days, ages, states, opened eggs and filters, one rule at a time."""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest

from analytics.options import Selection
from analytics.store.connection import create, writing
from analytics.store.counts import Span, cluster_sums, counting, strata
from analytics.values import Period

Make = Callable[..., Path]
AT = datetime.fromisoformat
PENS = [
    {"pen": "Rowan", "species": "coturnix_quail", "hens_hatched_on": date(2025, 9, 1)},
    {"pen": "Alder", "species": "coturnix_quail"},
    {"pen": "Broody", "species": "chicken"},
]
PULLED = {
    "batch": "B1",
    "incubator": "North",
    "set_on": AT("2026-03-01T10:00"),
    "pulled_on": AT("2026-03-19"),
}
OPEN = {"batch": "B2", "incubator": "South", "hatcher": "Box", "set_on": AT("2026-03-10T09:00")}
TRAY = {"batch": "B1", "tray": "T1", "pen": "Rowan", "eggs_set": 20}


def _laid_out(store: Path, columns: str, selection: Selection | None = None) -> list[tuple[Any, ...]]:
    with counting(store, selection or Selection()) as connection:
        return connection.execute(f"SELECT {columns} FROM chosen ORDER BY batch_key, tray_key").fetchall()


def _only(store: Path, columns: str) -> tuple[Any, ...]:
    (row,) = _laid_out(store, columns)
    return row


@pytest.mark.parametrize(
    ("cells", "days"),
    [
        ({"storage_days": 4.5, "laid_from": date(2026, 2, 1), "laid_to": date(2026, 2, 2)}, 4.5),
        (
            {"laid_from": date(2026, 2, 23), "laid_to": date(2026, 2, 26)},
            4.5,
        ),  # middle 24.5 Feb, 1 Mar less it
        ({"laid_to": date(2026, 2, 26)}, 3.0),
        ({"laid_from": date(2026, 2, 23)}, 6.0),
        ({}, None),
    ],
)
def test_storage_days(store_of: Make, cells: dict[str, Any], days: float | None) -> None:
    store = store_of(pens=PENS, batches=[PULLED], trays=[TRAY | cells])
    assert _only(store, "storage_days") == (days,)


@pytest.mark.parametrize(
    ("cells", "weeks"),
    [
        # hens hatched 1 Sep 2025; 23-24 Feb 2026 are days 175 and 176 after it
        ({"laid_from": date(2026, 2, 23), "laid_to": date(2026, 2, 24)}, 175.5 / 7),
        ({"storage_days": 6.0}, 175 / 7),  # set on day 181
        ({}, None),
        ({"storage_days": 6.0, "pen": "Alder"}, None),
    ],
)
def test_age_of_the_hens_at_laying(store_of: Make, cells: dict[str, Any], weeks: float | None) -> None:
    store = store_of(pens=PENS, batches=[PULLED], trays=[TRAY | cells])
    assert _only(store, "hen_weeks") == (pytest.approx(weeks) if weeks else None,)


def test_a_batch_is_open_until_pulled_or_all_its_trays_have_hatched(store_of: Make) -> None:
    hatched = {"batch": "B2", "tray": "T1", "pen": "Rowan", "eggs_set": 10, "hatched": 7}
    waiting = {"batch": "B2", "tray": "T2", "pen": "Alder", "eggs_set": 10}
    all_lost = {"batch": "B3", "tray": "T3", "pen": "Alder", "eggs_set": 4, "infertile": 4}
    later = OPEN | {"batch": "B3"}
    store = store_of(pens=PENS, batches=[PULLED, OPEN, later], trays=[TRAY, hatched, waiting, all_lost])
    assert _laid_out(store, "batch, tray, closed") == [
        ("B1", "T1", True),
        ("B2", "T1", False),
        ("B2", "T2", False),
        ("B3", "T3", True),
    ]


def test_a_batch_belongs_to_the_day_it_was_pulled_else_to_its_longest_days(store_of: Make) -> None:
    """Coturnix take at most 18.4 days and chicken 21.25 in any source, so 10 March 9:00 ends on the 31st."""
    quail = {"batch": "B2", "tray": "T1", "pen": "Rowan", "eggs_set": 10, "hatched": 7}
    chicken = {"batch": "B2", "tray": "T2", "pen": "Broody", "eggs_set": 10, "hatched": 7}
    store = store_of(pens=PENS, batches=[PULLED, OPEN], trays=[TRAY, quail, chicken])
    assert _laid_out(store, "hatch_on") == [(date(2026, 3, 19),), (date(2026, 3, 31),), (date(2026, 3, 31),)]


def test_opened_eggs_stand_in_only_for_blank_counts(store_of: Make) -> None:
    blank = TRAY | {"hatched": 12, "cracked": 1}
    counted = TRAY | {"tray": "T2", "hatched": 12, "early_dead": 2}
    full = TRAY | {"tray": "T3", "hatched": 18, "eggs_set": 19}
    eggs = [
        {"batch": "b1 ", "tray": tray, "egg": number, "class": outcome}
        for tray in ("t1", "T2", "T3")
        for number, outcome in enumerate(("early_dead", "infertile", "late_dead"), start=1)
    ]
    eggs.append({"batch": "B1", "tray": "T1", "egg": 9, "class": "clear", "withdrawn_in": 3})
    store = store_of(pens=PENS, batches=[PULLED], trays=[blank, counted, full], opened_eggs=eggs)
    seen = _laid_out(store, "from_opened_eggs, infertile, clear, early, late, unknown, in_staged")
    assert seen[0] == (True, 1, 0, 1, 1, 4, True)  # 20 set, 12 hatched, 1 cracked, 3 opened
    assert seen[1] == (False, 0, 0, 2, 0, 6, False)
    assert seen[2] == (
        False,
        0,
        0,
        0,
        0,
        1,
        False,
    )  # three eggs opened of one that is left: they cannot stand


def test_a_cracked_egg_among_the_opened_ones_leaves_the_ladder(store_of: Make) -> None:
    eggs = [
        {"batch": "B1", "tray": tray, "egg": number, "class": outcome}
        for tray, classes in {
            "T1": ("cracked", "infertile", "cracked"),
            "T2": ("cracked",),
            "T3": ("cracked", "cracked"),
            "T4": ("cracked",),
        }.items()
        for number, outcome in enumerate(classes, start=1)
    ]
    eggs.append({"batch": "B1", "tray": "T2", "egg": 9, "class": "cracked", "withdrawn_in": 3})
    trays = [
        TRAY | {"hatched": 12},
        TRAY | {"tray": "T2", "hatched": 12},  # nobody opened the others
        TRAY | {"tray": "T3", "hatched": 12, "cracked": 3},  # the tray's own count is the record
        TRAY | {"tray": "T4", "hatched": 12, "infertile": 2},  # and so it is here: none cracked
    ]
    store = store_of(pens=PENS, batches=[PULLED], trays=trays, opened_eggs=eggs)
    assert _laid_out(store, "followed, infertile, unknown, unstaged, in_fertile") == [
        (18, 1, 5, 0, True),
        (19, 0, 7, 0, False),
        (17, 0, 5, 0, False),
        (20, 2, 0, 6, True),
    ]


def test_left_over_beside_counted_infertile_are_dead_of_unknown_stage(store_of: Make) -> None:
    told = TRAY | {"hatched": 12, "infertile": 3, "not_opened": 1}
    none_infertile = TRAY | {"tray": "T2", "hatched": 12, "infertile": 0, "early_dead": 0}
    store = store_of(pens=PENS, batches=[PULLED], trays=[told, none_infertile])
    assert _laid_out(store, "unstaged, unknown, in_fertile, in_staged") == [
        (4, 1, True, False),
        (0, 8, True, True),
    ]


def test_withdrawn_rows_are_in_nothing(store_of: Make) -> None:
    gone = {"withdrawn_in": 5}
    trays = [TRAY, TRAY | {"tray": "T2"} | gone, TRAY | {"tray": "T3", "pen": "Alder"}]
    trays.append({"batch": "B2", "tray": "T1", "pen": "Rowan", "eggs_set": 5})
    pens = [PENS[0], PENS[1] | gone]
    store = store_of(pens=pens, batches=[PULLED, OPEN | gone], trays=trays)
    assert _laid_out(store, "batch, tray") == [("B1", "T1")]


@pytest.mark.parametrize(
    ("selection", "trays"),
    [
        (Selection(), ["B1 T1", "B1 T2", "B2 T1"]),
        (Selection(pens=(" rOWAN ",)), ["B1 T1", "B2 T1"]),
        (Selection(species=("chicken",)), ["B1 T2"]),
        (Selection(incubators=("north",)), ["B1 T1", "B1 T2"]),
        (Selection(incubators=("BOX",)), ["B2 T1"]),
        (Selection(pens=("Rowan", "Broody"), incubators=("South",)), ["B2 T1"]),
        (Selection(Period(date(2026, 3, 19), date(2026, 3, 19))), ["B1 T1", "B1 T2"]),
        (Selection(Period(date(2026, 3, 20), None)), ["B2 T1"]),
        (Selection(pens=("alder",)), []),
    ],
)
def test_filters(store_of: Make, selection: Selection, trays: list[str]) -> None:
    rows = [
        TRAY,
        TRAY | {"tray": "T2", "pen": "broody"},
        {"batch": "B2", "tray": "T1", "pen": "Rowan", "eggs_set": 10, "hatched": 7},
    ]
    store = store_of(pens=PENS, batches=[PULLED, OPEN], trays=rows)
    assert [row[0] for row in _laid_out(store, "batch || ' ' || tray", selection)] == trays


def test_labels_written_in_two_ways_are_one(store_of: Make) -> None:
    """é as one letter and as e with an accent, capitals, blanks."""
    pens = [{"pen": "Caf\u00e9", "species": "coturnix_quail"}]
    tray = TRAY | {"pen": "cafe\u0301 ", "hatched": 3}
    store = store_of(pens=pens, batches=[PULLED], trays=[tray])
    assert _laid_out(store, "pen", Selection(pens=("CAFE\u0301",))) == [("Caf\u00e9",)]


def test_sums_cross_from_the_store_and_rows_do_not(tmp_path: Path) -> None:
    store = tmp_path / "large.duckdb"
    create(store)
    with writing(store) as connection:
        connection.execute(
            "INSERT INTO pens (pen, species, row_key, added_in)"
            " SELECT 'Pen ' || i, 'coturnix_quail', 'pen ' || i, 1 FROM range(5) r (i)"
        )
        connection.execute(
            "INSERT INTO batches (batch, incubator, set_on, pulled_on, row_key, added_in)"
            " SELECT 'B' || i, 'North', TIMESTAMP '2026-02-20', TIMESTAMP '2026-03-10', 'b' || i, 1"
            " FROM range(40) r (i)"
        )
        connection.execute(
            "INSERT INTO trays"
            " (batch, tray, pen, eggs_set, hatched, infertile, early_dead, row_key, added_in)"
            " SELECT 'B' || i % 40, 'T' || i, 'Pen ' || i % 5, 12, 8, 1, i % 3, 'b|' || i, 1"
            " FROM range(20000) r (i)"
        )
    with counting(store, Selection()) as connection:
        tracemalloc.start()
        found = strata(connection, [Span(Period(None, None))])
        sums = cluster_sums(connection, date(2026, 12, 31))
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert found[0].eggs_set == 240_000
    assert sums["hatch_of_set"].trays == 20_000
    assert peak < 1_000_000  # 20,000 rows of any kind would take more
