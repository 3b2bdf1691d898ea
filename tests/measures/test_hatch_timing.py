"""Hours of a hatch: closed forms, published tables, the definition put back in, and a slow twin."""

from __future__ import annotations

from dataclasses import replace
from statistics import NormalDist

import numpy as np
import pytest

from analytics.errors import DataTooThin
from analytics.measures.hatch_timing import (
    BATCH_SPREAD,
    SPREADS,
    HatchCounts,
    hatch_window,
    machine_hours,
    offset_from_others,
    offset_from_published,
)
from analytics.reference.hatch_shifts import published_hours

ROUND_THE_CLOCK = tuple(np.arange(380.0, 446.0, 3.0).tolist())


def _expected_counts(
    middle: float, spread: float, chicks: int, hours: tuple[float, ...], storage_days: float = 0.0
) -> HatchCounts:
    """Counts as the normal distribution gives them, rounded: no chance in it."""
    normal = NormalDist(middle, spread)
    return HatchCounts(hours, tuple(round(chicks * normal.cdf(hour)) for hour in hours), chicks, storage_days)


def test_two_counts_have_a_closed_form() -> None:
    # with two counts there are as many figures as unknowns: Phi((h - middle) / spread) = share out, twice
    counts = HatchCounts((400.0, 412.0), (10, 36), 40, 0.0)
    z_low, z_high = NormalDist().inv_cdf(10 / 40), NormalDist().inv_cdf(36 / 40)
    spread = (412 - 400) / (z_high - z_low)
    window = hatch_window(counts)
    assert window.spread == pytest.approx(spread, rel=1e-4)
    assert window.median == pytest.approx(400 - z_low * spread, abs=1e-3)


def test_many_counts_agree_with_sheppard() -> None:
    # Sheppard 1898 (from memory): the variance of values grouped to a width w is too large by w^2 / 12
    counts = _expected_counts(411.3, 7.0, 2000, ROUND_THE_CLOCK)
    eggs = np.diff([0, *counts.out, counts.chicks])
    centres = np.array([*ROUND_THE_CLOCK, ROUND_THE_CLOCK[-1] + 3]) - 1.5
    mean = eggs @ centres / eggs.sum()
    spread = np.sqrt(eggs @ (centres - mean) ** 2 / eggs.sum() - 3.0**2 / 12)
    window = hatch_window(counts)
    assert window.median == pytest.approx(mean, abs=0.03)
    assert window.spread == pytest.approx(spread, abs=0.05)


def test_first_and_last_chick_lie_where_they_were_counted() -> None:
    counts = HatchCounts((390.0, 396.0, 402.0, 408.0, 414.0), (0, 1, 12, 28, 30), 30, 0.0)
    window = hatch_window(counts)
    assert window.first_between == (390.0, 396.0)
    assert 390 <= window.first <= 396
    assert window.last_between == (408.0, 414.0)
    assert 408 <= window.last <= 414
    assert window.first < window.median < window.last
    later = hatch_window(replace(counts, chicks=31))
    assert later.last_between == (414.0, None)
    assert later.last >= 414


def test_first_of_ten_is_where_tables_of_order_statistics_have_it() -> None:
    # expected largest of 10 standard normals 1.5388 (Teichroew 1956, Ann. Math. Stat. 27, from memory)
    counts = _expected_counts(410.0, 8.0, 10, tuple(np.arange(370.0, 450.0, 0.5).tolist()))
    free = replace(counts, hours=(400.0, 420.0), out=(1, 9))
    window = hatch_window(free)
    assert window.spread is not None
    assert window.median - window.first == pytest.approx(1.5388 * window.spread, abs=0.02 * window.spread)
    assert window.last - window.median == pytest.approx(1.5388 * window.spread, abs=0.02 * window.spread)


def test_all_between_two_counts_leaves_the_spread_open() -> None:
    window = hatch_window(HatchCounts((400.0, 412.0), (0, 25), 25, 0.0))
    assert window.spread is None
    assert window.median == pytest.approx(406)
    assert window.first_between == window.last_between == (400.0, 412.0)
    assert window.median_interval.low <= 401
    assert window.median_interval.high >= 411


@pytest.mark.parametrize(
    ("hours", "out", "chicks"),
    [
        ((), (), 5),
        ((400.0,), (0,), 0),
        ((400.0, 390.0), (1, 2), 5),
        ((390.0, 400.0), (3, 2), 5),
        ((390.0, 400.0), (3, 6), 5),
        ((0.0, 400.0), (0, 5), 5),
    ],
)
def test_counts_that_cannot_be_are_refused(
    hours: tuple[float, ...], out: tuple[int, ...], chicks: int
) -> None:
    with pytest.raises(DataTooThin):
        hatch_window(HatchCounts(hours, out, chicks, 0.0))
    with pytest.raises(DataTooThin):
        machine_hours([HatchCounts(hours, out, chicks, 0.0)])


def test_no_batch_is_refused() -> None:
    with pytest.raises(DataTooThin):
        machine_hours([])


def test_the_definition_put_back_in() -> None:
    """Batches around 412 h, without chance: the machine's middle is theirs, storage taken off."""
    days = (0.0, 2.0, 4.0, 6.0)
    batches = [
        _expected_counts(412.0 + step + 1.5 * stored, 7.0, 400, ROUND_THE_CLOCK, stored)
        for step, stored in zip((-3.0, -1.0, 1.0, 3.0), days, strict=True)
    ]
    assert machine_hours(batches, 1.5).quantile(0.5) == pytest.approx(412.0, abs=0.1)
    assert machine_hours(batches).quantile(0.5) == pytest.approx(412.0 + 1.5 * 3, abs=0.1)


def test_the_interval_is_that_of_a_mean_of_batches() -> None:
    # Many chicks: Student's interval of the mean of 12 batch middles, where the prior says little
    steps = np.array([-6, -5, -4, -3, -2, -1, 1, 2, 3, 4, 5, 6], float)
    batches = [_expected_counts(410.0 + step, 7.0, 3000, ROUND_THE_CLOCK) for step in steps]
    belief = machine_hours(batches)
    half = 2.201 * steps.std(ddof=1) / np.sqrt(12)  # t of 11 degrees, any table
    assert (belief.quantile(0.975) - belief.quantile(0.025)) / 2 == pytest.approx(half, rel=0.06)


def test_a_slow_twin_by_chance_agrees() -> None:
    """The same belief by drawing everything from its prior and weighing by the chance of the counts."""
    batches = [
        HatchCounts((396.0, 408.0, 420.0), (2, 9, 14), 14, 0.0),
        HatchCounts((402.0, 414.0), (1, 12), 16, 0.0),
        HatchCounts((408.0,), (6,), 12, 0.0),
    ]
    rng = np.random.default_rng(7)
    draws = 400_000
    middle = rng.uniform(370, 450, draws)
    between = np.abs(rng.normal(0, BATCH_SPREAD, draws))
    spread = np.exp(rng.uniform(*np.log([SPREADS[0], SPREADS[-1]]), draws))
    log = np.zeros(draws)
    for counts in batches:
        own = middle + between * rng.normal(size=draws)
        log += _log_chance(counts, own, spread)
    weights = np.exp(log - log.max())
    order = np.argsort(middle)
    below = np.cumsum(weights[order]) / weights.sum()
    belief = machine_hours(batches)
    for share, near in ((0.025, 1.2), (0.25, 0.5), (0.5, 0.4), (0.75, 0.5), (0.975, 1.2)):
        twin = middle[order][np.searchsorted(below, share)]
        assert belief.quantile(share) == pytest.approx(twin, abs=near), share


def _log_chance(counts: HatchCounts, middle: np.ndarray, spread: np.ndarray) -> np.ndarray:
    from scipy.stats import norm

    edges = [-np.inf, *counts.hours, np.inf]
    chicks = np.diff([0, *counts.out, counts.chicks])
    log = np.zeros(len(middle))
    for low, high, number in zip(edges, edges[1:], chicks, strict=False):
        if number:
            chance = norm.cdf((high - middle) / spread) - norm.cdf((low - middle) / spread)
            log += number * np.log(np.maximum(chance, 1e-300))
    return log


def test_a_machine_ten_hours_early_is_warm() -> None:
    early = [_expected_counts(400.0 + step, 7.0, 200, ROUND_THE_CLOCK, 3.0) for step in (-2.0, 0.0, 2.0)]
    others = [_expected_counts(410.0 + step, 7.0, 200, ROUND_THE_CLOCK, 3.0) for step in (-2.0, 0.0, 2.0)]
    offset = offset_from_others(early, others, "coturnix_quail")
    assert offset.hours == pytest.approx(-10, abs=0.1)
    # Poult. Sci. 2020;99:3897-3907 Table 1 (SEEN): 5 h and 8 h for 1.1 °C in a week; three weeks; 17 d of 21
    least, most = 3 * 5 / 1.1 * 17 / 21, 3 * 8 / 1.1 * 17 / 21
    assert offset.hours_a_degree == pytest.approx((least, most), rel=0.005)
    assert offset.warmth_c == pytest.approx(10 * (1 / least + 1 / most) / 2, rel=0.02)
    assert offset.warmth_interval.low == pytest.approx(-offset.interval.high / most, rel=0.005)
    assert offset.warmth_interval.high == pytest.approx(-offset.interval.low / least, rel=0.005)
    assert offset.is_borrowed
    assert (offset.against, offset.batches, offset.other_batches) == ("own", 3, 3)
    swapped = offset_from_others(others, early, "coturnix_quail")
    assert swapped.hours == pytest.approx(-offset.hours, abs=0.1)
    assert not offset_from_others(early, others, "chicken").is_borrowed


def test_hours_and_warmth_leave_out_nought_together() -> None:
    for later in (0.0, 3.0, 25.0):
        machine = [
            _expected_counts(408.0 + later + step, 7.0, 60, ROUND_THE_CLOCK) for step in (-4.0, 0.0, 4.0)
        ]
        others = [_expected_counts(408.0 + step, 7.0, 60, ROUND_THE_CLOCK) for step in (-4.0, 0.0, 4.0)]
        offset = offset_from_others(machine, others, "coturnix_quail")
        hours, warmth = offset.interval, offset.warmth_interval
        assert (hours.low <= 0 <= hours.high) == (warmth.low <= 0 <= warmth.high)


def test_published_hours_leave_more_open_than_own_machines() -> None:
    batches = [_expected_counts(412.0 + step, 7.0, 200, ROUND_THE_CLOCK) for step in (-2.0, 0.0, 2.0)]
    printed = offset_from_published(batches, "coturnix_quail")
    low, high = published_hours("coturnix_quail")
    assert printed.hours == pytest.approx(412 - (low + high) / 2, abs=0.6)
    assert printed.interval.high - printed.interval.low >= 0.95 * (high - low)
    assert (printed.against, printed.other_batches) == ("published", 0)


def test_storage_unlike_widens_the_interval() -> None:
    machine = [_expected_counts(410.0 + step, 7.0, 200, ROUND_THE_CLOCK, 10.0) for step in (-2.0, 0.0, 2.0)]
    others = [_expected_counts(410.0 + step, 7.0, 200, ROUND_THE_CLOCK, 10.0) for step in (-2.0, 0.0, 2.0)]
    alike = offset_from_others(machine, others, "coturnix_quail").interval
    fresh = [replace(counts, storage_days=0.0) for counts in others]
    unlike = offset_from_others(machine, fresh, "coturnix_quail")
    # 0 to 12/7 h a day (see tests/reference_tables/test_hatch_shifts.py): ten days leave 0 to 17 h
    assert unlike.interval.high - unlike.interval.low > alike.high - alike.low + 6
    assert unlike.hours == pytest.approx(-10 * 12 / 7 / 2, abs=0.3)


def test_one_batch_of_one_count_still_says_something() -> None:
    belief = machine_hours([HatchCounts((420.0,), (20,), 20, 0.0)])
    assert belief.quantile(0.5) < 420
    assert belief.quantile(0.975) - belief.quantile(0.025) > 30
