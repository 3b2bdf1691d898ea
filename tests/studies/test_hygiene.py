"""Losses against the days since cleaning: a planted link, none, and records that cannot tell."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from analytics.cli.common import plain
from analytics.options import Selection
from analytics.reports.signs_hygiene import hygiene_lines, hygiene_values
from analytics.studies.hygiene import HygieneAnswer, hygiene

Make = Callable[..., Path]
Row = dict[str, Any]
START = datetime.fromisoformat("2026-01-05T09:00")
GAPS = (2, 10, 20, 30, 40, 50)
"""Days from the cleaning to the setting of each batch, over and over."""


def farm(rotten: Callable[[int], int], cleaned: Callable[[int], bool] = lambda _: True,
         gap: Callable[[int], int] = lambda number: GAPS[number % 6]) -> dict[str, list[Row]]:  # fmt: skip
    """18 batches in one machine, 60 days apart, three pens of 20 eggs; rotten(days since cleaning) a tray."""
    batches, trays, events = [], [], []
    for number in range(18):
        start = START + timedelta(days=60 * number)
        batches.append({"batch": f"B{number:02}", "incubator": "North", "set_on": start,
                        "pulled_on": start + timedelta(days=18)})  # fmt: skip
        if cleaned(number):
            events.append(
                {"incubator": "North", "at": start - timedelta(days=gap(number)), "event": "cleaned"}
            )
        for at, pen in enumerate(("Rowan", "Alder", "Birch")):
            out = rotten(gap(number)) + (number + at) % 2
            trays.append({"batch": f"B{number:02}", "tray": pen, "pen": pen, "eggs_set": 20, "infertile": 1,
                          "early_dead": 1, "rotten": out, "hatched": 18 - out})  # fmt: skip
    return {
        "pens": [{"pen": pen, "species": "coturnix_quail"} for pen in ("Rowan", "Alder", "Birch")],
        "incubators": [{"incubator": "North"}],
        "batches": batches,
        "trays": trays,
        "incubator_events": events,
    }


def ask(store: Path) -> HygieneAnswer:
    found = hygiene(store, Selection())
    json.dumps(plain({"cleaning": hygiene_values(found)}), allow_nan=False)
    said = " ".join("\n".join(hygiene_lines(found)).split())
    for text in ("can burst", "Salmonella", "no recipe", "call a veterinarian", "rules of your"):
        assert text in said
    for word in ("formalin", "formaldehyde", "permanganate"):
        assert word not in said.lower()
    return found[0]


def test_eggs_that_rot_the_longer_the_cleaning_is_past_are_said_to(store_of: Make) -> None:
    found = ask(store_of(**farm(lambda days: days // 10)))
    assert found.batches == (18, 18)
    rotten = next(row for row in found.rows if row.sign == "rotten")
    # one egg of 20 more in ten days, by construction; the steps of `days // 10` add a little
    assert rotten.slope.estimate == pytest.approx(0.005, abs=0.0003)
    assert rotten.sentence.startswith("More eggs are rotten the longer the last cleaning is past")
    assert "A link is no proof" in rotten.sentence
    assert [(band.first, band.last) for band in rotten.bands] == [(2, 10), (20, 30), (40, 50)]
    # (0 + 1) / 2 and the half egg of every second tray, of 20
    assert rotten.bands[0].share.rate == pytest.approx(1.0 / 20)


def test_no_link_is_said_to_be_none_sure(store_of: Make) -> None:
    found = ask(store_of(**farm(lambda _: 1)))
    rotten = next(row for row in found.rows if row.sign == "rotten")
    assert rotten.sentence.startswith("No sure link of eggs rotten")


def test_no_cleaning_written_down_tells_nothing(store_of: Make) -> None:
    never = ask(store_of(**farm(lambda _: 1, cleaned=lambda _: False)))
    assert never.rows == ()
    assert "no cleaning is written down" in never.sentence
    assert "incubator_events" in never.sentence


def test_always_the_same_days_tell_nothing(store_of: Make) -> None:
    found = ask(store_of(**farm(lambda _: 1, gap=lambda _: 3)))
    assert found.rows == ()
    assert "every batch was set 3 days after one" in found.sentence


def test_batches_before_the_first_cleaning_are_counted_as_left_out(store_of: Make) -> None:
    found = ask(store_of(**farm(lambda _: 1, cleaned=lambda number: number > 3)))
    assert found.batches == (18, 14)
    assert any("Of 4 batches of 18 no cleaning before setting" in text for text in found.not_known)


def test_few_batches_with_a_cleaning_tell_nothing(store_of: Make) -> None:
    found = ask(store_of(**farm(lambda _: 1, cleaned=lambda number: number > 13)))
    assert found.rows == ()
    assert "known of 4 batches only" in found.sentence
