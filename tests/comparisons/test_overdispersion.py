"""Overdispersion: definitions put back in, slow twins, and the traps of the libraries."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import optimize, stats
from scipy.stats import binom

from analytics.comparisons.beta_binomial import beta_binomial, beta_binomial_test
from analytics.comparisons.chi_square import chi_square
from analytics.comparisons.overdispersion import clustering, donner, rao_scott
from analytics.comparisons.quasi_binomial import quasi_binomial, quasi_binomial_test, williams

ALIKE = {"rats": "group", "mice": "group", "rabbits": "group", "antibio": "treatment", "orob1": "dilution"}


def _orob2(columns):
    data = columns("orob2")
    seed, root = (data["seed"] == "O75").astype(float), (data["root"] == "CUCUMBER").astype(float)
    return data["y"], data["n"], np.column_stack((np.ones(21), seed, root, seed * root))


def test_dispersion_is_pearson_over_its_degrees_of_freedom(columns) -> None:
    """statsmodels' scale='X2' on two-column counts forgets the trial counts."""
    y, n, design = _orob2(columns)
    found = quasi_binomial(y, n, design)
    rate = 1 / (1 + np.exp(-design @ np.array(found.coefficients)))
    pearson = ((y - n * rate) ** 2 / (n * rate * (1 - rate))).sum()
    assert found.dispersion == pytest.approx(pearson / 17)
    assert found.dispersion == pytest.approx(1.86183206, abs=5.1e-9)  # R glm(quasibinomial), SEEN (R run)
    trap = sm.GLM(np.column_stack((y, n - y)), design, family=sm.families.Binomial()).fit(scale="X2")
    assert abs(trap.scale - 1.8618) > 1, (
        "statsmodels has mended its dispersion; the comment in our code is old"
    )


def test_a_second_model_does_not_take_over_the_first_ones_counts() -> None:
    """A statsmodels Binomial() object keeps the trial counts of its last fit."""
    design = np.column_stack((np.ones(4), [0, 0, 1, 1]))
    small = quasi_binomial([1, 2, 3, 4], [5, 5, 5, 5], design)
    quasi_binomial([10, 20, 30, 40], [50, 50, 50, 50], design)
    again = quasi_binomial([1, 2, 3, 4], [5, 5, 5, 5], design)
    assert small == again
    y, n = np.array([1, 2, 3, 4.0]), 5.0
    fitted = np.array([1.5, 1.5, 3.5, 3.5])
    deviance = 2 * (y * np.log(y / fitted) + (n - y) * np.log((n - y) / (n - fitted))).sum()
    assert small.deviance == pytest.approx(deviance)
    family = sm.families.Binomial()
    trap = sm.GLM(np.column_stack((y, n - y)), design, family=family).fit()
    sm.GLM(np.column_stack((10 * y, 50 - 10 * y)), design, family=family).fit()
    # statsmodels 0.15, SEEN (run): the first model's likelihood changes once the second is fitted
    assert abs(trap.llf - binom.logpmf(y, 5, fitted / n).sum()) > 1, "statsmodels has mended it"


def test_f_test_is_the_drop_in_deviance_over_the_dispersion(columns) -> None:
    data = columns("sas_seeds")
    found = quasi_binomial_test(data["r"], data["n"], data["cult"], data["soil"])
    design = np.column_stack((np.ones(20), data["soil"], data["cult"]))
    fits = [
        sm.GLM(data["r"] / data["n"], x, family=sm.families.Binomial(), var_weights=data["n"]).fit()
        for x in (design, design[:, :2])
    ]
    drop = fits[1].deviance - fits[0].deviance
    assert found.statistic == pytest.approx(drop / (fits[0].pearson_chi2 / 17))
    assert (found.dof, found.dof2) == (1, 17)
    assert found.p_value == pytest.approx(stats.f.sf(found.statistic, 1, 17))


def test_williams_makes_pearson_equal_its_degrees_of_freedom(columns) -> None:
    y, n, design = _orob2(columns)
    found = williams(y, n, design)
    rate = 1 / (1 + np.exp(-design @ np.array(found.coefficients)))
    variance = n * rate * (1 - rate) * (1 + found.dispersion * (n - 1))
    assert ((y - n * rate) ** 2 / variance).sum() == pytest.approx(17, abs=1e-6)
    score = design.T @ ((y - n * rate) / (1 + found.dispersion * (n - 1)))
    assert np.allclose(score, 0, atol=1e-6)


def test_williams_as_sas_prints_it(columns) -> None:
    # SAS/STAT User Guide, LOGISTIC, overdispersion: WEIGHT 1 / (1 + 0.075941 (N - 1)), MEMORY
    data = columns("sas_seeds")
    design = np.column_stack((np.ones(20), data["cult"], data["soil"], data["cult"] * data["soil"]))
    assert williams(data["r"], data["n"], design).dispersion == pytest.approx(0.075941, abs=2e-6)


def test_trays_more_even_than_chance_get_phi_zero() -> None:
    found = williams([5, 5, 5, 5], [10, 10, 10, 10], np.ones((4, 1)))
    assert found.dispersion == 0
    assert "no more than by chance" in found.why


@pytest.mark.parametrize("name", ALIKE)
def test_beta_binomial_agrees_with_scipys_distribution(columns, name: str) -> None:
    """The slow twin maximises scipy's own probabilities by simplex, group by group."""
    data, group = columns(name), ALIKE[name]
    labels = data[group]
    design = (labels[:, None] == np.unique(labels)[None, :]).astype(float)
    found = beta_binomial(data["y"], data["n"], design, labels)
    total = 0.0
    for here in (labels == label for label in np.unique(labels)):
        y, n = data["y"][here], data["n"][here]

        def minus(x, y=y, n=n) -> float:
            a, b = np.exp(np.clip(x, -20, 12))
            return -stats.betabinom.logpmf(y, n, a, b).sum()

        starts = [(0.5, 1.5), (2, 2), (6, 7)]
        total -= min(
            optimize.minimize(minus, start, method="Nelder-Mead", options={"maxiter": 4000}).fun
            for start in starts
        )
    assert found.log_likelihood == pytest.approx(total, abs=2e-3)
    assert found.log_likelihood >= total - 1e-6


def test_beta_binomial_is_at_the_top_of_its_likelihood(columns) -> None:
    y, n, design = _orob2(columns)
    found = beta_binomial(y, n, design)

    def likelihood(coefficients, rho) -> float:
        rate = 1 / (1 + np.exp(-design @ coefficients))
        total = (1 - rho) / rho
        return stats.betabinom.logpmf(y, n, rate * total, (1 - rate) * total).sum()

    best = np.array(found.coefficients)
    assert likelihood(best, found.rho[0]) == pytest.approx(found.log_likelihood)
    for move in (*np.eye(4), *-np.eye(4)):
        assert likelihood(best + 0.01 * move, found.rho[0]) < found.log_likelihood
    for rho in (found.rho[0] * 0.9, found.rho[0] * 1.1):
        assert likelihood(best, rho) < found.log_likelihood


def test_rho_is_one_over_one_plus_a_plus_b(columns) -> None:
    # aod prints rho 0.01236, glmmTMB a + b = 79.9003 for the same fit, SEEN (R run)
    rho = beta_binomial(*_orob2(columns)).rho[0]
    assert (1 - rho) / rho == pytest.approx(79.9003, abs=0.01)


def test_beta_binomial_errors_are_those_of_simulated_fits() -> None:
    random = np.random.default_rng(11)
    n = np.full(60, 20)
    design = np.column_stack((np.ones(60), np.arange(60) % 2))
    found = []
    for _ in range(60):
        rate = random.beta(*np.where(np.arange(60) % 2, [[7.0], [3.0]], [[8.0], [2.0]]))
        found.append(beta_binomial(random.binomial(n, rate), n, design))
    spread = np.std([fit.coefficients[1] for fit in found])
    assert np.mean([fit.errors[1] for fit in found]) == pytest.approx(spread, rel=0.25)


def test_beta_binomial_with_no_extra_noise_is_the_binomial_model() -> None:
    found = beta_binomial([5, 5, 5, 5], [10, 10, 10, 10], np.ones((4, 1)))
    assert found.rho == (0.0,)
    assert found.coefficients[0] == pytest.approx(0, abs=1e-6)
    assert found.log_likelihood == pytest.approx(4 * stats.binom.logpmf(5, 10, 0.5), abs=1e-4)
    assert "rho is estimated as 0" in found.why


def test_beta_binomial_test_is_twice_the_gain(columns) -> None:
    data = columns("rats")
    found = beta_binomial_test(data["y"], data["n"], data["group"])
    treated = (data["group"] == "TREAT").astype(float)
    fits = [
        beta_binomial(data["y"], data["n"], x)
        for x in (np.column_stack((np.ones(32), treated)), np.ones((32, 1)))
    ]
    assert found.statistic == pytest.approx(2 * (fits[0].log_likelihood - fits[1].log_likelihood))
    assert found.dof == 1


def test_four_answers_for_the_same_litters(columns) -> None:
    """Methods weigh trays differently; aod 1.3 prints p 0.0029, 0.0444, 0.0886, 0.0966, SEEN (R run)."""
    data = columns("rats")
    y, n, group = data["y"], data["n"], data["group"]
    control = group == "CTRL"
    table = [[y[of].sum(), (n - y)[of].sum()] for of in (control, ~control)]
    answers = [
        chi_square(table).p_value,
        rao_scott(y, n, group).test.p_value,
        rao_scott(y, n, group, pooled=True).test.p_value,
        donner(y, n, group).test.p_value,
    ]
    assert [round(p, 4) for p in answers] == [0.0029, 0.0444, 0.0886, 0.0966]


@pytest.mark.parametrize("name", ALIKE)
def test_anova_icc_is_that_of_the_eggs_one_by_one(columns, name: str) -> None:
    """The slow twin writes every egg as a 0 or 1 and takes sums of squares."""
    data, group = columns(name), ALIKE[name]
    eggs, tray, pen = [], [], []
    for index, (y, n, label) in enumerate(zip(data["y"], data["n"], data[group], strict=True)):
        eggs += [1.0] * int(y) + [0.0] * int(n - y)
        tray += [index] * int(n)
        pen += [label] * int(n)
    eggs, tray, pen = np.array(eggs), np.array(tray), np.array(pen)
    inside = sum(((eggs[tray == t] - eggs[tray == t].mean()) ** 2).sum() for t in np.unique(tray))
    whole = sum(((eggs[pen == p] - eggs[pen == p].mean()) ** 2).sum() for p in np.unique(pen))
    free = len(np.unique(tray)) - len(np.unique(pen))
    among, inside = (whole - inside) / free, inside / (len(eggs) - len(np.unique(tray)))
    n0 = sum(
        (pen == p).sum() - sum((tray == t).sum() ** 2 for t in np.unique(tray[pen == p])) / (pen == p).sum()
        for p in np.unique(pen)
    )
    expected = (among - inside) / (among + (n0 / free - 1) * inside)
    assert clustering(data["y"], data["n"], data[group]).icc == pytest.approx(expected)


@pytest.mark.parametrize("estimator", ["anova", "moments"])
def test_both_estimators_find_the_correlation_they_were_given(estimator) -> None:
    random = np.random.default_rng(4)
    pen = np.repeat(np.arange(4), 500)
    n = random.integers(5, 40, 2000)
    mean = np.array([0.6, 0.7, 0.8, 0.9])[pen]
    total = 1 / 0.08 - 1
    y = random.binomial(n, random.beta(mean * total, (1 - mean) * total))
    assert clustering(y, n, pen, estimator).icc == pytest.approx(0.08, abs=0.012)


def test_design_effect_is_how_much_the_variance_grows() -> None:
    random = np.random.default_rng(6)
    total = 1 / 0.1 - 1
    rates = []
    for _ in range(3000):
        y = random.binomial(15, random.beta(0.8 * total, 0.2 * total, 12))
        rates.append(y.sum() / 180)
    grown = np.var(rates) / (0.8 * 0.2 / 180)
    y = random.binomial(15, random.beta(0.8 * total, 0.2 * total, 4000))
    found = clustering(y, [15] * 4000, [0] * 4000)
    assert found.design_effect == pytest.approx(grown, rel=0.1)
    assert found.mean_tray == 15


def test_one_egg_a_tray_makes_every_design_effect_one() -> None:
    y = [1, 0, 1, 1, 0, 1, 1, 1]
    found = rao_scott(y, [1] * 8, [0, 0, 0, 0, 1, 1, 1, 1])
    assert np.allclose(found.design_effects, 4 / 3)  # the small-sample factor m / (m - 1) stays
    assert clustering(y, [1] * 8, [0] * 8).icc is None


def test_tests_do_not_change_with_the_order_of_trays(columns) -> None:
    data = columns("antibio")
    order = np.random.default_rng(1).permutation(len(data["y"]))
    for test in (rao_scott, donner):
        straight = test(data["y"], data["n"], data["treatment"]).test.statistic
        mixed = test(data["y"][order], data["n"][order], data["treatment"][order]).test.statistic
        assert straight == pytest.approx(mixed)


def test_designs_that_cannot_be_meant_are_refused() -> None:
    doubled = np.ones((3, 2))
    for fit, design in itertools.product(
        (quasi_binomial, williams, beta_binomial), (doubled, np.ones((2, 1)))
    ):
        with pytest.raises(ValueError, match="design"):
            fit([1, 2, 3], [5, 5, 5], design)


def test_four_ways_of_weighing_litters_give_four_answers(columns) -> None:
    """Weil's 32 rat litters (Weil 1970, Food and Cosmetics Toxicology 8:177-182): pooled pups 8.9, Rao and
    Scott 4.0, one design effect 2.9, Donner 2.8. aod of CRAN prints the last three, SEEN (R run)."""
    data = columns("rats")
    y, n, group = data["y"], data["n"], data["group"]
    pooled = [[y[group == g].sum(), (n - y)[group == g].sum()] for g in np.unique(group)]
    found = (
        chi_square(pooled).statistic,
        rao_scott(y, n, group).test.statistic,
        rao_scott(y, n, group, pooled=True).test.statistic,
        donner(y, n, group).test.statistic,
    )
    assert found == pytest.approx((8.9, 4.0, 2.9, 2.8), abs=0.051)
    below = [stats.chi2.sf(value, 1) < 0.05 for value in found]
    assert below == [True, True, False, False]
