"""Sizes needed and smallest differences: each undoes the other, and textbook eggs stand beside."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.errors import WrongUsage
from analytics.measures.counts import Clustering
from analytics.planning.sample_size import Layout, size_needed, smallest_seen
from analytics.planning.two_pens import TwoPens, power

ALIKE = Clustering(0.06, 0.03, 0.02, 0.01, False)


@pytest.mark.parametrize("layout", [Layout(24), Layout(12, 2), Layout(30, shared=False)])
def test_the_fewest_batches(layout: Layout) -> None:
    found = size_needed(0.8, 0.65, layout, ALIKE, 0.9)
    assert found.batches
    assert found.power
    assert power(layout.laid_out(found.batches - 1), (0.8, 0.65), ALIKE) < 0.9 <= found.power
    assert found.trays == found.batches * layout.trays
    assert found.eggs == found.trays * layout.tray_eggs
    assert found.batches_if_alike
    assert found.batches_if_alike > found.batches


def test_textbook_eggs_stand_beside() -> None:
    """.50 v .75, power .90: 76.7 a group (R help of power.prop.test, SEEN); independent eggs need as many."""
    found = size_needed(0.5, 0.75, Layout(8, shared=False), Clustering(0, 0, 0, 0, False), 0.9)
    assert found.independent_eggs == pytest.approx(76.7, abs=0.05)
    assert found.eggs
    assert 72 <= found.eggs <= 88
    assert found.design_effect == pytest.approx(1)


def test_more_than_the_design_effect_times_fleiss_is_not_far_off() -> None:
    """Many batches apart: eggs = Fleiss' eggs times 1 + (n - 1) icc (Donner and Klar 2000, from MEMORY)."""
    found = size_needed(0.80, 0.76, Layout(24, shared=False), Clustering(0.06, 0.06, 0, 0, False))
    assert found.eggs
    assert found.independent_eggs
    assert found.eggs == pytest.approx(found.independent_eggs * (1 + 23 * 0.06), rel=0.02)


def test_the_smallest_difference_has_the_wanted_power() -> None:
    random = np.random.default_rng(4)
    trays = TwoPens.of(random.integers(8, 40, 40), random.permutation([0, 1] * 20), np.arange(40) // 4)
    found = smallest_seen(trays, 0.8, ALIKE)
    assert found.below
    assert found.above
    for other in (0.8 - found.below, 0.8 + found.above):
        assert power(trays, (0.8, other), ALIKE) == pytest.approx(0.8, abs=1e-3)


def test_what_cannot_be_seen_is_none() -> None:
    few = Layout(6).laid_out(2)
    assert smallest_seen(few, 0.3, ALIKE).below is None
    one = smallest_seen(Layout(24).laid_out(1), 0.8, ALIKE)
    assert (one.below, one.above) == (None, None)
    assert one.why.startswith("So few trays cannot tell chance")
    equal = size_needed(0.8, 0.8, Layout(24), ALIKE)
    assert equal.why == "The two rates are equal, so no number of eggs tells them apart."
    never = size_needed(0.8, 0.799, Layout(24), ALIKE)
    assert (never.batches, never.why) == (None, "Even 2,000 batches would not show it.")


def test_nonsense_is_refused() -> None:
    for rate, other, wanted, words in (
        (1.2, 0.5, 0.8, "A rate of 1.2"), (0.8, 0.0, 0.8, "A rate of 0"), (0.8, 0.7, 1.0, "A power of 1"),
    ):  # fmt: skip
        with pytest.raises(WrongUsage, match=words):
            size_needed(rate, other, Layout(24), ALIKE, wanted)
    with pytest.raises(WrongUsage, match="0 trays of 24 eggs"):
        Layout(24, 0)
