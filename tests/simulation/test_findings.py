"""Few farms of the findings simulation, its figures and their limits; quick draws change nothing."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from findings import FIGURES, PLANS, looks, rows_of, said
from findings_farms import make_trays

pytestmark = pytest.mark.slow


@pytest.mark.parametrize(
    "name", ["tiny, no cause", "small, one pen 10 points", "small, one machine 10 points"]
)
def test_a_few_farms_keep_the_limits(name: str) -> None:
    for row in rows_of(name, PLANS[name], 25):
        # the error of a share near 0 or 1 is that of the limit it is held to
        share = float(row["highest"] or row["lowest"] or 0.5)
        row["error"] = str(max(float(row["error"]), (share * (1 - share) / int(row["runs"])) ** 0.5))
        assert not FIGURES.misses(row), row


def test_committed_figures_keep_their_limits() -> None:
    rows = FIGURES.read().values()
    assert {row["farms"] for row in rows} == set(PLANS)
    assert not [row for row in rows if FIGURES.misses(row)]


@pytest.mark.parametrize("name", ["small, one pen 10 points", "small, one machine 10 points"])
def test_draws_that_are_moved_say_the_same(name: str) -> None:
    rng = np.random.default_rng(11)
    for farm in range(6):
        trays = make_trays(PLANS[name], rng)
        slow, quick = (said(trays, farm + 1, quick=how) for how in (False, True))
        assert looks(PLANS[name], trays, *slow) == looks(PLANS[name], trays, *quick)
        first, second = (
            (one[0].item.factor, one[0].item.level, one[0].item.step) for _, one in (slow, quick)
        )
        assert first == second
