"""Made-up farms of trays for the intervals of the rates, with each pen's expected rates known.

Written with plain arrays and on purpose without a store: the second way to the sums that the queries make.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, ndtr

from analytics.measures.counts import ENOUGH_OPENED, ClusterSums, Families, LadderCounts, Stages
from analytics.values import Used

Numbers = NDArray[np.float64]
Codes = NDArray[np.intp]

STAGES_OF_DEAD = np.array([0.5, 0.1, 0.25, 0.15])
"""Early, mid, late, shell among the fertile eggs that die (made up)."""
CRACKED = 0.01


@dataclass(frozen=True, slots=True)
class Layout:
    """A kind of farm.

    Attributes:
        months: months in the store; the last one is asked about.
        batches: batches a month.
        pens: pens.
        machines: machines, used in turn.
        likeness: correlation of the outcomes of two eggs of a tray.
        of_batch: share of it that the whole batch has in common.
        of_machine: share of the batch's part that goes with its machine.
        opened: share of unhatched eggs that were opened.
        clear: share of the infertile and of the early dead that are written down as clear.
        rates: lowest and highest fertility and hatch of fertile of a pen.
    """

    months: int
    batches: int
    pens: int
    machines: int = 2
    likeness: float = 0.05
    of_batch: float = 0.5
    of_machine: float = 0.0
    opened: float = 1.0
    clear: float = 0.0
    rates: tuple[float, float] = (0.7, 0.99)


@dataclass(frozen=True, slots=True)
class Trays:
    """The trays of a store, one entry a tray.

    Attributes:
        batch: code of the batch; the last month's come last.
        pen: code of the pen.
        eggs_set: eggs set.
        cracked: cracked ones.
        hatched: chicks.
        opened: unhatched eggs by stage as written down, shape (trays, 7): Stages.
        unknown: unhatched eggs not opened.
    """

    batch: Codes
    pen: Codes
    eggs_set: Codes
    cracked: Codes
    hatched: Codes
    opened: Numbers
    unknown: Codes

    def only(self, keep: NDArray[np.bool_]) -> Trays:
        """Some of the trays."""
        return Trays(*(getattr(self, name)[keep] for name in self.__slots__))


@dataclass(frozen=True, slots=True)
class Farm:
    """One made-up farm.

    Attributes:
        trays: its store.
        asked: which of them are of the month asked about.
        fertility: each pen's expected fertility over all batches.
        hatch_of_fertile: each pen's expected hatch of fertile.
    """

    trays: Trays
    asked: NDArray[np.bool_]
    fertility: Numbers
    hatch_of_fertile: Numbers


def make_farm(layout: Layout, rng: np.random.Generator) -> Farm:
    """Draws a farm; 70 of 100 pens have eggs in a batch, a fifth of those on two trays of 6 to 40 eggs."""
    batches = layout.months * layout.batches
    batch, pen = np.nonzero(rng.random((batches, layout.pens)) < 0.7)
    twice = rng.random(len(batch)) < 0.2
    batch, pen = np.concatenate([batch, batch[twice]]), np.concatenate([pen, pen[twice]])
    eggs_set = np.minimum(6 + rng.gamma(1.2, 8, len(batch)), 40).astype(int)
    cracked = rng.binomial(eggs_set, CRACKED)
    fertile, fertility = _passing(layout, rng, batch, pen, eggs_set - cracked)
    hatched, hatch_of_fertile = _passing(layout, rng, batch, pen, fertile)
    dead = rng.multinomial(fertile - hatched, STAGES_OF_DEAD)
    none = np.zeros_like(batch)
    stages = np.column_stack([eggs_set - cracked - fertile, none, dead, none])
    opened = rng.binomial(stages, layout.opened)
    unknown = (stages - opened).sum(axis=1)
    for stage in (0, 2):
        moved = rng.binomial(opened[:, stage], layout.clear)
        opened[:, stage] -= moved
        opened[:, 1] += moved
    trays = Trays(batch, pen, eggs_set, cracked, hatched, opened.astype(float), unknown)
    return Farm(trays, batch >= batches - layout.batches, fertility, hatch_of_fertile)


def _passing(
    layout: Layout, rng: np.random.Generator, batch: Codes, pen: Codes, eggs: Codes
) -> tuple[Codes, Numbers]:
    """How many eggs of each tray pass a step, and each pen's expected rate over the batches of its farm."""
    typical = rng.uniform(*layout.rates, layout.pens)
    if layout.likeness == 0:
        return rng.binomial(eggs, typical[pen]), typical
    of_machine = np.sqrt(layout.of_batch * layout.of_machine) * rng.standard_normal(layout.machines)
    free = layout.of_batch * (1 - layout.of_machine)
    of_batch = np.sqrt(free) * rng.standard_normal(batch.max(initial=0) + 1)
    latent = of_machine[batch % layout.machines] + of_batch[batch]
    latent = latent + np.sqrt(1 - layout.of_batch) * rng.standard_normal(len(batch))
    chance = _beta(typical[pen], layout.likeness, latent)
    if layout.of_machine == 0:
        return rng.binomial(eggs, chance), typical
    points, weights = np.polynomial.hermite_e.hermegauss(40)
    spread = np.sqrt(free + 1 - layout.of_batch) * points
    by_machine = _beta(typical[:, None, None], layout.likeness, of_machine[:, None] + spread)
    return rng.binomial(eggs, chance), (by_machine @ weights / weights.sum()).mean(axis=1)


def _beta(mean: Numbers, likeness: float, latent: Numbers) -> Numbers:
    """A chance with that mean from a standard normal; two eggs that share it correlate by `likeness`."""
    total = (1 - likeness) / likeness
    return np.asarray(betaincinv(mean * total, (1 - mean) * total, ndtr(latent)))


def families_of(trays: Trays) -> Families:
    """The counts of the trays as one stratum, every count recorded."""
    counts = ladder_counts(trays)
    return Families(hatch=counts, fertile=counts, staged=counts, culled=counts, rotten=counts)


def ladder_counts(trays: Trays) -> LadderCounts:
    """The counts of the trays as one stratum; sharing by tray, else batch and pen, else pen."""
    shared, unshared, weight = share_unknown(trays)
    followed = (trays.eggs_set - trays.cracked).astype(float)
    by_batch = np.bincount(trays.batch, followed)
    return LadderCounts(
        used=Used(len(trays.batch), len(np.unique(trays.batch)), 0),
        eggs_set=int(trays.eggs_set.sum()),
        cracked=int(trays.cracked.sum()),
        hatched=int(trays.hatched.sum()),
        opened=Stages(*(int(eggs) for eggs in trays.opened.sum(axis=0))),
        unknown=int(trays.unknown.sum()),
        shared=Stages(*shared.sum(axis=0).tolist()),
        unshared=float(unshared.sum()),
        opened_squares=float(trays.opened.sum(axis=1) @ weight**2),
        tray_squares=float(followed @ followed),
        batch_squares=float(by_batch @ by_batch),
    )


def share_unknown(trays: Trays) -> tuple[Numbers, Numbers, Numbers]:
    """Each tray's unknown eggs by stage, those that nothing tells, and what each opened egg stands for."""
    left = trays.unknown.astype(float)
    shared, weight = np.zeros_like(trays.opened), np.ones_like(left)
    cell = np.unique(np.column_stack([trays.batch, trays.pen]), axis=0, return_inverse=True)[1].ravel()
    for group, enough in ((np.arange(len(left)), ENOUGH_OPENED), (cell, ENOUGH_OPENED), (trays.pen, 1)):
        opened = np.column_stack([np.bincount(group, stage) for stage in trays.opened.T])
        total = opened.sum(axis=1)
        part = np.where((total >= enough)[group], left, 0.0)
        shared += part[:, None] * (opened / np.maximum(total, 1)[:, None])[group]
        weight += (np.bincount(group, part) / np.maximum(total, 1))[group]
        left -= part
    return shared, left, weight


def tray_counts(trays: Trays, measure: str) -> tuple[Numbers, Numbers, NDArray[np.bool_]]:
    """Eggs counted and eggs in the denominator of a measure by tray, and which trays leave nothing open."""
    followed = (trays.eggs_set - trays.cracked).astype(float)
    if measure == "hatch_of_set":
        return trays.hatched.astype(float), trays.eggs_set.astype(float), np.ones(len(followed), bool)
    shared, left, _ = share_unknown(trays)
    stages = trays.opened + shared
    fertile = trays.hatched + stages[:, 2:].sum(axis=1)
    settled = (left == 0) & (trays.opened[:, 1] == 0) & (trays.unknown <= followed / 10)
    if measure == "fertility":
        return fertile, followed, settled
    of = {"early_loss": 2, "mid_loss": 3, "late_loss": 4, "shell_loss": 5}
    return trays.hatched.astype(float) if measure not in of else stages[:, of[measure]], fertile, settled


def cluster_sums(batch: Codes, pen: Codes, counted: Numbers, eggs: Numbers) -> ClusterSums:
    """The sums of `ClusterSums` from trays, as matrices of batches by pens."""
    keep = eggs > 1e-9
    totals, got = np.bincount(pen[keep], eggs[keep]), np.bincount(pen[keep], counted[keep])
    rate = np.divide(got, totals, out=np.zeros_like(got), where=totals > 0)
    keep[keep] = ((rate > 1e-12) & (rate < 1 - 1e-12))[pen[keep]]
    if not keep.any():
        return ClusterSums()
    n, p = eggs[keep], rate[pen[keep]]
    batch, pen = (np.unique(codes[keep], return_inverse=True)[1] for codes in (batch, pen))
    z = (counted[keep] - n * p) / np.sqrt(p * (1 - p))
    shape = batch.max() + 1, pen.max() + 1
    w1, w2, w3 = (_cells(batch, pen, n**power, shape) for power in (1, 2, 3))
    in_pen, in_batch = w1.sum(axis=0), w1.sum(axis=1)
    meet = w1.T @ w1
    of_batch = np.bincount(batch, z)
    own = w1**2 - w2
    return ClusterSums(
        trays=len(n),
        pens=shape[1],
        batches=shape[0],
        dispersion=float(z @ (z / n)),
        tray_weight=float((n - 1) @ (1 - n / in_pen[pen])),
        shared_pens=float((own / in_pen).sum()),
        cross=float(of_batch @ of_batch - z @ z),
        cross_own=float((2 * (w1 * w2 - w3) / in_pen - own * w2.sum(axis=0) / in_pen**2).sum()),
        cross_weight=float(
            in_batch @ in_batch
            - 2 * (in_batch[:, None] * w1**2 / in_pen).sum()
            + (meet**2 / np.outer(in_pen, in_pen)).sum()
            - (w2 * (1 - 2 * w1 / in_pen + np.diag(meet) / in_pen**2)).sum()
        ),
    )


def _cells(batch: Codes, pen: Codes, values: Numbers, shape: tuple[int, int]) -> Numbers:
    table = np.zeros(shape)
    np.add.at(table, (batch, pen), values)
    return table
