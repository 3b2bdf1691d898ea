"""The rule of signals: month after month, each held against the months before it.

A month's review looks at the flock, every machine and every pen in every step: at the month alone (a p chart)
and at a moving average with the month before (EWMA), both with limits widened for eggs of a tray and a batch
that fail together, and for how far apart months really lie (as Laney does, but over all pens, or all
machines, together, and by squares). Pens' first step has a promise of its own: there no more is allowed for
than was found, and Student's t for its being an estimate. The baseline is the twelve months that ended two
months before; months of a signal are left out of it. What lies farthest out is called first and its shift is
taken off the others before they are looked at again, so that a machine's bad month is the machine's and not
that of every pen in it. A run that goes on is known and not called anew.
"""

from __future__ import annotations

import numpy as np

from analytics.monitoring.allowance import pens_first, reaches
from analytics.monitoring.baseline import Baseline, fit
from analytics.monitoring.distance import WEIGHT, WINDOW, distance
from analytics.monitoring.p_chart import Flags, Floats
from analytics.monitoring.records import Charts, MonthlyCounts
from analytics.monitoring.units import by_unit, design_effect, slopes_of_units, squares_by_unit, to_cells

BASELINE = 12
"""Months of a baseline, and of a run after which the new level is the baseline."""
FEWEST_MONTHS = 3
"""Months with eggs of the farm before anything is watched."""
FEWEST_WORTH = 20.0
"""Independent eggs that a month's eggs must be worth to be watched (own choice)."""
STILL_OUT = 0.5
"""Share of the distance to a signal above which a run goes on,"""
MONTH_OUT = 0.5
"""if the month alone lies so many standard errors to the same side."""
ALREADY_OUT = 1.0
"""Standard errors to the same side from which the month before a signal belongs to it."""
PRIOR_MONTHS = 4.0
"""Months that trays and batches count for when it is learnt how far months lie apart (own choice)."""
CALMEST = 0.8
"""How much closer the months of pens may be found in the first step than eggs, trays and batches tell."""
EXCESS = 2.5
"""How much of what months lie farther apart is allowed for elsewhere, where they are never taken to lie
closer: limits so far out feel every error of the spread, and every skew month (by simulation)."""
_MOST_SIGNALS = 40


def watch(counts: MonthlyCounts, first: int = 0) -> Charts:
    """Charts of every unit and step, with the signals that each month's review would have given.

    Args:
        counts: months in a row, the reviewed one last.
        first: place of the first month that is reviewed; those before it are a baseline only.
    """
    found = _Watch(counts)
    for month in range(max(FEWEST_MONTHS + WINDOW - 1, first), counts.months):
        found.review(month)
    return found.charts


class _Watch:
    """The state of the watch; arrays by end, step, month and unit."""

    def __init__(self, counts: MonthlyCounts) -> None:
        self.counts = counts
        self.kinds = tuple(kind for kind, _ in counts.units)
        self.machines = len(counts.machines)
        self.entered, self.passed = by_unit(counts.entered), by_unit(counts.passed)
        trays, batches = squares_by_unit(counts)
        likeness = counts.likeness[..., None]
        self.trays, self.batches = trays, batches
        self.effect = design_effect(self.entered, trays, batches, likeness)
        eggs = self.entered[0]
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(eggs > 0, self.passed[0] / eggs, np.nan)
        self.charts = _empty(eggs, share)
        self.shift = np.zeros(self.entered.shape)
        self.left_out = np.zeros(eggs.shape, dtype=bool)
        self.parts: Floats | None = None

    def review(self, month: int) -> None:
        """Looks at one month, with all before it."""
        held = _Held(self, month)
        self.parts = held.base.parts
        charts = self.charts
        charts.own_months[:, month] = held.own_months
        watched = (self.entered[0, :, month] / self.effect[0, :, month] >= FEWEST_WORTH) & held.enough
        charts.watched[:, month] = watched
        part = float(self.counts.part[month])
        charts.reach[..., month, :] = reaches(watched, self.kinds, held.told, part)
        held.look()
        self._go_on(held)
        self._call(held)
        held.keep()

    def _go_on(self, held: _Held) -> None:
        """Runs of the month before that go on; the farthest out first, each shift taken off the others."""
        month, charts = held.month, self.charts
        running = charts.since[:, month - 1] >= 0
        silent = running & (self.entered[0, :, month] == 0)
        charts.since[:, month][silent] = charts.since[:, month - 1][silent]
        open_runs = running & ~silent
        for _ in range(int(open_runs.sum())):
            far = np.where(open_runs, np.abs(held.both()), -1.0)
            step, unit = _farthest(far)
            open_runs[step, unit] = False
            since, sign = int(charts.since[step, month - 1, unit]), self._sign(step, unit, month)
            limit = charts.reach[0, 0 if sign < 0 else 1, step, month, unit]
            alone = sign * held.month_alone()[step, unit]
            if sign * held.both()[step, unit] >= STILL_OUT * limit and alone >= MONTH_OUT:
                self._mark(held, (step, unit), since, 2 * sign)
                self._settle(step, unit, since, month)

    def _sign(self, step: int, unit: int, month: int) -> int:
        """Which way a run goes: as it was called."""
        called = self.charts.state[step, :month, unit]
        return int(np.sign(called[np.flatnonzero(called)[-1]]))

    def _settle(self, step: int, unit: int, since: int, month: int) -> None:
        """After a year a run is the new level: it ends, and its months are a baseline again."""
        if month - since >= BASELINE:
            self.left_out[step, since : month + 1, unit] = False
            self.shift[:, step, since : month + 1, unit] = 0
            self.charts.since[step, month, unit] = -1

    def _call(self, held: _Held) -> None:
        """New signals, farthest out first; a month that was called counts in no further one."""
        month, charts = held.month, self.charts
        told = charts.since[:, month - 1] >= 0
        for _ in range(_MOST_SIGNALS):
            both = np.where(told, held.month_on_scale(), held.both())
            down, up = charts.reach[0, :, :, month]
            out = (both <= -down) | (both >= up)
            out &= (charts.state[:, month] == 0) & charts.watched[:, month]
            if not out.any():
                return
            far = np.where(out, np.abs(both), -1.0)
            step, unit = _farthest(far)
            before = held.single[:, step, unit, 1] * np.sign(both[step, unit])
            began = bool((before >= ALREADY_OUT).all())
            sign = 1 if both[step, unit] > 0 else -1
            self._mark(held, (step, unit), month - 1 if began else month, sign)

    def _mark(self, held: _Held, at: tuple[int, int], since: int, state: int) -> None:
        """Writes a run down, leaves its months out of later baselines, and takes its shift off the others."""
        (step, unit), month, charts = at, held.month, self.charts
        charts.state[step, month, unit], charts.since[step, month, unit] = state, since
        for back in range(WINDOW if abs(state) == 1 else 1):
            if month - back >= since and self.entered[0, step, month - back, unit] > 0:
                self.left_out[step, month - back, unit] = True
                self.shift[:, step, month - back, unit] = held.shift_of(step, unit, back)
        held.look()


class _Held:
    """One month held against its baseline."""

    def __init__(self, whole: _Watch, month: int) -> None:
        self.whole, self.month = whole, month
        last = month - WINDOW + 1
        self.span = slice(max(last - BASELINE, 0), last)
        self.now = [month - back for back in range(WINDOW)]
        counts = whole.counts
        self.kept = to_cells(whole.left_out[:, self.span].astype(float), whole.machines) == 0
        entered, passed = counts.entered[:, :, self.span], counts.passed[:, :, self.span]
        self.base = self._fitted(entered * self.kept, passed * self.kept)
        eggs = by_unit(counts.entered[0, :, self.span] * self.kept)
        self.own_months = (eggs > 0).sum(axis=1)
        self.enough = self.own_months[:, :1] >= FEWEST_MONTHS
        self.log_odds = self.base.log_odds(len(counts.pens))
        self.widened, self.told = self._widened(by_unit(entered * self.kept), by_unit(passed * self.kept))
        self.weights = np.array([(1 - WEIGHT) ** back for back in range(WINDOW)])

    def _fitted(self, entered: Floats, passed: Floats) -> Baseline:
        counts = self.whole.counts
        eggs, came = entered.sum(axis=2), passed.sum(axis=2)
        trays, batches = (
            (squares[:, self.span] * self.kept).sum(axis=1)
            for squares in (counts.tray_squares, counts.batch_squares)
        )
        effect = design_effect(eggs, trays, batches, counts.likeness[:, :, self.month, None, None])
        return fit(came / np.maximum(eggs, 1e-9), eggs / effect, self.whole.parts)

    def _widened(self, eggs: Floats, came: Floats) -> tuple[Floats, Floats]:
        """How many times as far apart the baseline's months lie as eggs, trays and batches tell.

        Shape (ends, steps, units): pooled over pens, over machines, and for the flock; with the months, less
        one a unit, that this rests on, shape (steps, units). A month that was called is not in the baseline,
        but without it the others look too calm: it counts as one at its limit.
        """
        whole = self.whole
        far, there = self._far(eggs, came)
        called = np.abs(whole.charts.state[:, self.span]) == 1
        limits = np.where(called, whole.charts.reach[0, 0, :, self.span], 0.0)
        squares = (far**2).sum(axis=2) + (limits**2).sum(axis=1)
        months = np.maximum(there.sum(axis=2) + called.sum(axis=1) - 1, 0)
        found, told = np.ones(squares.shape), np.ones(squares.shape)
        for own in _groups(whole.machines, squares.shape[-1]):
            free = months[..., own].sum(axis=-1, keepdims=True) + PRIOR_MONTHS
            found[..., own] = np.sqrt((squares[..., own].sum(axis=-1, keepdims=True) + PRIOR_MONTHS) / free)
            told[..., own] = free
        careful = 1 + EXCESS * np.maximum(found - 1, 0)
        lasting = pens_first(told.shape[1:], whole.kinds)
        return np.where(lasting, np.maximum(found, CALMEST), careful), told.min(axis=0)

    def _far(self, eggs: Floats, came: Floats) -> tuple[Floats, Flags]:
        """How far the baseline's months lie from what it lets expect, and which have eggs enough to tell."""
        whole, rates = self.whole, _rate(self.log_odds)[:, :, None]
        expected = by_unit(whole.counts.entered[:, :, self.span] * self.kept * rates) / np.maximum(eggs, 1e-9)
        likeness = whole.counts.likeness[:, :, self.month, None, None]
        effect = design_effect(eggs, whole.trays[:, self.span], whole.batches[:, self.span], likeness)
        chance = np.sqrt(np.maximum(expected * (1 - expected) * effect * eggs, 1e-9))
        there = eggs / effect >= FEWEST_WORTH
        return np.where(there, (came - eggs * expected) / chance, 0.0), there

    def look(self) -> None:
        """Distances of the month alone and of the moving average, from what is expected now."""
        whole = self.whole
        entered = whole.counts.entered[:, :, self.now]
        shifts = to_cells(whole.shift[:, :, self.now], whole.machines)
        eggs = whole.entered[:, :, self.now]
        self.expected = np.stack(
            [self._expected(entered, eggs, shifts, back) for back in range(WINDOW)], axis=2
        )
        effect = whole.effect[:, :, self.now] * self.widened[:, :, None] ** 2
        came = whole.passed[:, :, self.now]
        self.base_worth = self._base_worth(entered[:, :, 0])
        self.single = np.moveaxis(
            distance(
                came / np.maximum(eggs, 1e-9),
                eggs / effect,
                self.expected,
                self.base_worth[:, :, None],
                1 - 1 / effect,
            ),
            2,
            -1,
        )
        w = self.weights[:, None]
        total = np.maximum((w * eggs).sum(axis=2), 1e-9)
        self.worth = eggs[:, :, 0] / effect[:, :, 0]
        squares = np.maximum((w**2 * eggs * effect).sum(axis=2), 1e-9)
        clustered = 1 - (w**2 * eggs).sum(axis=2) / squares
        smooth_worth = np.where(eggs[:, :, 0] > 0, total**2 / squares, 0.0)
        self.smooth = distance(
            (w * came).sum(axis=2) / total,
            smooth_worth,
            (w * eggs * self.expected).sum(axis=2) / total,
            self.base_worth,
            clustered,
        )

    def _expected(self, entered: Floats, eggs: Floats, shifts: Floats, back: int) -> Floats:
        """Expected shares of the units in one month; a unit's own shift is not expected."""
        own = self.whole.shift[:, :, self.month - back]
        machines = self.whole.machines
        if not own.any():
            return self._mixed(entered[:, :, back], eggs[:, :, back], self.log_odds)
        found = np.zeros(own.shape)
        for group in _groups(machines, own.shape[-1]):
            alone = np.zeros(own.shape)
            alone[..., group] = own[..., group]
            odds = self.log_odds + shifts[:, :, back] - to_cells(alone, machines)
            found[..., group] = self._mixed(entered[:, :, back], eggs[:, :, back], odds)[..., group]
        return found

    @staticmethod
    def _mixed(entered: Floats, eggs: Floats, odds: Floats) -> Floats:
        """Shares of the units at these log odds of their cells."""
        return np.asarray(by_unit(entered * _rate(odds)) / np.maximum(eggs, 1e-9))

    def _base_worth(self, entered: Floats) -> Floats:
        """Independent eggs that the expected shares are worth."""
        rates = _rate(self.log_odds)
        variance = self.base.variance(slopes_of_units(entered, rates))
        mean = np.clip(self.expected[:, :, 0], 1e-6, 1 - 1e-6)
        spread = mean * (1 - mean)
        unsure = (variance + spread * self._batches_met()) * self.widened**2
        return np.asarray(spread / np.maximum(unsure, 1e-9))

    def _batches_met(self) -> Floats:
        """What pens that met in batches of the baseline add to a unit's variance, over that of an egg."""
        whole = self.whole
        eggs = whole.entered[0, :, self.span].sum(axis=1)
        own = by_unit(whole.counts.batch_squares[:, self.span]).sum(axis=1)
        met = np.maximum(whole.batches[:, self.span].sum(axis=1) - own, 0)
        return np.asarray(whole.counts.likeness[1, :, self.month, None] * met / np.maximum(eggs, 1e-9) ** 2)

    def month_alone(self) -> Floats:
        """The month's distance that holds at every end."""
        return _nearest(self.single[..., 0])

    def month_on_scale(self) -> Floats:
        """The month's distance, where it is a signal, as far out as an average that is one."""
        average, month = self.whole.charts.reach[:, 0, :, self.month]
        return np.asarray(self.month_alone() * average / month)

    def moving(self) -> Floats:
        """The moving average's, likewise."""
        return _nearest(self.smooth)

    def both(self) -> Floats:
        """The farther out of the two, the month on the average's scale; shape (steps, units)."""
        alone, moving = self.month_on_scale(), self.moving()
        return np.where(np.abs(alone) >= np.abs(moving), alone, moving)

    def shift_of(self, step: int, unit: int, back: int) -> Floats:
        """How far a unit's month lies from what is expected, in log odds, one an end."""
        whole, month = self.whole, self.month - back
        eggs, came = whole.entered[:, step, month, unit], whole.passed[:, step, month, unit]
        seen = np.log((came + 0.5) / (np.maximum(eggs - came, 0) + 0.5))
        usual = np.clip(self.expected[:, step, back, unit], 1e-6, 1 - 1e-6)
        return np.asarray(seen - np.log(usual / (1 - usual)))

    def keep(self) -> None:
        """Puts the month into the charts."""
        charts, month = self.whole.charts, self.month
        charts.expected[:, month] = self.expected[0, :, 0]
        charts.worth[:, month], charts.base_worth[:, month] = self.worth[0], self.base_worth[0]
        charts.distance[:, month], charts.smoothed[:, month] = self.month_alone(), self.moving()


def _empty(eggs: Floats, share: Floats) -> Charts:
    return Charts(
        eggs=eggs,
        share=share,
        **{
            name: np.zeros(eggs.shape) for name in ("expected", "worth", "base_worth", "distance", "smoothed")
        },
        watched=np.zeros(eggs.shape, dtype=bool),
        reach=np.zeros((2, 2, *eggs.shape)),
        state=np.zeros(eggs.shape, dtype=int),
        since=np.full(eggs.shape, -1),
        own_months=np.zeros(eggs.shape, dtype=int),
    )


def _groups(machines: int, units: int) -> tuple[slice, ...]:
    """Places of the flock, the machines and the pens."""
    return slice(0, 1), slice(1, 1 + machines), slice(1 + machines, units)


def _farthest(far: Floats) -> tuple[int, int]:
    step, unit = np.unravel_index(int(far.argmax()), far.shape)
    return int(step), int(unit)


def _rate(log_odds: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-log_odds)))


def _nearest(ends: Floats) -> Floats:
    """What holds at every end: the distance nearest to 0, and 0 where the ends disagree."""
    agree = (ends > 0).all(axis=0) | (ends < 0).all(axis=0)
    return np.where(agree, np.take_along_axis(ends, np.abs(ends).argmin(axis=0)[None], axis=0)[0], 0.0)
