"""What the store tells of trays and batches for their signs: windows of time, blanks, and weighings."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from analytics.options import Selection
from analytics.store.counts import counting
from analytics.store.shells import shell_samples
from analytics.store.signs import batch_notes, opened_eggs, weighings

Make = Callable[..., Path]
SET = datetime.fromisoformat("2026-03-02T09:00")


def at(days: float) -> datetime:
    return SET + timedelta(days=days)


BASE: dict[str, list[dict[str, Any]]] = {
    "pens": [{"pen": "Rowan", "species": "coturnix_quail"}],
    "incubators": [{"incubator": "North"}, {"incubator": "South"}],
    "batches": [
        {"batch": "A", "incubator": "North", "hatcher": "South", "set_on": SET, "transfer_on": at(14),
         "pulled_on": at(18)},
    ],
    "trays": [
        {"batch": "A", "tray": "1", "pen": "Rowan", "eggs_set": 20, "hatched": 12, "culled": 1,
         "infertile": 1, "early_dead": 2, "late_dead": 1, "external_pip": 3},
        {"batch": "A", "tray": "2", "pen": "Rowan", "eggs_set": 20, "hatched": 19, "infertile": 1},
        {"batch": "A", "tray": "3", "pen": "Rowan", "eggs_set": 20, "hatched": 18, "external_pip": 2},
    ],
}  # fmt: skip


def test_machine_sheets_count_only_what_lies_in_the_batchs_time(store_of: Make) -> None:
    events = [
        ("South", 13.9, "opened"), ("South", 14.5, "opened"), ("south ", 17.0, "opened"),
        ("South", 18.1, "opened"),
        ("North", 15.0, "opened"), ("North", 3.0, "turner_stopped"), ("South", 3.0, "turner_stopped"),
        ("North", -10.0, "cleaned"), ("North", -4.0, "cleaned"), ("North", 2.0, "cleaned"),
        ("South", 16.0, "power_cut"), ("North", 16.0, "power_cut"), ("North", 5.0, "power_cut"),
    ]  # fmt: skip
    climate = [
        ("North", 1.0, 37.0, 50.0), ("North", 2.0, 38.0, 54.0), ("North", 15.0, 30.0, 10.0),
        ("South", 15.0, 37.2, 70.0), ("South", 1.0, 20.0, 20.0),
    ]  # fmt: skip
    store = store_of(
        **BASE,
        incubator_events=[{"incubator": name, "at": at(day), "event": event} for name, day, event in events],
        climate=[{"incubator": name, "at": at(day), "temperature_c": warm, "humidity_pct": damp}
                 for name, day, warm, damp in climate],
        checks=[{"incubator": "North", "at": at(day), "reference_c": warm}
                for day, warm in ((-20, 37.4), (30, 37.8), (45, 99.0))],
    )  # fmt: skip
    with counting(store, Selection()) as connection:
        notes = batch_notes(connection)["A"]
    assert notes.numbers == {
        "openings": 2, "turner_stops": 1, "power_cuts": 2, "days_since_cleaning": 4.0,
        "setter_c": 37.5, "setter_rh": 52.0, "hatcher_c": 37.2, "hatcher_rh": 70.0,
        "reference_c": pytest.approx(37.6),
    }  # fmt: skip


def test_a_machine_of_which_nothing_is_written_has_no_number(store_of: Make) -> None:
    with counting(store_of(**BASE), Selection()) as connection:
        assert batch_notes(connection)["A"].numbers == {}


def test_opened_eggs_that_were_not_looked_at_are_in_no_sign(store_of: Make) -> None:
    listed = [
        {
            "batch": "A",
            "tray": "1",
            "egg": 1,
            "class": "external_pip",
            "dry_membrane": True,
            "malposition": 2,
        },
        {"batch": "A", "tray": "1", "egg": 2, "class": "external_pip", "dry_membrane": False},
        {"batch": "A", "tray": "1", "egg": 3, "class": "external_pip", "malformed": True},
        {"batch": "A", "tray": "1", "egg": 4, "class": "late_dead", "malformed": False, "malposition": 4},
        {"batch": "A", "tray": "1", "egg": 5, "class": "early_dead", "day": 2},
        {"batch": "A", "tray": "1", "egg": 6, "class": "early_dead", "day": 5},
        {"batch": "A", "tray": "3", "egg": 1, "class": "external_pip"},
    ]
    chicks = [
        {"batch": "A", "tray": "1", "day": 7, "alive": 10, "dead": 3},
        {"batch": "A", "tray": "1", "day": 3, "alive": 12, "dead": 1, "splay_leg": 1},
    ]
    with counting(store_of(**BASE, opened_eggs=listed, chicks=chicks), Selection()) as connection:
        found = opened_eggs(connection)
    order = [found.place["A", tray] for tray in "123"]
    told = {sign: [(seen[k], eggs[k]) for k in order] for sign, (seen, eggs) in found.signs.items()}
    none = (np.nan, np.nan)
    # tray 2 has no pipped egg and is of a batch that was looked at; of tray 3 one pipped egg is not listed
    assert told["dry_stuck"] == [(1, 16), (0, 19), pytest.approx(none, nan_ok=True)]
    assert told["dead_days_1_3"][0] == (1, 19)
    assert told["head_small_end"] == [(1, 4), pytest.approx(none, nan_ok=True), (0, 1)]
    assert told["malposition"][0] == (1, 4)
    assert told["malformed"][0] == (1, 2)
    assert told["weak"][0] == (3, 13)
    assert told["splay_leg"][0] == pytest.approx(none, nan_ok=True)  # the last count says nothing of legs
    assert told["rotten"] == [(0, 20), (0, 20), (0, 20)]


def test_water_loss_needs_tare_and_the_same_eggs(store_of: Make) -> None:
    """100 eggs of 60 g on a tray of 300 g, later 5,700 g in all: 10.0 %; without the tare 9.52 %."""
    tray = {"batch": "A", "pen": "Rowan", "eggs_set": 100, "hatched": 90, "weight_set_g": 6300.0,
            "weight_transfer_g": 5700.0}  # fmt: skip
    trays = [
        {**tray, "tray": "whole", "tare_g": 300.0},
        {**tray, "tray": "no tare"},
        {**tray, "tray": "fewer", "tare_g": 300.0, "weighed_set": 100, "weighed_transfer": 95},
        {**tray, "tray": "candled", "tare_g": 300.0, "removed_at_candling": 4},
        {**tray, "tray": "once", "tare_g": 300.0, "weight_transfer_g": None},
        {**tray, "tray": "wrong", "tare_g": 300.0, "weight_transfer_g": 200.0},
    ]
    with counting(store_of(**{**BASE, "trays": trays}), Selection()) as connection:
        found = {tray: one for (_, tray), one in weighings(connection).items()}
    assert found["whole"].water_loss == pytest.approx(0.10)
    assert found["whole"].egg_g == pytest.approx(60.0)
    assert {tray: one.why for tray, one in found.items()} == {
        "whole": "", "fewer": "number", "candled": "number", "once": "once", "wrong": "impossible",
    }  # fmt: skip


def test_shell_samples_speak_for_sixty_days(store_of: Make) -> None:
    samples = [
        {"pen": "Rowan", "sampled_on": SET.date() + timedelta(days=days), "thickness_mm": 0.16, "eggs": 10}
        for days in (-61, -60, 0, 1)
    ]
    with counting(store_of(**BASE, shells=samples), Selection()) as connection:
        found = shell_samples(connection)
    assert [one.sampled_on for one in found] == [date(2026, 1, 1), date(2026, 3, 2)]
