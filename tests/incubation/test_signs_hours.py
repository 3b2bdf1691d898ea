"""Early, late and uneven hatches as signs: whose batches, by how much, and which chicks."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analytics.incubation.signs import candidates
from analytics.incubation.signs_farm import Farm
from analytics.incubation.signs_hours import batch_hours, hour_facts
from analytics.incubation.signs_records import Facts, Placed
from analytics.measures.hatch_timing import HatchCounts

MIDDLES = (400.0, 401.0, 399.0, 400.5, 399.5, 400.0)


def counts(middle: float, storage_days: float = 0.0) -> HatchCounts:
    """20 chicks, four between each two counts of 4 hours around a middle."""
    hours = tuple(middle + 4.0 * step for step in (-2, -1, 0, 1, 2))
    return HatchCounts(hours, (2, 6, 10, 14, 18), 20, storage_days)


def farm(own: tuple[float, ...], storage_days: float = 0.0) -> tuple[Farm, dict[str, HatchCounts]]:
    """North's batches with these middle hours, and six of South's around 400 h."""
    hatches = {f"N{at}": counts(hour, storage_days) for at, hour in enumerate(own)}
    hatches |= {f"S{at}": counts(hour) for at, hour in enumerate(MIDDLES)}
    names = np.array(list(hatches))
    machine = np.where(np.char.startswith(names, "N"), "North", "South")
    found = Farm(
        pen=np.full(len(names), "Rowan"),
        batch=names,
        setter=machine,
        hatcher=machine,
        set_day=np.arange(len(names)) * 7.0,
        numbers={word: np.full(len(names), np.nan)
                 for word in ("storage_days", "storage_c", "hen_weeks", "egg_g", "water_loss")},
        signs={}, feeds={}, notes=batch_hours(hatches), shells={}, ranges={}, alike={},
    )  # fmt: skip
    return found, hatches


def asked(sign: str, own: tuple[float, ...], storage_days: float = 0.0) -> Facts | None:
    found, hatches = farm(own, storage_days)
    return hour_facts(found, sign, Placed.INCUBATOR, "North", 6, hatches)


def test_a_machine_that_hatches_early_shows_it_and_no_other() -> None:
    own = (390.0, 391.0, 389.0, 390.0)
    found = asked("early_hatch", own)
    assert found is not None
    hours = found.conditions["own_hours"]
    assert (hours.own, hours.others) == (pytest.approx(390.0, abs=0.1), pytest.approx(400.0, abs=0.1))
    assert (hours.batches, hours.other_batches) == (4, 6)
    # by hour 400 all but those after the last count, 10 h past the middle: 18 to 20 of 20
    assert 18 * 4 <= found.own.seen <= 20 * 4
    assert asked("late_hatch", own) is None
    assert asked("early_hatch", (400.0, 401.0, 399.5, 400.0)) is None


def test_one_batch_needs_to_lie_far_beyond_the_others() -> None:
    assert asked("late_hatch", (402.0,)) is None
    assert asked("late_hatch", (412.0,)) is not None


def test_what_storage_explains_is_taken_off() -> None:
    # ten days stored delay by 0 to 17 hours as published, 8.5 in the middle
    assert asked("late_hatch", (408.0, 409.0, 408.5, 408.0)) is not None
    assert asked("late_hatch", (408.0, 409.0, 408.5, 408.0), storage_days=10.0) is None


def test_the_hours_are_no_evidence_for_themselves_and_a_lone_machines_pen_is_not_told_from_it() -> None:
    found = asked("early_hatch", (390.0, 391.0, 389.0, 390.0))
    assert found is not None
    warm = next(one for one in candidates(found) if one.cause.cause == "too warm")
    assert (warm.for_, warm.against) == ((), ())
    assert "hours" not in warm.missing
    assert found.is_apart  # Rowan's eggs were in both machines
    alone, hatches = farm((390.0, 391.0, 389.0, 390.0))
    apart = replace(alone, pen=np.where(alone.setter == "North", "Maple", "Rowan"))
    told = hour_facts(apart, "early_hatch", Placed.INCUBATOR, "North", 6, hatches)
    assert told is not None
    assert not told.is_apart


def test_a_batch_that_drags_on_is_uneven() -> None:
    wide = HatchCounts(tuple(400 + 16.0 * step for step in (-2, -1, 0, 1, 2)), (2, 6, 10, 14, 18), 20, 0.0)
    found, hatches = farm(())
    hatches = {**hatches, "S0": wide}
    uneven = replace(found, notes=batch_hours(hatches))
    facts = hour_facts(uneven, "uneven_hatch", Placed.BATCH, "S0", 6, hatches)
    assert facts is not None
    assert facts.own.seen > 8  # of 20: those farther from the middle than the others' spread
    assert hour_facts(uneven, "uneven_hatch", Placed.BATCH, "S1", 6, hatches) is None
