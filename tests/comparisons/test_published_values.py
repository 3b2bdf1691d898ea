"""Every published number of tests/reference/comparison_values.csv, one test a row.

MATCH: the printed value, to the tolerance of its digits. MISMATCH: the value other engines agree on, with the
reason in the row's note. RECOMPUTED: nothing in print, a second engine's number.
"""

from __future__ import annotations

import csv
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from analytics.comparisons.beta_binomial import beta_binomial
from analytics.comparisons.chi_square import chi_square
from analytics.comparisons.differences import adjusted, newcombe
from analytics.comparisons.exact import fisher, fisher_2x2
from analytics.comparisons.overdispersion import clustering, donner, rao_scott
from analytics.comparisons.power import (
    eggs_for_chi_square,
    eggs_for_two_rates,
    power_of_chi_square,
    power_of_two_rates,
    power_of_two_rates_h,
)
from analytics.comparisons.quasi_binomial import quasi_binomial, williams
from analytics.comparisons.shrinkage import james_stein, posterior_of, shrunk_rates
from analytics.comparisons.stratified import common_odds
from analytics.comparisons.trend import midranks, trend

FOLDER = Path(__file__).parents[1] / "reference"


def _read(name: str) -> list[dict[str, str]]:
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def _counts(name: str, *keys: str) -> list[np.ndarray]:
    rows = _read(name)
    return [np.array([float(row[key]) for row in rows]) for key in keys]


def _labels(name: str, key: str) -> list[str]:
    return [row[key] for row in _read(name)]


# R datasets HairEyeColor summed over Sex: rows black, brown, red, blond; columns brown, blue, hazel, green
HAIR = [[68, 20, 15, 5], [119, 84, 54, 29], [26, 17, 14, 14], [7, 94, 10, 16]]
PARTY = [[762, 327, 468], [484, 239, 477]]
TEA = [[3, 1], [1, 3]]
JOB = [[1, 2, 1, 0], [3, 3, 6, 1], [10, 10, 14, 9], [6, 7, 12, 11]]
SMOKERS, PATIENTS = [83, 90, 129, 70], [86, 93, 136, 82]
MALFORMED, ABSENT = [48, 38, 5, 1, 1], [17066, 14464, 788, 126, 37]
DRINKERS = [a + b for a, b in zip(MALFORMED, ABSENT, strict=True)]
DRINKS = [0, 0.5, 1.5, 4, 7]
SHOES, BIRTHS = [5, 7, 6, 7, 8, 10], [22, 35, 42, 48, 54, 150]
CASES, WOMEN = [320, 1206, 1011, 463, 220], [1742, 5638, 3904, 1555, 626]


def _table(passed: list[int], eggs: list[int]) -> list[list[int]]:
    return [passed, [n - y for y, n in zip(passed, eggs, strict=True)]]


@cache
def _drinking():
    return trend(MALFORMED, DRINKERS, DRINKS)


@cache
def _odds(name: str, yes: str, no: str):
    return common_odds(np.column_stack(_counts(name, yes, no)).reshape(-1, 2, 2))


def _ucb():
    return _odds("ucb_admissions", "admitted", "rejected")


def _clinics():
    return _odds("agresti_clinics", "success", "failure")


def _two_factors(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    return np.column_stack((np.ones(len(first)), first, second, first * second))


@cache
def _orob2(fit: str):
    passed, eggs = _counts("orob2", "y", "n")
    seed = np.array(_labels("orob2", "seed")) == "O75"
    root = np.array(_labels("orob2", "root")) == "CUCUMBER"
    design = _two_factors(seed.astype(float), root.astype(float))
    return {"beta": beta_binomial, "quasi": quasi_binomial, "williams": williams}[fit](passed, eggs, design)


@cache
def _seeds(fit: str, columns: int = 4):
    passed, eggs, cult, soil = _counts("sas_seeds", "r", "n", "cult", "soil")
    design = _two_factors(cult, soil)[:, :columns]
    return {"quasi": quasi_binomial, "williams": williams}[fit](passed, eggs, design)


@cache
def _trays(name: str, group: str, test: str):
    passed, eggs = _counts(name, "y", "n")
    labels = _labels(name, group)
    made = {
        "rao-scott": lambda: rao_scott(passed, eggs, labels),
        "pooled": lambda: rao_scott(passed, eggs, labels, pooled=True),
        "donner": lambda: donner(passed, eggs, labels),
        "icc": lambda: clustering(passed, eggs, labels),
        "naive": lambda: chi_square(_pooled(passed, eggs, labels)),
        "beta": lambda: beta_binomial(passed, eggs, _treated(labels), labels),
    }
    return made[test]()


def _pooled(passed: np.ndarray, eggs: np.ndarray, labels: list[str]) -> list[list[float]]:
    here = [np.array(labels) == label for label in sorted(set(labels))]
    return [[passed[of].sum(), (eggs - passed)[of].sum()] for of in here]


def _treated(labels: list[str]) -> np.ndarray:
    return np.column_stack((np.ones(len(labels)), np.array(labels) == "TREAT"))


@cache
def _tumours(method: str):
    passed, eggs = _counts("bda_rat_tumor", "y", "n")
    return shrunk_rates(passed[:70], eggs[:70], method)


def _tumour_rates() -> np.ndarray:
    passed, eggs = _counts("bda_rat_tumor", "y", "n")
    return passed[:70] / eggs[:70]


def _current(alpha: float, beta: float):
    return posterior_of([4], [14], alpha, beta)


def _exact_current():
    prior = _tumours("moments")
    return _current(prior.alpha, prior.beta)


@cache
def _baseball():
    hits, at_bats = _counts("efron_morris", "hits45", "ab")
    mean = (hits / at_bats).mean()
    return james_stein(hits / at_bats, mean * (1 - mean) / 45)


def _errors_of(estimates: object) -> float:
    (rest,) = _counts("efron_morris", "rest")
    return float(((np.asarray(estimates) - rest) ** 2).sum())


def _raw() -> np.ndarray:
    hits, at_bats = _counts("efron_morris", "hits45", "ab")
    return hits / at_bats


@cache
def _fifteen(adjustment: str) -> tuple[float, ...]:
    return adjusted(_counts("bh1995", "p")[0].tolist(), adjustment)


def _rejected(adjustment: str) -> int:
    return sum(p <= 0.05 for p in _fifteen(adjustment))


def _low(*counts: int) -> Callable[[], float]:
    return lambda: newcombe(*counts).interval.low


def _high(*counts: int) -> Callable[[], float]:
    return lambda: newcombe(*counts).interval.high


def _eggs(w: float, dof: int) -> Callable[[], float]:
    return lambda: eggs_for_chi_square(w, dof).eggs


def _pull(passed: list[int], eggs: list[int]) -> float:
    """Rosner's A: the slope times the scores' weighted squares."""
    n, s = np.array(eggs), np.arange(1, len(eggs) + 1)
    return trend(passed, eggs, s).slope * float(n @ (s - n @ s / n.sum()) ** 2)


PAIRS = [
    (56, 70, 48, 80),
    (9, 10, 3, 10),
    (6, 7, 2, 7),
    (5, 56, 0, 29),
    (0, 10, 0, 20),
    (0, 10, 0, 10),
    (10, 10, 0, 20),
    (10, 10, 0, 10),
]
SIZES = [(w, dof) for dof in (1, 2, 3, 4) for w in (0.1, 0.3, 0.5)]

VALUES: dict[str, Callable[[], float]] = {
    "V067": lambda: chi_square(HAIR).statistic,
    "V068": lambda: chi_square(HAIR).likelihood_ratio,
    "V069": lambda: chi_square(HAIR).cramers_v,
    "V070": lambda: chi_square(PARTY).statistic,
    "V071": lambda: fisher_2x2(TEA, "greater").p_value,
    "V072": lambda: fisher_2x2(TEA).p_value,
    "V073": lambda: fisher(JOB).p_value,
    "V074": lambda: power_of_chi_square(0.289, 100, 3),
    "V075": lambda: power_of_chi_square(0.346, 140, 2, 0.01),
    "V076": lambda: eggs_for_chi_square(0.1, 20).eggs,
    "V089": lambda: power_of_two_rates_h(0.3, 80, 80, 0.05, 1),
    "V090": lambda: power_of_two_rates_h(0.3, 80, 245, 0.05, 1),
    "V091": lambda: power_of_two_rates(0.5, 0.75, 50),
    "V092": lambda: eggs_for_two_rates(0.5, 0.75, 0.9).eggs,
    "V093": lambda: eggs_for_two_rates(0.6, 0.7, 0.95, 0.01, continuity=True).eggs,
    "V094": lambda: eggs_for_two_rates(0.4, 0.25).eggs,
    "V095": lambda: trend(SMOKERS, PATIENTS, [1, 2, 3, 4]).test.statistic,
    "V096": lambda: trend(SMOKERS, PATIENTS, [1, 2, 3, 4]).test.p_value,
    "V097": lambda: trend(SMOKERS, PATIENTS, [0, 0, 0, 1]).test.statistic,
    "V098": lambda: chi_square(_table(SMOKERS, PATIENTS)).statistic,
    "V099": lambda: trend([3, 3, 7, 12], PATIENTS, [1, 2, 3, 4]).exact.p_value,
    "V100": lambda: _drinking().mantel.statistic,
    "V101": lambda: _drinking().exact.p_value,
    "V102": lambda: chi_square([MALFORMED, ABSENT]).statistic,
    "V103": lambda: chi_square([MALFORMED, ABSENT]).likelihood_ratio,
    "V104": lambda: trend(MALFORMED, DRINKERS, midranks(DRINKERS)).mantel.statistic,
    "V105": lambda: trend(SHOES, BIRTHS, range(1, 7)).test.statistic,
    "V106": lambda: _pull(CASES, WOMEN),
    "V107": lambda: _ucb().test_corrected.statistic,
    "V108": lambda: _ucb().test_corrected.p_value,
    "V109": lambda: _ucb().test.statistic,
    "V110": lambda: _ucb().odds_ratio,
    "V111": lambda: _ucb().interval.low,
    "V112": lambda: _ucb().interval.high,
    "V113": lambda: _ucb().breslow_day.statistic,
    "V114": lambda: _ucb().tarone.statistic,
    "V115": lambda: _clinics().test.statistic,
    "V116": lambda: _clinics().odds_ratio,
    "V117": lambda: _clinics().interval.low,
    "V118": lambda: _clinics().interval.high,
    "V119": lambda: _clinics().breslow_day.statistic,
    "V120": lambda: _rejected("benjamini-hochberg"),
    "V121": lambda: _rejected("bonferroni"),
    "V122": lambda: _rejected("holm"),
    "V123": lambda: _rejected("hochberg"),
    "V143": lambda: _orob2("beta").rho[0],
    "V144": lambda: _orob2("beta").log_likelihood,
    "V149": lambda: _orob2("quasi").dispersion,
    "V150": lambda: _orob2("quasi").errors[0],
    "V151": lambda: _orob2("quasi").deviance,
    "V152": lambda: _orob2("quasi").pearson,
    "V153": lambda: _orob2("williams").dispersion,
    "V158": lambda: _seeds("quasi").deviance,
    "V159": lambda: _seeds("quasi").pearson,
    "V160": lambda: _seeds("quasi").dispersion,
    "V161": lambda: _seeds("quasi", 1).deviance - _seeds("quasi").deviance,
    "V162": lambda: _seeds("williams").dispersion,
    "V163": lambda: _trays("rats", "group", "rao-scott").test.statistic,
    "V164": lambda: _trays("rats", "group", "rao-scott").test.p_value,
    "V165": lambda: _trays("rats", "group", "rao-scott").design_effects[0],
    "V166": lambda: _trays("rats", "group", "rao-scott").design_effects[1],
    "V167": lambda: _trays("rats", "group", "pooled").test.statistic,
    "V168": lambda: _trays("rats", "group", "pooled").test.p_value,
    "V169": lambda: _trays("rats", "group", "pooled").design_effects[0],
    "V170": lambda: _trays("rats", "group", "naive").statistic,
    "V171": lambda: _trays("rats", "group", "naive").p_value,
    "V172": lambda: _trays("rats", "group", "icc").icc,
    "V173": lambda: _trays("rats", "group", "donner").design_effects[0],
    "V174": lambda: _trays("rats", "group", "donner").design_effects[1],
    "V175": lambda: _trays("rats", "group", "donner").test.statistic,
    "V176": lambda: _trays("rats", "group", "donner").test.p_value,
    "V177": lambda: _trays("antibio", "treatment", "rao-scott").test.statistic,
    "V178": lambda: _trays("antibio", "treatment", "rao-scott").test.p_value,
    "V179": lambda: _trays("antibio", "treatment", "donner").icc,
    "V180": lambda: _trays("antibio", "treatment", "donner").test.p_value,
    "V181": lambda: _trays("rats", "group", "beta").rho[0],
    "V182": lambda: _trays("rats", "group", "beta").rho[1],
    "V183": lambda: _trays("rats", "group", "beta").log_likelihood,
    "V184": lambda: _trays("rats", "group", "beta").coefficients[0],
    "V185": lambda: _trays("rats", "group", "beta").coefficients[1],
    "V248": lambda: _baseball().centre,
    "V249": lambda: _baseball().factors[0],
    "V250": lambda: _baseball().values[0],
    "V251": lambda: _baseball().values[17],
    "V252": lambda: _errors_of(_raw()),
    "V253": lambda: _errors_of(_baseball().values),
    "V254": lambda: _tumour_rates().mean(),
    "V255": lambda: _tumour_rates().std(ddof=1),
    "V256": lambda: _tumours("moments").alpha,
    "V257": lambda: _tumours("moments").beta,
    "V258": lambda: _current(1.4, 8.6).rates[0],
    "V259": lambda: _exact_current().rates[0],
    "V260": lambda: _exact_current().deviations[0],
    "V261": lambda: _current(1.4, 8.6).deviations[0],
    "V262": lambda: _tumours("likelihood").alpha,
    "V263": lambda: _tumours("likelihood").beta,
}
VALUES |= {f"V{51 + 2 * i:03d}": _low(*pair) for i, pair in enumerate(PAIRS)}
VALUES |= {f"V{52 + 2 * i:03d}": _high(*pair) for i, pair in enumerate(PAIRS)}
VALUES |= {f"V{77 + i:03d}": _eggs(*size) for i, size in enumerate(SIZES)}
VALUES |= {f"V{124 + i}": (lambda i=i: _fifteen("benjamini-hochberg")[i]) for i in range(15)}
for _first, _fit in (("V139", "beta"), ("V145", "quasi"), ("V154", "williams")):
    VALUES |= {
        f"V{int(_first[1:]) + i}": (lambda i=i, fit=_fit: _orob2(fit).coefficients[i]) for i in range(4)
    }

ROWS = _read("comparison_values")


@pytest.mark.parametrize("row", ROWS, ids=[f"{row['id']}-{row['status']}" for row in ROWS])
def test_published_value(row: dict[str, str]) -> None:
    found = VALUES[row["id"]]()
    told = f"{row['id']} {row['case']}, {row['quantity']}: {row['source']} [{row['seen']}] {row['note']}"
    if row["status"] == "MATCH":
        assert found == pytest.approx(float(row["published"]), rel=0, abs=float(row["tolerance"])), told
        assert found == pytest.approx(float(row["recomputed"]), rel=2e-5), told
    else:
        assert row["note"] or row["status"] == "RECOMPUTED", "a mismatch gives its reason"
        assert found == pytest.approx(float(row["recomputed"]), rel=1e-6), told


def test_every_row_has_a_value_and_every_value_a_row() -> None:
    assert {row["id"] for row in ROWS} == set(VALUES)
    assert {row["status"] for row in ROWS} == {"MATCH", "MISMATCH", "RECOMPUTED"}
