"""What typical trays would have passed: by quadrature, and its spread by dealing trays out."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad

from analytics.attribution.draws import Draws
from analytics.attribution.expected import Expected, expected
from analytics.attribution.terms import Terms, Trays, terms_of

EGGS = np.array([10.0, 24.0, 24.0, 30.0, 12.0, 20.0, 24.0, 18.0])
PEN = np.array(["Ash", "Elm"] * 4)
STORED = np.array([1.0, 7, 3, 2, 9, 4, 1, 6])


def farm(storage: np.ndarray = STORED) -> Trays:
    batch = np.repeat(["B1", "B2", "B3", "B4"], 2)
    machine = np.where(batch < "B3", "North", "South")
    return Trays(
        steps=("fertile", "early"),
        eggs=EGGS,
        passed=np.column_stack((EGGS - 2, EGGS - 4)),
        pen=PEN,
        setter=machine,
        hatcher=machine,
        batch=batch,
        month=np.full(8, "2026-01"),
        storage_days=storage,
        hen_weeks=np.full(8, np.nan),
        diets={},
        parents={},
    )


def known(term: Terms, intercept: float, slope: float, pens: tuple[float, ...], noise: float) -> Draws:
    """One draw: machines and batches all alike, pens as given."""
    names = tuple(each.factor.name for each in term.groupings)
    effects = tuple(
        np.array([pens]) if name == "pen" else np.zeros((1, len(each.factor.levels)))
        for name, each in zip(names, term.groupings, strict=True)
    )
    b = np.array([[intercept, *[slope] * len(term.covariates)]])
    return Draws(names, b, effects, np.array([[0.0] * len(names) + [noise]]), 1.0, 1)


def _moment(eta: float, noise: float, power: int) -> float:
    """Mean of a power of the rate over normal noise, by adaptive quadrature."""

    def at(z: float) -> float:
        density = math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
        return float(density / (1 + math.exp(-(eta + noise * z))) ** power)

    return float(quad(at, -9, 9)[0])


def test_pens_stay_out_and_storage_stays_in() -> None:
    trays = farm()
    terms = [terms_of(trays, step) for step in trays.steps]
    assert [each.name for each in terms[0].covariates] == ["storage"]
    drawn = [known(terms[0], 2.0, -0.2, (0.5, -0.5), 0.6), known(terms[1], 2.5, 0.1, (1.0, -1.0), 0.3)]
    whole, first, second = expected(trays, terms, drawn)
    dose = terms[0].covariates[0].dose
    # the middle of two pens at +x and -x is 0: the typical tray stands at the intercept
    for found, eta, noise in ((first, 2.0 - 0.2 * dose, 0.6), (second, 2.5 + 0.1 * dose, 0.3)):
        assert_allclose(found.mean, [_moment(one, noise, 1) for one in eta], atol=1e-6)
        assert_allclose(found.square, [_moment(one, noise, 2) for one in eta], atol=1e-6)
    assert_allclose(whole.mean, first.mean * second.mean)
    assert_allclose(whole.square, first.square * second.square)


def test_storage_that_goes_with_the_pen_is_not_expected() -> None:
    """Long storage of one pen's eggs only may be the pen's: it stays visible along the pen."""
    trays = farm(np.where(PEN == "Ash", 2.0, 7.0) + np.arange(8) * 1e-3)
    terms = [terms_of(trays, step) for step in trays.steps]
    assert [each.group for each in terms[0].covariates] == ["shared"]
    drawn = [known(term, 2.0, -0.3, (0.0, 0.0), 0.0) for term in terms]
    rates = expected(trays, terms, drawn)[1].mean
    assert_allclose(rates, 1 / (1 + math.exp(-2.0)))


def test_draws_are_averaged_and_every_step_has_its_own() -> None:
    trays = farm()
    terms = [terms_of(trays, step) for step in trays.steps]
    steep, flat, middle = (known(terms[0], 2.0, slope, (0.5, -0.5), 0.4) for slope in (-0.3, -0.1, -0.2))
    both = replace(
        steep,
        b=np.vstack((steep.b, flat.b)),
        effects=tuple(np.vstack(pair) for pair in zip(steep.effects, flat.effects, strict=True)),
        sds=np.vstack((steep.sds, flat.sds)),
    )
    assert_allclose(expected(trays, terms, [both] * 2)[1].mean, expected(trays, terms, [middle] * 2)[1].mean)
    with pytest.raises(ValueError, match="shorter"):
        expected(trays, terms, [both])


def test_a_pen_without_an_egg_in_a_step_is_not_typical_of_it() -> None:
    """Of Oak no egg, of Yew one enters the second step: the middle of 1, -1, 3 is 1; with 9 it were 2."""
    entered = np.array([8.0, 20, 0, 1, 10, 18, 0, 0])
    trays = replace(
        farm(np.full(8, 3.0)),
        pen=np.array(["Ash", "Elm", "Oak", "Yew"] * 2),
        passed=np.column_stack((entered, entered / 2 // 1)),
    )
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn = [known(term, 0.5, 0.0, (1.0, -1.0, 9.0, 3.0), 0.0) for term in terms]
    _, first, second = expected(trays, terms, drawn)
    assert_allclose(first.mean, 1 / (1 + math.exp(-2.5)))
    assert_allclose(second.mean, 1 / (1 + math.exp(-1.5)))


def test_spread_is_that_of_trays_dealt_out() -> None:
    rng = np.random.default_rng(20261125)
    noise, size = 0.7, 400_000
    rate = 1 / (1 + np.exp(-(1.0 + noise * rng.standard_normal(size))))
    made = Expected(np.array([_moment(1.0, noise, 1)]), np.array([_moment(1.0, noise, 2)]))
    for eggs in (1, 12, 60):
        passed = rng.binomial(eggs, rate)
        # relative error of a variance from n draws is about sqrt(2 / n) = .0022; five of these
        assert made.variance(np.array([float(eggs)]))[0] == pytest.approx(passed.var(), rel=0.012)


def test_without_noise_it_is_binomial() -> None:
    trays = farm()
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn = [known(term, 1.5, 0.0, (0.3, -0.3), 0.0) for term in terms]
    first = expected(trays, terms, drawn)[1]
    rate = 1 / (1 + math.exp(-1.5))
    assert_allclose(first.variance(EGGS), EGGS * rate * (1 - rate))
    none = replace(first, mean=np.zeros(8), square=np.zeros(8))
    assert_allclose(none.variance(EGGS), 0)
