"""Thin and degenerate records: a sentence and None, never a NaN, a trace or a warning."""

from __future__ import annotations

import dataclasses
import math
import warnings
from collections.abc import Callable

import numpy as np
import pytest

from analytics.comparisons.beta_binomial import beta_binomial, beta_binomial_test
from analytics.comparisons.chi_square import chi_square
from analytics.comparisons.clustered import clustered_test
from analytics.comparisons.differences import newcombe
from analytics.comparisons.exact import fisher, fisher_2x2
from analytics.comparisons.overdispersion import clustering, donner, rao_scott
from analytics.comparisons.permutation import permute_within
from analytics.comparisons.quasi_binomial import quasi_binomial, quasi_binomial_test, williams
from analytics.comparisons.shrinkage import james_stein, normal_normal, shrunk_rates
from analytics.comparisons.stratified import common_odds, within_batches
from analytics.comparisons.trend import trend

# passed, eggs, pen, batch
RECORDS = {
    "empty": ([], [], [], []),
    "no eggs in any tray": ([0, 0, 0], [0, 0, 0], ["a", "b", "b"], [1, 1, 2]),
    "one pen": ([5, 7, 6], [9, 8, 9], ["a", "a", "a"], [1, 2, 3]),
    "one tray": ([5], [9], ["a"], [1]),
    "one egg": ([1], [1], ["a"], [1]),
    "nothing passed": ([0, 0, 0, 0], [9, 8, 9, 7], ["a", "a", "b", "b"], [1, 2, 1, 2]),
    "everything passed": ([9, 8, 9, 7], [9, 8, 9, 7], ["a", "a", "b", "b"], [1, 2, 1, 2]),
    "one pen all full": ([9, 8, 5, 3, 6, 2], [9, 8, 9, 7, 8, 8], list("aabbcc"), [1, 2, 1, 2, 1, 2]),
    "one pen all empty": ([0, 0, 5, 3, 6, 2], [9, 8, 9, 7, 8, 8], list("aabbcc"), [1, 2, 1, 2, 1, 2]),
    "pens all or nothing": ([9, 8, 0, 0], [9, 8, 9, 7], ["a", "a", "b", "b"], [1, 2, 1, 2]),
    "batches all or nothing": ([9, 0, 9, 0], [9, 8, 9, 7], ["a", "a", "b", "b"], [1, 2, 1, 2]),
    "one-egg trays": ([1, 0, 1, 1, 0, 1], [1] * 6, list("ababab"), [1, 1, 2, 2, 3, 3]),
    "a pen in one batch": ([5, 6, 7, 3, 4], [9, 8, 9, 7, 8], list("aabbc"), [1, 2, 1, 2, 1]),
    "a pen alone in its batch": ([5, 6, 7, 3, 4], [9, 8, 9, 7, 8], list("aabbc"), [1, 2, 1, 2, 3]),
    "every pen its own batch": ([5, 6, 7, 3], [9, 8, 9, 7], ["a", "a", "b", "b"], [1, 1, 2, 2]),
    "one tray a pen": ([5, 6, 7], [9, 8, 9], ["a", "b", "c"], [1, 1, 1]),
    "equal trays": ([5, 5, 5, 5], [10, 10, 10, 10], ["a", "a", "b", "b"], [1, 2, 1, 2]),
    "a million eggs": ([900_000, 899_000, 1, 3], [1_000_000, 1_000_000, 4, 4], list("abab"), [1, 1, 2, 2]),
}


def _pooled(passed, eggs, pen, batch) -> list[list[int]]:
    table = {p: [0, 0] for p in sorted(set(pen))}
    for y, n, p in zip(passed, eggs, pen, strict=True):
        table[p][0] += y
        table[p][1] += n - y
    return list(table.values()) or np.zeros((0, 2))


def _two(table) -> list[list[int]]:
    return [*table, [0, 0], [0, 0]][:2]


def _by_batch(passed, eggs, pen, batch) -> np.ndarray:
    pens = sorted(set(pen))[:2]
    tables = np.zeros((len(set(batch)), 2, 2))
    for y, n, p, b in zip(passed, eggs, pen, batch, strict=True):
        if p in pens:
            tables[sorted(set(batch)).index(b), pens.index(p)] += (y, n - y)
    return tables


def _with_eggs(passed, eggs) -> tuple[list[int], list[int], np.ndarray]:
    kept = [(y, n) for y, n in zip(passed, eggs, strict=True) if n]
    return [y for y, _ in kept], [n for _, n in kept], np.ones((len(kept), 1))


METHODS: dict[str, Callable] = {
    "chi_square": lambda *r: chi_square(_pooled(*r)),
    "fisher": lambda *r: fisher(_pooled(*r)),
    "fisher_2x2": lambda *r: fisher_2x2(_two(_pooled(*r))),
    "common_odds": lambda *r: common_odds(_by_batch(*r)),
    "within_batches": lambda *r: within_batches(*r),
    "trend": lambda y, n, p, b: trend(y, n, b),
    "clustering": lambda y, n, p, b: clustering(y, n, p),
    "clustering by moments": lambda y, n, p, b: clustering(y, n, p, "moments"),
    "rao_scott": lambda y, n, p, b: rao_scott(y, n, p),
    "rao_scott pooled": lambda y, n, p, b: rao_scott(y, n, p, pooled=True),
    "donner": lambda y, n, p, b: donner(y, n, p),
    "quasi_binomial": lambda y, n, p, b: quasi_binomial(*_with_eggs(y, n)),
    "williams": lambda y, n, p, b: williams(*_with_eggs(y, n)),
    "quasi_binomial_test": quasi_binomial_test,
    "beta_binomial": lambda y, n, p, b: beta_binomial(*_with_eggs(y, n)),
    "beta_binomial_test": lambda y, n, p, b: beta_binomial_test(y, n, p),
    "clustered_test": lambda *r: clustered_test(*r),
    "permute_within": lambda *r: permute_within(*r, np.random.default_rng(1), draws=99),
    "newcombe": lambda y, n, p, b: newcombe(sum(y[:1]), sum(n[:1]), sum(y[1:]), sum(n[1:])),
    "shrunk_rates": lambda y, n, p, b: shrunk_rates(y, n),
    "shrunk_rates by moments": lambda y, n, p, b: shrunk_rates(y, n, "moments"),
    "james_stein": lambda y, n, p, b: james_stein(y, 1.0),
    "normal_normal": lambda y, n, p, b: normal_normal(y, [v + 1 for v in n]),
}


def _numbers(value: object) -> list[float]:
    if dataclasses.is_dataclass(value):
        return [x for field in dataclasses.fields(value) for x in _numbers(getattr(value, field.name))]
    if isinstance(value, tuple):
        return [x for part in value for x in _numbers(part)]
    assert not isinstance(value, np.generic | np.ndarray), "numpy values do not leave a record"
    return [value] if isinstance(value, float) else []


def _unexplained(record: object) -> bool:
    """A record that has a main number missing and no sentence."""
    main = {"p_value", "statistic", "icc", "log_likelihood", "dispersion", "difference", "alpha", "centre"}
    fields = {field.name for field in dataclasses.fields(record)}
    missing = [name for name in main & fields if getattr(record, name) is None]
    return bool(missing) and not record.why and not (missing == ["statistic"] and record.p_value is not None)


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize("case", RECORDS)
def test_hard_case(case: str, method: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = METHODS[method](*RECORDS[case])
    assert all(math.isfinite(number) for number in _numbers(found))
    parts = [found, *(getattr(found, f.name) for f in dataclasses.fields(found))]
    records = [part for part in parts if dataclasses.is_dataclass(part) and hasattr(part, "why")]
    assert records or hasattr(found, "test")
    assert not any(_unexplained(record) for record in records)


@pytest.mark.parametrize("case", ["empty", "no eggs in any tray", "nothing passed", "everything passed"])
@pytest.mark.parametrize("method", ["chi_square", "fisher", "within_batches", "trend", "permute_within"])
def test_without_information_there_is_no_p_value(case: str, method: str) -> None:
    found = METHODS[method](*RECORDS[case])
    found = found.test if hasattr(found, "test") else found
    assert found.p_value is None
    assert found.why.endswith(".")


@pytest.mark.parametrize(
    ("passed", "eggs"), [([3], [2]), ([-1], [2]), ([1.5], [2]), ([float("nan")], [2]), ([1, 2], [2])]
)
def test_counts_that_cannot_be_are_refused(passed, eggs) -> None:
    with pytest.raises(ValueError, match=r"count|eggs"):
        trend(passed, eggs, [0] * len(eggs))


def test_records_are_frozen_slotted_and_small() -> None:
    for method in METHODS.values():
        found = method(*RECORDS["one pen all full"])
        assert len(dataclasses.fields(found)) <= 12
        assert not hasattr(found, "__dict__")
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(found, dataclasses.fields(found)[0].name, None)
