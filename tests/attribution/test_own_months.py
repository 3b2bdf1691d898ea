"""Months that stand out as terms of their own: given back to their months, and allowed for being chosen."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.special import ndtri
from scipy.stats import norm

from analytics.attribution.draws import Draws
from analytics.attribution.evidence import Evidence, Months
from analytics.attribution.own_months import as_chosen, columns_of, given_back, judged_again, standing_out
from analytics.attribution.terms import Grouping, Terms, factor_of

CELLS = np.array(["A / 1", "A / 2", "B / 1", "B / 2", "B / 2", "A / 2"])
TERMS = Terms(
    (
        Grouping("flock", factor_of("pen", np.array([cell[0] for cell in CELLS]))),
        Grouping("flock", factor_of("pen:month", CELLS)),
    ),
    (),
    (),
    {},
)
KEY = ("pen:month", "A")
EVEN = ndtri((np.arange(4000) + 0.5) / 4000)


def run(p_value: float, least: float) -> Months:
    return Months("A / 2", "A / 2", p_value, ("A / 2",), least)


@pytest.mark.parametrize("found", [3.9, 4.5, 5.5])
def test_a_chosen_size_follows_the_likelihood_given_that_it_was_seen(found: float) -> None:
    seen, size = 3.76, 0.2

    def height(x: float) -> float:
        return float(norm.pdf(found - x) / norm.cdf(x - seen))

    whole = quad(height, -2, 15)[0]
    mean = quad(lambda x: x * height(x), -2, 15)[0] / whole
    drawn = as_chosen(-size * (found + EVEN), seen / found)
    assert_allclose(drawn.mean(), -size * mean, rtol=0.02)
    low = float(np.quantile(drawn, 0.975)) / -size
    assert_allclose(quad(height, -2, low)[0] / whole, 0.025, atol=0.005)


def test_a_size_far_beyond_what_stands_out_stays() -> None:
    drawn = -0.2 * (12 + EVEN)
    assert_allclose(as_chosen(drawn, 3.76 / 12), drawn, atol=1e-3)
    assert_allclose(as_chosen(-drawn, 0.5), -drawn)  # a gain is no loss to be allowed for


@pytest.mark.parametrize("true", [0.0, 0.5, 1.0, 2.0, 4.0, 6.0])
def test_of_chosen_runs_few_lie_outside_also_where_nothing_was_lost(true: float) -> None:
    rng = np.random.default_rng(4)
    # what stands out of a true size: a normal one above 3.76
    found = true + norm.isf(rng.random(300) * norm.sf(3.76 - true))
    held = 0
    for one in found:
        low, high = np.quantile(as_chosen(-(one + EVEN[::10]), 3.76 / one), [0.025, 0.975])
        held += low <= -true <= high
    assert held / len(found) > 0.90


def test_slopes_go_to_the_months_of_the_run_and_nowhere_else() -> None:
    rng = np.random.default_rng(2)
    pens, months = rng.normal(size=(500, 2)), rng.normal(size=(500, 4))
    b = np.column_stack((np.full(500, 2.0), -9 + rng.normal(size=500)))
    drawn = Draws(("pen", "pen:month"), b, (pens, months), np.ones((500, 3)), 1.0, 1)
    runs = {KEY: run(1e-9, 0.0)}
    assert_allclose(columns_of(TERMS, runs), [[0, 1, 0, 0, 0, 1]])
    back = given_back(drawn, TERMS, runs)
    assert back.b.shape == (500, 1)
    assert_allclose(back.of("pen:month"), months + np.outer(b[:, 1], [0, 1, 0, 0]), atol=1e-4)
    assert_allclose(back.of("pen"), pens, atol=1e-4)
    assert_allclose(drawn.of("pen:month"), months)


def test_what_hangs_on_the_months_gives_way_with_them() -> None:
    rng = np.random.default_rng(3)
    size = -0.8 + 0.2 * EVEN[rng.permutation(4000)]
    pen = 0.5 * size + 0.1 * rng.normal(size=4000)
    b = np.column_stack((np.zeros(4000), size))
    drawn = Draws(("pen", "pen:month"), b, (pen[:, None], np.zeros((4000, 4))), np.ones((4000, 3)), 1.0, 1)
    back = given_back(drawn, TERMS, {KEY: run(0.04, 0.97)})
    less = back.of("pen:month")[:, 1].mean() - size.mean()
    assert less > 0.3
    assert_allclose(back.of("pen")[:, 0].mean() - pen.mean(), 0.5 * less, rtol=0.05)


def test_only_what_stands_out_is_a_term_and_its_pen_keeps_its_first_test() -> None:
    weak = Months("B / 2", "B / 2", 0.06, ("B / 2",), 1.02)
    first = Evidence(
        {("pen", "A"): 0.001, ("pen", "B"): 0.5}, {KEY: run(0.05, 1.0), ("pen:month", "B"): weak}
    )
    runs = standing_out(first)
    assert list(runs) == [KEY]
    again = judged_again(first, Evidence({("pen", "A"): 0.7, ("pen", "B"): 0.2}, {}), runs)
    assert again.p_values == {("pen", "A"): 0.001, ("pen", "B"): 0.2}
    assert again.runs == first.runs
