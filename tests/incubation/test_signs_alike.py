"""The likeness of eggs in a sign: against the store's own sums of the same trays, which SQL makes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import astuple
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.incubation.signs_alike import alike, sums_of
from analytics.options import Selection
from analytics.store.counts import cluster_sums, counting


def test_the_sums_are_those_of_the_store(store_of: Callable[..., Path]) -> None:
    random = np.random.default_rng(3)
    start = datetime.fromisoformat("2026-01-05T09:00")
    batches = [{"batch": f"B{at}", "incubator": "North", "set_on": start + timedelta(days=7 * at),
                "pulled_on": start + timedelta(days=7 * at + 18)} for at in range(7)]  # fmt: skip
    trays = []
    for at in range(7):
        for pen in ("Rowan", "Alder", "Birch")[at % 2 :]:
            for tray in range(1 + (at + len(pen)) % 2):
                eggs = int(random.integers(8, 30))
                rotten = int(random.binomial(eggs, 0.2))
                trays.append({"batch": f"B{at}", "tray": f"{pen}{tray}", "pen": pen, "eggs_set": eggs,
                              "rotten": rotten, "hatched": eggs - rotten})  # fmt: skip
    store = store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in ("Rowan", "Alder", "Birch")],
        incubators=[{"incubator": "North"}], batches=batches, trays=trays,
    )  # fmt: skip
    with counting(store, Selection()) as connection:
        expected = cluster_sums(connection, date(2027, 1, 1))["rotten"]
    seen, eggs = (np.array([float(tray[name]) for tray in trays]) for name in ("rotten", "eggs_set"))
    pen, batch = (np.array([str(tray[name]) for tray in trays]) for name in ("pen", "batch"))
    found = sums_of(seen, eggs, pen, batch)
    assert found is not None
    assert_allclose(astuple(found), astuple(expected), rtol=1e-9)
    # a tray without a record, and a group where nothing or everything shows, change nothing
    shown, looked = np.append(seen, [np.nan, 0.0]), np.append(eggs, [9.0, 9.0])
    more = sums_of(shown, looked, np.append(pen, ["Rowan", "Elm"]), np.append(batch, ["B0", "B0"]))
    assert more == found


def test_what_sets_machines_apart_is_no_likeness_of_batches() -> None:
    random = np.random.default_rng(5)
    batch = np.repeat(np.arange(40), 4)
    machine = np.where(batch % 2 == 0, "North", "South")
    eggs = np.full(len(batch), 20.0)
    seen = random.binomial(20, np.where(machine == "North", 0.6, 0.05)).astype(float)
    pen = np.tile(np.array(["a", "b", "c", "d"]), 40)
    apart = alike(seen, eggs, np.char.add(pen, machine), batch.astype(str))
    together = alike(seen, eggs, pen, batch.astype(str))
    # nothing more than the assumed .03 and what is not known of it
    assert apart.rho_batch == pytest.approx(0.03 + apart.spread_batch)
    assert apart.spread_batch < 0.02
    assert together.rho_batch > 0.2


def test_nothing_seen_anywhere_leaves_what_is_assumed() -> None:
    found = alike(
        np.zeros(4), np.full(4, 20.0), np.array(["a", "a", "b", "b"]), np.array(["1", "2", "1", "2"])
    )
    assert (found.rho_tray, found.assumed) == (pytest.approx(0.05 + found.spread_tray), True)
    assert found.rho_batch == pytest.approx(0.03 + found.spread_batch)
