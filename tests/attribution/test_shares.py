"""The share-out of a step's losses: by hand, by brute-force integration, and what must not change it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.special import expit
from scipy.stats import norm

from analytics.attribution.draws import Draws
from analytics.attribution.ledger import CAUSES, GROUPS, account
from analytics.attribution.shares import losses, parts_of, rate
from analytics.attribution.terms import Covariate, Grouping, Terms, Trays, factor_of, terms_of

NONE = np.full(1, 0.0)


def known(b: list[float], effects: Mapping[str, list[float]], noise: float = 0.0) -> Draws:
    """A single draw of given effects."""
    sds = np.array([[*np.ones(len(effects)), noise]])
    rows = tuple(np.array([row], dtype=float) for row in effects.values())
    return Draws(tuple(effects), np.array([b], dtype=float), rows, sds, 1.0, 1)


def grouping(group: str, name: str, labels: str) -> Grouping:
    return Grouping(group, factor_of(name, np.array(list(labels))))


def trays_of(pens: str, machines: str, batches: str, **other: object) -> Trays:
    """One tray of 100 eggs a letter; two steps, which 80 and 60 eggs pass."""
    count = len(pens)
    plain: dict[str, object] = {
        "steps": ("fertile", "late"),
        "eggs": np.full(count, 100.0),
        "passed": np.tile([80.0, 60.0], (count, 1)),
        "pen": np.array(list(pens)),
        "setter": np.array(list(machines)),
        "hatcher": np.array(list(machines)),
        "batch": np.array(list(batches)),
        "month": np.full(count, "2026-01"),
        "storage_days": np.full(count, 3.0),
        "hen_weeks": np.full(count, 30.0),
        "diets": {},
        "parents": {},
    }
    return Trays(**{**plain, **other})  # type: ignore[arg-type]


def lost(terms: Terms, drawn: Draws, eggs: np.ndarray, worth: float = 1.0) -> dict[str, np.ndarray]:
    typical, parts = parts_of(terms, drawn, eggs > 0)
    found = losses(typical, parts, eggs, np.full(len(drawn.b), worth))
    return {part.name: loss[0] for part, loss in zip(parts, found, strict=True)}


def test_one_factor_by_hand() -> None:
    # typical pen B: rate 1/2; A: 1 / (1 + e) = 0.26894, so of 100 eggs 23.106 more are lost; C wins as many
    terms = Terms((grouping("flock", "pen", "ABC"),), (), (), {})
    found = lost(terms, known([0.0], {"pen": [-1.0, 0.0, 1.0]}), np.full(3, 100.0))
    assert_allclose(found["pen"], [23.1059, 0.0, -23.1059], atol=1e-4)


def test_two_factors_share_in_proportion_by_hand() -> None:
    # pens -1, 0, 0 and machines -0.5, 0, 0: the first tray has logit -1.5, rate 0.182426, loss 31.7574,
    # of which the pen has 1 / 1.5 and the machine 0.5 / 1.5; an egg past this step is worth 0.8 chicks
    terms = Terms((grouping("incubator", "incubator", "123"), grouping("flock", "pen", "ABC")), (), (), {})
    drawn = known([0.0], {"incubator": [-0.5, 0.0, 0.0], "pen": [-1.0, 0.0, 0.0]})
    found = lost(terms, drawn, np.full(3, 100.0), worth=0.8)
    assert_allclose(found["pen"], [0.8 * 21.1716, 0, 0], atol=1e-4)
    assert_allclose(found["incubator"], [0.8 * 10.5858, 0, 0], atol=1e-4)


def test_typical_is_the_median_of_levels_with_eggs() -> None:
    terms = Terms((grouping("flock", "pen", "ABCD"),), (), (), {})
    drawn = known([0.3], {"pen": [-3.0, 0.1, 0.5, 9.0]})
    typical, parts = parts_of(terms, drawn, np.array([True, True, True, False]))
    assert_allclose(typical.eta, 0.4)
    assert_allclose(parts[0].values, [[-3.1, 0.0, 0.4, 8.9]])


def test_a_tray_of_no_level_is_the_typical_one_and_its_other_parts() -> None:
    # sires 1 and 1.5 above what a tray without one is taken for: by the median the last logit, 0.3 + 0.2,
    # would be 1.25 too high, and the difference would pass for chance
    sire = Grouping("flock", factor_of("sire", np.array(["S", "T", ""])))
    terms = Terms((grouping("flock", "pen", "ABC"), sire), (), (), {})
    drawn = known([0.3], {"pen": [0.0, 0.0, 0.2], "sire": [1.0, 1.5]})
    typical, parts = parts_of(terms, drawn, np.ones(3, dtype=bool))
    logit = typical.eta + np.sum([part.table @ part.values[0] for part in parts], axis=0)
    assert_allclose(logit, [1.3, 1.8, 0.5])


@pytest.mark.parametrize("noise", [0.0, 0.4, 1.0])
def test_the_mean_rate_is_the_integral_over_the_noise(noise: float) -> None:
    for eta in (-2.0, 0.5, 3.0):
        whole = quad(lambda z, eta=eta: norm.pdf(z) * expit(eta + noise * z), -9, 9)[0]
        assert_allclose(rate(np.array(eta), np.array(noise)), whole, atol=2e-5)


def slope_along(path: np.ndarray, noise: float) -> np.ndarray:
    """Slope of the mean rate at each logit of a path, by a fine sum over the noise."""
    z = np.linspace(-8, 8, 801)
    own = expit(path[:, None] + noise * z)
    return np.trapezoid(norm.pdf(z) * own * (1 - own), z, axis=1)


@given(
    st.lists(st.floats(-2, 2), min_size=2, max_size=4),
    st.floats(-1, 3),
    st.floats(0, 0.8),
)
@settings(max_examples=25, deadline=None)
def test_each_part_is_its_integral_along_the_path(parts: list[float], eta: float, noise: float) -> None:
    # one tray with covariates only: its summands are `parts`, its typical logit eta
    covariates = tuple(Covariate("flock", f"x{at}", np.ones(1)) for at in range(len(parts)))
    found = lost(Terms((), covariates, (), {}), known([eta, *parts], {}, noise), np.full(1, 50.0))
    way = sum(parts)
    steps = np.linspace(0, 1, 801)
    mean_slope = np.trapezoid(slope_along(eta + steps * way, noise), steps)
    for at, part in enumerate(parts):
        twin = -50 * part * mean_slope
        assert_allclose(found[f"x{at}"][0], twin, atol=3e-3)


FARM = {"pens": "AABBCCAABBCC", "machines": "121212121212", "batches": "xyxyxyuvuvuv"}
LABELLED = st.lists(st.floats(-4, 4), min_size=12, max_size=12)


@given(LABELLED, LABELLED, st.floats(0, 1), st.floats(0, 1), st.integers(0, 2**31))
@settings(max_examples=40, deadline=None)
def test_the_parts_add_up_in_every_draw(
    storage: list[float], effects: list[float], target: float, noise: float, seed: int
) -> None:
    rng = np.random.default_rng(seed)
    trays = trays_of(**FARM, storage_days=np.array(storage))
    first = rng.integers(0, 101, 12)
    passed = np.column_stack((first, rng.binomial(first, 0.7))).astype(float)
    trays = replace(trays, passed=passed)
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn = []
    for term in terms:
        levels = {g.factor.name: effects[: len(g.factor.levels)] for g in term.groupings}
        drawn.append(known([1.0, *effects[: len(term.covariates)]], levels, noise))
    groups = account(trays, target, terms, drawn).groups
    total = sum(groups[group][0] for group in GROUPS)
    assert_allclose(total, target * 1200 - passed[:, -1].sum(), atol=1e-8)
    # and chance is what the trays' own rates leave, counted the long way round
    assert_allclose(groups["chance"][0], _chance(trays, terms, drawn), atol=1e-6)


def _chance(trays: Trays, terms: list[Terms], drawn: list[Draws]) -> float:
    """Sum over steps of worth x (eggs expected to pass at the tray's own rate - eggs that passed)."""
    total, worth = 0.0, 1.0
    for at in reversed(range(len(terms))):
        typical, _ = parts_of(terms[at], drawn[at], trays.entering(at) > 0)
        eta = np.full(len(trays.eggs), drawn[at].b[0, 0])
        for each, slope in zip(terms[at].covariates, drawn[at].b[0, 1:], strict=True):
            eta = eta + slope * each.dose
        for each in terms[at].groupings:
            eta = eta + drawn[at].of(each.factor.name)[0][each.factor.codes]
        own = rate(eta, typical.noise)
        total += worth * float((trays.entering(at) * own - trays.passed[:, at]).sum())
        worth *= float(rate(typical.eta, typical.noise)[0])
    return total


def test_without_effects_only_baseline_and_chance_are_left() -> None:
    trays = trays_of(**FARM, storage_days=np.arange(12.0))
    terms = [terms_of(trays, step) for step in trays.steps]
    drawn = [
        known([1.5, *np.zeros(len(term.covariates))],
              {g.factor.name: [0.0] * len(g.factor.levels) for g in term.groupings})
        for term in terms
    ]  # fmt: skip
    groups = account(trays, 0.9, terms, drawn).groups
    assert all(groups[group][0] == 0 for group in CAUSES)
    # 1 / (1 + exp(-1.5)) = .817574, twice
    assert_allclose(groups["baseline"][0], 1200 * (0.9 - 0.817574**2), atol=1e-2)
    assert_allclose(groups["baseline"][0] + groups["chance"][0], 1200 * 0.9 - 720)


def test_the_order_of_factors_and_covariates_does_not_matter() -> None:
    trays = trays_of(**FARM, storage_days=np.arange(12.0), hen_weeks=np.arange(12.0)[::-1] ** 2)
    term = terms_of(trays, "fertile")
    effects = {g.factor.name: np.sin(np.arange(len(g.factor.levels)) + 1).tolist() for g in term.groupings}
    slopes = [0.1 * (at + 1) for at in range(len(term.covariates))]
    other = replace(term, groupings=term.groupings[::-1], covariates=term.covariates[::-1])
    turned = known([1.0, *slopes[::-1]], dict(reversed(effects.items())), 0.3)
    one = lost(term, known([1.0, *slopes], effects, 0.3), trays.eggs)
    two = lost(other, turned, trays.eggs)
    assert set(one) == set(two)
    for name, loss in one.items():
        assert_allclose(loss, two[name], atol=1e-9)


HOMES = {"pens": "AABBCCDD", "machines": "11112222", "batches": "xyxyuvuv"}


def _home_losses(pens: list[float], machines: list[float]) -> dict[str, np.ndarray]:
    term = terms_of(trays_of(**HOMES), "fertile")
    drawn = known([1.0], {"batch": [0.1, -0.2, 0.3, 0.0], "incubator": machines, "pen": pens}, 0.2)
    return lost(replace(term, groupings=tuple(sorted(term.groupings, key=lambda g: g.factor.name))), drawn,
                np.full(8, 100.0))  # fmt: skip


def test_what_is_aliased_is_never_shared_out_between_flock_and_incubator() -> None:
    one = _home_losses([0.5, -0.5, 0.2, 0.1], [0.0, 0.0])
    # the same rates, told as better pens in a worse machine: nothing may change
    two = _home_losses([0.5, -0.5, 1.2, 1.1], [0.0, -1.0])
    assert set(one) == {"batch", "incubator", "pen", "pen and incubator"}
    for name, loss in one.items():
        assert_allclose(loss, two[name], atol=1e-9)
    assert_allclose(one["incubator"], 0)


def test_a_worse_island_is_shared_and_its_pens_stay_apart() -> None:
    worse = _home_losses([0.5, -0.5, -1.9, -2.1], [0.0, 0.0])
    # two pens in each: the typical island is between them
    assert worse["pen and incubator"][1] > 50 > 0 > worse["pen and incubator"][0]
    assert worse["pen"][3] > 0 > worse["pen"][2]


def test_a_covariate_that_only_differs_between_pens_is_shared_with_them() -> None:
    storage = np.array([1.0, 1, 4, 4, 5, 5, 8, 8])
    trays = trays_of("AABBCCDD", "12121212", "xyxyxyxy", storage_days=storage)
    term = terms_of(trays, "fertile")
    assert term.covariates[0].group == "shared"
    assert term.covariates[0].beside == ("pen",)
    names = [g.factor.name for g in term.groupings]
    rest = {name: [0.1, -0.1] for name in names if name != "pen"}

    def split(slope: float, pens: np.ndarray) -> dict[str, float]:
        effects = {name: rest.get(name, pens.tolist()) for name in names}
        groups: dict[str, float] = {}
        typical, parts = parts_of(term, known([1.0, slope], effects), trays.eggs > 0)
        for part, loss in zip(parts, losses(typical, parts, trays.eggs, np.ones(1)), strict=True):
            groups[part.name] = groups.get(part.name, 0.0) + float(loss.sum())
        return groups

    pens, means = np.array([0.3, -0.4, 0.2, 0.0]), np.array([1.0, 4, 5, 8])
    one, two = split(-0.2, pens), split(0.1, pens - 0.3 * (means - 1))  # 1 day is typical
    for name, loss in one.items():
        assert_allclose(loss, two[name], atol=1e-9)
