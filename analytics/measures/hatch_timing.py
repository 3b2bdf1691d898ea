"""When a batch hatched, from counts made now and then; and how far a machine is from the hours expected.

A count tells only that a chick came out between two looks, so the hours of a batch are fitted as interval-
censored: normal around the batch's middle, by maximum likelihood. For a machine its batches are pooled, each
with its own middle around the machine's; what the spreads may be is integrated out, so that the interval is
honest for few batches. Hours run from setting; a batch whose hour of setting is not known cannot be used.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analytics.errors import DataTooThin
from analytics.measures.hour_beliefs import STEP, HourBelief, uniform
from analytics.reference.hatch_shifts import (
    LENDER,
    hours_earlier_a_degree,
    published_hours,
    storage_hours_a_day,
)
from analytics.values import Interval

Floats = NDArray[np.float64]

LEVEL = 0.95
SPREADS = np.geomspace(2.0, 16.0, 13)
"""Standard deviation of the hours of one batch's chicks, all as likely (assumed, no source). Published
windows from the first chick to the last, 30 h of chickens and 36 h of Coturnix, lie in the middle of them."""
BATCH_SPREAD = 8.0
"""Scale of the half-normal prior on the standard deviation between batches, hours (assumed, no source)."""
_BATCH_SPREADS = np.geomspace(0.25, 32.0, 14)
_DROP = 1.92  # half the 95 % point of chi-square with one degree
_HOPELESS = 25.0  # spreads so much less likely, in logs, are left out of the sums
_LEAST = 1e-300


@dataclass(frozen=True, slots=True)
class HatchCounts:
    """Chicks out of one batch at several times.

    Attributes:
        hours: hours from setting to each count, growing.
        out: chicks out by then, never falling.
        chicks: all that hatched, those after the last count included.
        storage_days: mean days the eggs were stored.
    """

    hours: tuple[float, ...]
    out: tuple[int, ...]
    chicks: int
    storage_days: float


@dataclass(frozen=True, slots=True)
class HatchWindow:
    """When one batch hatched, in hours from setting.

    Attributes:
        first: estimate of the first chick.
        first_between: the counts it came out between; certain.
        median: estimate of the middle chick.
        median_interval: its interval, chicks taken as independent.
        last: estimate of the last chick.
        last_between: the counts it came out between; the later one is None if it came after the last count.
        spread: standard deviation of the chicks' hours, or None where they all came between two counts.
        chicks: chicks that hatched.
    """

    first: float
    first_between: tuple[float, float | None]
    median: float
    median_interval: Interval
    last: float
    last_between: tuple[float, float | None]
    spread: float | None
    chicks: int


@dataclass(frozen=True, slots=True)
class HatchOffset:
    """How much later (+) or earlier (-) a machine's batches hatch than expected, storage allowed for.

    Attributes:
        hours: the middle of what is likely.
        interval: its interval, hours.
        against: `published` hours, or `own` batches of other machines.
        batches: batches of the machine.
        other_batches: batches of the other machines, 0 against published hours.
        warmth_c: middle of the warmth that this may mean, °C of eggshell; + is warmer than expected.
        warmth_interval: its interval over all published slopes.
        hours_a_degree: those slopes, least and most, for this bird.
        is_borrowed: whether they were measured on chicken eggs and scaled.
    """

    hours: float
    interval: Interval
    against: str
    batches: int
    other_batches: int
    warmth_c: float
    warmth_interval: Interval
    hours_a_degree: tuple[float, float]
    is_borrowed: bool


def hatch_window(counts: HatchCounts) -> HatchWindow:
    """First, middle and last chick of one batch.

    Raises:
        DataTooThin: no chick, no count, or counts that fall or exceed the chicks.
    """
    _check(counts)
    low, high, eggs = _between(counts)
    middle, spread = _fitted(low, high, eggs)
    first, last = np.flatnonzero(eggs)[[0, -1]]
    told_apart = first != last
    ends = _ends_of(counts.chicks) * (spread if told_apart else 0.0)
    return HatchWindow(
        first=float(np.clip(middle - ends, low[first], high[first])),
        first_between=_pair(low[first], high[first]),
        median=middle,
        median_interval=_profile(low, high, eggs, middle),
        last=float(np.clip(middle + ends, low[last], high[last])),
        last_between=_pair(low[last], high[last]),
        spread=spread if told_apart else None,
        chicks=counts.chicks,
    )


def machine_hours(batches: Sequence[HatchCounts], hours_a_day: float = 0.0) -> HourBelief:
    """What the batches of a machine say of its usual middle hour.

    Args:
        batches: at least one.
        hours_a_day: hours taken off for each day of storage.

    Returns:
        the belief after the data, the spreads within and between batches integrated out.

    Raises:
        DataTooThin: no batch, or one that `hatch_window` would refuse.
    """
    if not batches:
        raise DataTooThin("No batch was counted", "Hours need counts while chicks hatch", "Count twice a day")
    for counts in batches:
        _check(counts)
    cells = [_between(counts) for counts in batches]
    shifts = [hours_a_day * counts.storage_days for counts in batches]
    start, size = _grid(cells, shifts)
    grid: Floats = start + STEP * np.arange(size, dtype=np.float64)
    logs: Floats = np.array(
        [
            [_log_chances(low, high, eggs, grid + shift, float(spread)) for spread in SPREADS]
            for (low, high, eggs), shift in zip(cells, shifts, strict=True)
        ]
    )
    return HourBelief(start, _pooled(logs, grid))


def offset_from_published(batches: Sequence[HatchCounts], species: str) -> HatchOffset:
    """Against the published hours of a bird: wide, since lines and lists differ by a day and more.

    Raises:
        DataTooThin: as `machine_hours`.
    """
    rate_low, rate_high = storage_hours_a_day()
    rate, slack = (rate_low + rate_high) / 2, rate_high - rate_low
    low, high = published_hours(species)
    belief = machine_hours(batches, rate).minus(uniform(low, high))
    belief = belief.widened(slack * _mean_storage(batches))
    return _offset(belief, "published", len(batches), 0, species)


def offset_from_others(
    batches: Sequence[HatchCounts], others: Sequence[HatchCounts], species: str
) -> HatchOffset:
    """Against batches of the same bird in the farm's other machines: what tells most.

    Raises:
        DataTooThin: as `machine_hours`, for either.
    """
    rate_low, rate_high = storage_hours_a_day()
    rate, slack = (rate_low + rate_high) / 2, rate_high - rate_low
    belief = machine_hours(batches, rate).minus(machine_hours(others, rate))
    belief = belief.widened(slack * abs(_mean_storage(batches) - _mean_storage(others)))
    return _offset(belief, "own", len(batches), len(others), species)


def _offset(belief: HourBelief, against: str, batches: int, others: int, species: str) -> HatchOffset:
    hours, low, high = belief.quantile(0.5), belief.quantile(0.025), belief.quantile(0.975)
    least, most = hours_earlier_a_degree(species)
    method = "interval-censored, batches as a sample; storage over its published range"
    warm = [-hour / slope for hour in (low, high) for slope in (least, most)]
    return HatchOffset(
        hours=hours,
        interval=Interval(low, high, LEVEL, method),
        against=against,
        batches=batches,
        other_batches=others,
        warmth_c=-hours * (1 / least + 1 / most) / 2,
        warmth_interval=Interval(min(warm), max(warm), LEVEL, "the same, over all published slopes"),
        hours_a_degree=(least, most),
        is_borrowed=species != LENDER,
    )


def _mean_storage(batches: Sequence[HatchCounts]) -> float:
    return float(np.mean([counts.storage_days for counts in batches]))


def _check(counts: HatchCounts) -> None:
    if counts.chicks < 1 or not counts.hours:
        raise DataTooThin(
            "A batch without chicks or counts", "Hours need counts of chicks", "Count twice a day"
        )
    out, hours = np.array(counts.out), np.array(counts.hours)
    if len(out) != len(hours) or (np.diff(hours) <= 0).any() or hours[0] <= 0:
        raise DataTooThin("Times of counts that do not grow", "Each count is later than the one before", "")
    if out[0] < 0 or (np.diff(out) < 0).any() or out[-1] > counts.chicks:
        raise DataTooThin("Counts that fall, or exceed the chicks", "Chicks out so far only grow", "")


def _between(counts: HatchCounts) -> tuple[Floats, Floats, Floats]:
    """Ends of the intervals between counts, hours, and the chicks that came out in each."""
    edges = np.array([0.0, *counts.hours, np.inf])
    eggs = np.diff([0, *counts.out, counts.chicks]).astype(float)
    return edges[:-1], edges[1:], eggs


def _log_chances(low: Floats, high: Floats, eggs: Floats, middles: Floats, spread: float) -> Floats:
    """Log likelihood of one batch at each middle, shape of `middles`."""
    from scipy.special import ndtr

    seen = eggs > 0
    below = ndtr((low[seen, None] - middles) / spread)
    within = ndtr((high[seen, None] - middles) / spread) - below
    logs: Floats = eggs[seen] @ np.log(np.maximum(within, _LEAST))
    return logs


def _fitted(low: Floats, high: Floats, eggs: Floats) -> tuple[float, float]:
    """Middle and standard deviation of most likelihood; the least spread where one interval holds all."""
    from scipy.optimize import minimize

    def loss(place: Floats) -> float:
        return -float(_log_chances(low, high, eggs, place[:1], float(np.exp(place[1])))[0])

    ends = np.where(np.isfinite(high), high, low + 12.0)
    centres = (np.maximum(low, ends - 24.0) + ends) / 2
    start = float(eggs @ centres / eggs.sum())
    spread = max(1.0, float(np.sqrt(eggs @ (centres - start) ** 2 / eggs.sum())))
    if np.count_nonzero(eggs) == 1:
        return start, float(SPREADS[0])
    best = minimize(
        loss, np.array([start, np.log(spread)]), method="Nelder-Mead",
        options={"xatol": 1e-7, "fatol": 1e-10, "maxiter": 2000},
    )  # fmt: skip
    return float(best.x[0]), float(np.exp(best.x[1]))


def _profile(low: Floats, high: Floats, eggs: Floats, middle: float) -> Interval:
    """Middles within 1.92 of the greatest log likelihood, each at its best spread between 0.5 and 24 h."""
    middles = middle + np.arange(-60, 60.1, 0.25)
    spreads = np.geomspace(0.5, 24.0, 60)
    logs = np.max([_log_chances(low, high, eggs, middles, float(spread)) for spread in spreads], axis=0)
    kept = middles[logs >= logs.max() - _DROP]
    return Interval(float(kept.min()), float(kept.max()), LEVEL, "profile likelihood, chicks independent")


def _ends_of(chicks: int) -> float:
    """Standard deviations from the middle to the first of so many (Blom 1958, from memory)."""
    from scipy.special import ndtri

    return -float(ndtri((1 - 0.375) / (chicks + 0.25))) if chicks > 1 else 0.0


def _pair(low: float, high: float) -> tuple[float, float | None]:
    return float(low), float(high) if np.isfinite(high) else None


def _grid(cells: Sequence[tuple[Floats, Floats, Floats]], shifts: Sequence[float]) -> tuple[float, int]:
    """Start and size of the hours looked at: where any batch's chicks came out, and a margin."""
    lows, highs = [], []
    for (low, high, eggs), shift in zip(cells, shifts, strict=True):
        seen = eggs > 0
        ends = np.where(np.isfinite(high), high, low)[seen]
        lows.append(max(low[seen].min(), ends.min() - 24.0) - shift)
        highs.append(ends.max() - shift)
    margin = 15.0 + 45.0 / np.sqrt(
        len(cells)
    )  # the fewer batches, the farther off may the machine's middle be
    start = np.floor(min(lows) - margin)
    return float(start), int((max(highs) + margin - start) / STEP) + 1


def _pooled(logs: Floats, grid: Floats) -> Floats:
    """Chance of each hour for the machine's middle.

    Args:
        logs: log likelihoods, shape (batches, spreads, hours).
        grid: the hours.
    """
    tops = logs.max(axis=2)
    possible = tops.sum(axis=0) > tops.sum(axis=0).max() - _HOPELESS
    logs, tops = logs[:, possible], tops[:, possible]
    likely = np.exp(logs - tops[:, :, None])
    steps = np.arange(len(grid))
    apart = np.abs(steps[:, None] - steps[None, :])
    found = []
    for between in _BATCH_SPREADS:
        weights = np.exp(-0.5 * (STEP * steps / between) ** 2)
        weights /= 2 * weights.sum() - weights[0]
        by_batch = np.log(np.maximum(likely @ weights[apart], _LEAST))
        prior = np.log(between) - 0.5 * (between / BATCH_SPREAD) ** 2  # half-normal, on a grid of logs
        found.append(by_batch.sum(axis=0) + tops.sum(axis=0)[:, None] + prior)
    joint = np.array(found)
    chances = np.exp(joint - joint.max()).sum(axis=(0, 1))
    return np.asarray(chances / chances.sum(), np.float64)
