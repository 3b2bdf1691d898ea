"""How much the eggs of a tray, and of a batch, fail together; and how many independent eggs they are worth.

The counts y of the trays follow var y = n p (1 - p) (1 + (n - 1) rho_tray) within a tray and
cov = n n' sqrt(p (1 - p) p' (1 - p')) rho_batch between the trays of a batch, with one p a pen. The two
correlations solve the two moment equations of `ClusterSums` exactly, the loss of degrees of freedom to the
pens' own rates included; they are then drawn towards an assumed value, which only a small store feels.
Source of the moment idea: Williams 1982, Applied Statistics 31:144-148; Kish 1965, Survey Sampling, for the
design effect. The pull, its weight and the degrees of freedom were chosen by simulation
(tests/simulation/interval_coverage.py).
"""

from __future__ import annotations

import math

from analytics.measures.counts import Clustering, ClusterSums, LadderCounts

TYPICAL_TRAY, TYPICAL_BATCH = 0.05, 0.03
"""Correlations assumed before any records are in (assumed, no source)."""
NOISE_TRAY, NOISE_BATCH = 0.05, 0.01
"""Noise of one tray of some 20 eggs, and of one batch of some 100, on the scale of a correlation."""
WEIGHT_TRAYS, WEIGHT_BATCHES = 10, 2
"""How many such trays and batches the assumed values weigh as much as."""
BATCH_EVENNESS = 0.7
"""Batches differ in size: their information, as a share of as many equal ones (by simulation)."""
FEWEST_DOF = 4.0
"""Least degrees of freedom of an interval: some knowledge is always assumed."""
_NOTHING = 1e-6


def estimate_clustering(sums: ClusterSums | None) -> Clustering:
    """The two correlations from the sums of a store.

    Args:
        sums: of one measure; None or empty where nothing is recorded.

    Returns:
        The correlations with 0 <= rho_batch <= rho_tray <= 1 and how well they are known.
    """
    tray, trays, batch, batches = _moments(sums or ClusterSums())
    rho_tray = _clip(_pulled(tray, trays, TYPICAL_TRAY, WEIGHT_TRAYS), 1.0)
    rho_batch = _clip(_pulled(batch, batches, TYPICAL_BATCH, WEIGHT_BATCHES), rho_tray)
    return Clustering(
        rho_tray,
        rho_batch,
        (rho_tray + NOISE_TRAY) * math.sqrt(2 / (trays + WEIGHT_TRAYS)),
        (rho_batch + NOISE_BATCH) * math.sqrt(2 / (BATCH_EVENNESS * batches + WEIGHT_BATCHES)),
        trays < WEIGHT_TRAYS or batches < WEIGHT_BATCHES,
    )


def design_effect(counts: LadderCounts, eggs: float, clustering: Clustering) -> float:
    """How many times larger the variance is than that of as many independent eggs; 1 or more.

    Args:
        counts: of the stratum.
        eggs: eggs in the denominator of the rate.
        clustering: of the measure.
    """
    in_tray, in_batch = _others(counts, eggs)
    return 1 + in_tray * clustering.rho_tray + in_batch * clustering.rho_batch


def degrees_of_freedom(counts: LadderCounts, eggs: float, clustering: Clustering) -> float:
    """Degrees of freedom of the variance of a rate, at least `FEWEST_DOF`; Satterthwaite 1946.

    Args:
        counts: of the stratum.
        eggs: eggs in the denominator of the rate.
        clustering: of the measure.
    """
    in_tray, in_batch = _others(counts, eggs)
    unknown = (in_tray * clustering.spread_tray) ** 2 + (in_batch * clustering.spread_batch) ** 2
    if unknown == 0:
        return math.inf
    return max(FEWEST_DOF, 2 * design_effect(counts, eggs, clustering) ** 2 / unknown)


def _others(counts: LadderCounts, eggs: float) -> tuple[float, float]:
    """Mean number of other eggs in an egg's tray, and in its batch outside the tray."""
    if counts.followed == 0:
        return 0.0, 0.0
    scale = eggs / counts.followed**2
    in_batch = scale * (counts.batch_squares - counts.tray_squares)
    return max(0.0, scale * counts.tray_squares - 1), max(0.0, in_batch)


def _moments(sums: ClusterSums) -> tuple[float, float, float, float]:
    """Solves for the two correlations; each is followed by the trays or batches that it is worth."""
    if sums.tray_weight <= _NOTHING:
        return 0.0, 0.0, 0.0, 0.0
    spare = sums.trays - sums.pens
    excess = sums.dispersion - spare
    trays = spare * _worth(TYPICAL_TRAY, NOISE_TRAY, spare / sums.tray_weight)
    slope = (sums.shared_pens - sums.cross_own) / sums.tray_weight
    weight = sums.cross_weight + sums.cross_own + slope * sums.shared_pens
    if sums.batches < 2 or weight <= _NOTHING * sums.tray_weight:
        return excess / sums.tray_weight, trays, 0.0, 0.0
    batch = (sums.cross + sums.shared_pens - slope * excess) / weight
    tray = (excess + sums.shared_pens * batch) / sums.tray_weight
    noise = (sums.tray_weight + spare) / weight
    return tray, trays, batch, (sums.batches - 1) * _worth(TYPICAL_BATCH, NOISE_BATCH, noise)


def _worth(typical: float, noise: float, found: float) -> float:
    """Information of one tray or batch with that noise, against one with the usual noise."""
    return ((typical + noise) / (typical + found)) ** 2


def _pulled(found: float, weight: float, assumed: float, assumed_weight: float) -> float:
    return (weight * found + assumed_weight * assumed) / (weight + assumed_weight)


def _clip(value: float, top: float) -> float:
    return min(max(value, 0.0), top)
