"""The plan from a store: its own likeness, rate and tray; the pens at hand; and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from analytics.errors import DataTooThin, WrongUsage
from analytics.options import Selection
from analytics.studies.plan_records import SizeAsked
from analytics.studies.plan_size import plan_size

BATCHES, EGGS = 60, 20
TWO = Selection(pens=("Ash", "Elm"))


def _store(store_of: Callable[..., Path], noise: float, seed: int = 5) -> Path:
    """Two pens in 60 batches, trays of 20; each tray's rate is .75 and normal noise of its own."""
    random = np.random.default_rng(seed)
    days = [datetime.fromisoformat("2024-01-01") + timedelta(days=7 * at) for at in range(BATCHES)]
    trays = []
    for at in range(BATCHES):
        for pen in ("Ash", "Elm"):
            hatched = int(random.binomial(EGGS, np.clip(0.75 + noise * random.normal(), 0, 1)))
            early = int(random.binomial(EGGS - hatched, 0.5))
            trays.append({"batch": f"B{at}", "tray": pen, "pen": pen, "eggs_set": EGGS, "hatched": hatched,
                          "early_dead": early, "infertile": EGGS - hatched - early})  # fmt: skip
    return store_of(
        pens=[{"pen": pen, "species": "coturnix_quail"} for pen in ("Ash", "Elm")],
        batches=[
            {"batch": f"B{at}", "incubator": "North", "set_on": day, "pulled_on": day + timedelta(days=18)}
            for at, day in enumerate(days)
        ],
        trays=trays,
    )


def test_eggs_that_fail_together_need_more(store_of: Callable[..., Path]) -> None:
    """Noise of sd .15 is a likeness of .0225 / (.75 * .25) = .12 by hand; the plan must see it."""
    answer = plan_size(_store(store_of, 0.15), SizeAsked(), Selection())
    ground, needed = answer.ground, answer.needed.needed
    assert ground.clustering.rho_tray == pytest.approx(0.12, abs=0.04)
    assert (ground.species, ground.tray_eggs, ground.entering) == ("coturnix_quail", EGGS, 1.0)
    assert ground.rate == pytest.approx(0.75, abs=0.03)
    assert ground.other == pytest.approx(ground.rate - 0.1)
    assert needed.eggs == answer.needed.eggs_set
    assert needed.eggs
    assert answer.needed.independent_set
    # by hand, many batches: deff = 1 + 19 * rho_tray - 20 * rho_batch
    effect = 1 + 19 * ground.clustering.rho_tray - 20 * ground.clustering.rho_batch
    assert needed.eggs / answer.needed.independent_set == pytest.approx(effect, rel=0.08)
    assert answer.words.sentence.startswith("To see hatch of set at 6")
    assert f"set {needed.eggs:,} eggs of each pen" in answer.words.sentence
    sizes = [row.eggs_set or 0 for row in answer.rows]
    assert sizes == sorted(sizes, reverse=True)


def test_losses_of_fertile_eggs_are_told_in_eggs_to_set(store_of: Callable[..., Path]) -> None:
    answer = plan_size(_store(store_of, 0.1), SizeAsked("early_loss"), Selection())
    needed = answer.needed
    assert 0.8 < answer.ground.entering < 0.95  # an eighth of the eggs is infertile
    assert answer.ground.other > answer.ground.rate
    assert needed.needed.trays
    assert needed.eggs_set == needed.needed.trays * EGGS
    assert "early loss (of fertile) at" in answer.words.sentence


def test_what_two_pens_could_have_shown(store_of: Callable[..., Path]) -> None:
    store = _store(store_of, 0.1)
    found = plan_size(store, SizeAsked(batches=BATCHES), TWO)
    assert found.at_hand
    assert (found.at_hand.pens, found.at_hand.shared_batches) == (("Ash", "Elm"), BATCHES)
    assert found.at_hand.eggs == (BATCHES * EGGS, BATCHES * EGGS)
    assert found.smallest  # 60 batches planned as they were: the same difference
    assert found.at_hand.seen.below == pytest.approx(found.smallest.below, rel=1e-6)
    assert "with 60 batches in common, would show a rate" in found.at_hand.sentence


def test_without_records_a_rate_must_be_given(store_of: Callable[..., Path]) -> None:
    empty = store_of()
    with pytest.raises(DataTooThin, match="as in --rate"):
        plan_size(empty, SizeAsked(), Selection())
    answer = plan_size(empty, SizeAsked(rate=0.75), Selection())
    assert answer.needed.eggs_set
    assert any("mostly assumed" in note for note in answer.words.notes)


def test_what_cannot_be_meant(store_of: Callable[..., Path]) -> None:
    store = _store(store_of, 0.1)
    for asked, selection, words in (
        (SizeAsked("charm"), Selection(), "The measure 'charm'"),
        (SizeAsked(difference=0.9), Selection(), "The other rate would not lie between"),
        (SizeAsked(difference=-0.1), Selection(), "A difference of -0.1"),
        (SizeAsked(), Selection(pens=("Ash",)), "1 pen"),
        (SizeAsked(rate=75.0), Selection(), "A rate of 75"),
    ):
        with pytest.raises(WrongUsage, match=words):
            plan_size(store, asked, selection)
