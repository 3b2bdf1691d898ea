"""Counts of a hatch as hours from setting: of the whole batch, of its trays, and why some cannot be read."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from analytics.options import Selection
from analytics.store import timing
from analytics.store.counts import counting
from analytics.store.timing import CountedBatch, counted_batches

Make = Callable[..., Path]
SET = "2026-01-05T18:00"


def _read(
    make: Make,
    counts: list[dict[str, Any]],
    set_on: str = SET,
    pens: tuple[str, ...] = ("A", "A"),
    **more: Any,
) -> CountedBatch:
    store = make(
        pens=[{"pen": "A", "species": "coturnix_quail"}, {"pen": "C", "species": "chukar"}],
        incubators=[{"incubator": "North"}, {"incubator": "South"}],
        batches=[{"batch": "B", "incubator": "NORTH", "hatcher": "South", "set_on": set_on,
                  "pulled_on": "2026-01-24T10:00"}],
        trays=[
            {"batch": "b", "tray": str(at), "pen": pen, "eggs_set": 10 * at, "hatched": 8 * at, "culled": at,
             "infertile": at, "storage_days": 2.0 * at, "tare_g": 100.0, "weight_set_g": 100.0 + 120.0 * at}
            | more
            for at, pen in enumerate(pens, start=1)
        ],
        hatch_counts=[{"batch": "B"} | row for row in counts],
    )  # fmt: skip
    with counting(store, Selection()) as connection:
        (found,) = counted_batches(connection)
    return found


def _count(at: str, out: int, tray: str | None = None) -> dict[str, Any]:
    return {"tray": tray, "counted_at": at, "out_so_far": out}


def test_a_whole_batch(store_of: Make) -> None:
    """Set at 18:00; counted 16 d 14 h and 17 d 2 h later. Storage by eggs: (10 * 2 + 20 * 4) / 30."""
    found = _read(store_of, [_count("2026-01-22T08:00", 5), _count("2026-01-22T20:00", 25)])
    assert (found.setter, found.hatcher, found.species, found.why) == ("North", "South", "coturnix_quail", "")
    assert found.counts is not None
    assert found.counts.hours == (398.0, 410.0)
    assert (found.counts.out, found.counts.chicks) == ((5, 25), 27)
    assert found.counts.storage_days == pytest.approx(100 / 30)
    assert found.traits.egg_g == pytest.approx(12.0)


def test_trays_are_added_up_when_all_of_them_were_counted(store_of: Make) -> None:
    found = _read(
        store_of,
        [_count("2026-01-22T08:00", 2, "1"), _count("2026-01-22T08:00", 4, "2"),
         _count("2026-01-22T14:00", 9, "1"), _count("2026-01-22T20:00", 9, "1"),
         _count("2026-01-22T20:00", 17, "2")],
    )  # fmt: skip
    assert found.counts is not None
    assert (found.counts.hours, found.counts.out, found.counts.chicks) == ((398.0, 410.0), (6, 26), 27)


@pytest.mark.parametrize(
    ("counts", "set_on", "pens", "why"),
    [
        ([], SET, ("A",), timing.NOT_COUNTED),
        ([_count("2026-01-22", 3)], SET, ("A",), timing.NOT_COUNTED),
        ([_count("2026-01-22T08:00", 3)], "2026-01-05", ("A",), timing.NO_HOUR),
        ([_count("2026-01-22T08:00", 3)], SET, ("A", "C"), timing.MIXED),
        ([_count("2026-01-22T08:00", 3), _count("2026-01-22T20:00", 2)], SET, ("A",), timing.FALLING),
        ([_count("2026-01-05T08:00", 0)], SET, ("A",), timing.BEFORE_SET),
    ],
)
def test_why_hours_cannot_be_read(
    store_of: Make, counts: list[dict[str, Any]], set_on: str, pens: tuple[str, ...], why: str
) -> None:
    found = _read(store_of, counts, set_on, pens)
    assert (found.why, found.counts) == (why, None)


def test_more_out_than_written_as_hatched(store_of: Make) -> None:
    """A tray whose chicks nobody wrote down: those counted out are chicks all the same."""
    found = _read(store_of, [_count("2026-01-22T08:00", 12)], pens=("A",))
    assert found.counts is not None
    assert found.counts.chicks == 12
    assert found.set_on == datetime.fromisoformat(SET)
