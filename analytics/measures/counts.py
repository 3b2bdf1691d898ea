"""Counts that the store hands to the measures: sums over the trays of one stratum, and nothing else.

A *stratum* is whatever the question is about (a pen, a pen in a month, a machine, the farm). A *family*
says which of its trays enter, because a blank count is not a zero:

| family | trays that enter |
|---|---|
| hatch | `hatched` recorded |
| fertile | as hatch, and the outcomes add up to `eggs_set`, or `infertile` or `clear` recorded |
| staged | as fertile, and the outcomes add up, or one of early, mid, late, the two pips recorded |
| culled | as hatch, and `culled` recorded or the outcomes add up |
| rotten | as hatch, and `rotten` recorded or the outcomes add up |

Where the outcomes of a tray add up to `eggs_set`, its blanks are zero by arithmetic. In a tray where
`infertile` or `clear` was counted, every death column is blank and eggs are left over, those left over are
`unstaged` dead: whoever counts the infertile means the rest. Everything else that is left over is unknown.
A blank `culled` counts as none in the family hatch. Opened eggs recorded one by one stand in for a tray
with no unhatched outcome counted; cracked ones among them leave the ladder.

Eggs of unknown stage (rotten, not opened, unaccounted) are shared over the stages tray by tray, in the
proportions of the opened unhatched eggs of the same tray; of the same batch and pen where the tray has fewer
than 5 opened; of the pen's trays in the selection where even those are fewer than 5.
"""

from __future__ import annotations

from dataclasses import dataclass

from analytics.values import Used

ENOUGH_OPENED = 5
"""Opened unhatched eggs from which a tray (then a batch and pen) tells its own unknown eggs' stages."""

NO_TRAYS = Used(trays=0, batches=0, left_out=0)


@dataclass(frozen=True, slots=True)
class Stages:
    """Unhatched eggs by the stage they reached; whole where counted, not whole where shared out.

    Attributes:
        infertile: opened, no development.
        clear: no development seen, not told apart (infertile, or dead before anything shows).
        early: dead early.
        mid: dead in the middle.
        late: dead late, not pipped.
        shell: pipped (internally or externally), not out.
        unstaged: dead, stage not recorded (never in the family staged).
    """

    infertile: float = 0
    clear: float = 0
    early: float = 0
    mid: float = 0
    late: float = 0
    shell: float = 0
    unstaged: float = 0

    def total(self) -> float:
        """All of them."""
        return sum(self.as_tuple())

    def as_tuple(self) -> tuple[float, ...]:
        """The seven numbers in the order of the attributes."""
        return (self.infertile, self.clear, self.early, self.mid, self.late, self.shell, self.unstaged)


@dataclass(frozen=True, slots=True)
class LadderCounts:
    """Sums over the trays of one stratum and one family.

    hatched + culled + opened.total() + unknown + cracked = eggs_set, and shared.total() + unshared = unknown.

    Attributes:
        used: the trays and batches summed, and the trays of the stratum left out.
        eggs_set: eggs set.
        cracked: cracked before or at setting.
        hatched: live chicks kept.
        culled: live chicks not kept.
        opened: unhatched eggs of known stage, as counted.
        unknown: unhatched eggs of unknown stage: rotten, not opened, unaccounted.
        shared: the unknown eggs shared over the stages, as above.
        unshared: unknown eggs for which no egg of the pen was opened.
        opened_squares: sum over the trays of m * w**2, m = opened unhatched eggs of the tray, w = the
            unhatched eggs that each of them stands for: 1 + (own unknown eggs, if the tray has 5 opened)/m
            + (unknown eggs that the trays of its batch and pen borrow)/(opened there) + (those that the
            trays of its pen borrow)/(opened there). Equals opened.total() where nothing is unknown.
        tray_squares: sum over the trays of n**2, n = eggs followed = eggs_set - cracked.
        batch_squares: sum over the batches of (sum of n in the stratum)**2.
    """

    used: Used = NO_TRAYS
    eggs_set: int = 0
    cracked: int = 0
    hatched: int = 0
    culled: int = 0
    opened: Stages = Stages()
    unknown: int = 0
    shared: Stages = Stages()
    unshared: float = 0.0
    opened_squares: float = 0.0
    tray_squares: float = 0.0
    batch_squares: float = 0.0

    @property
    def followed(self) -> int:
        """Eggs on the ladder: set, less those cracked before or at setting."""
        return self.eggs_set - self.cracked


@dataclass(frozen=True, slots=True)
class Families:
    """One stratum, family by family.

    Attributes:
        hatch, fertile, staged, culled, rotten: the sums of each family.
        rotten_eggs: rotten eggs in the trays of the family rotten.
        unaccounted: eggs in the trays of the family hatch that no column accounts for; `unstaged` dead are
            accounted for.
    """

    hatch: LadderCounts = LadderCounts()
    fertile: LadderCounts = LadderCounts()
    staged: LadderCounts = LadderCounts()
    culled: LadderCounts = LadderCounts()
    rotten: LadderCounts = LadderCounts()
    rotten_eggs: int = 0
    unaccounted: int = 0


@dataclass(frozen=True, slots=True)
class ClusterSums:
    """Sums over the whole store from which the clustering of one measure is estimated.

    Over the trays of the measure's family that leave nothing open (no clear egg where the measure must tell
    infertile from early dead, and at most a tenth of the eggs followed unknown), of pens whose rate p is
    neither 0 nor 1. Per tray: y of n eggs (after sharing), p = the pen's sum of y / sum of n = Y_i / N_i,
    z = (y - n p) / sqrt(p (1 - p)). Per batch b and pen i (a cell): N_ib, S2_ib, S3_ib = sums of n, n**2,
    n**3; per pen N_i, S2_i; per batch N_b. Trays with n = 0 do not enter.

    Attributes:
        trays: trays.
        pens: pens.
        batches: batches.
        dispersion: sum of z**2 / n.
        tray_weight: sum of (n - 1) (1 - n / N_i).
        shared_pens: sum over cells of (N_ib**2 - S2_ib) / N_i.
        cross: sum over batches of (sum z)**2, less the sum of z**2.
        cross_own: sum over cells of 2 (N_ib S2_ib - S3_ib) / N_i - (N_ib**2 - S2_ib) S2_i / N_i**2.
        cross_weight: sum over batches of N_b**2 - 2 * sum over cells of N_b N_ib**2 / N_i
            + sum over ordered pairs of pens (i = j too) of C_ij**2 / (N_i N_j)
            - sum over cells of S2_ib (1 - 2 N_ib / N_i + C_ii / N_i**2); C_ij = sum over batches of
            N_ib N_jb.
    """

    trays: int = 0
    pens: int = 0
    batches: int = 0
    dispersion: float = 0.0
    tray_weight: float = 0.0
    shared_pens: float = 0.0
    cross: float = 0.0
    cross_own: float = 0.0
    cross_weight: float = 0.0


@dataclass(frozen=True, slots=True)
class Clustering:
    """How much more alike the eggs of one tray, and of one batch, are than eggs at large.

    Attributes:
        rho_tray: correlation of the outcomes of two eggs of one tray, 0..1.
        rho_batch: correlation of two eggs of one batch but different trays, 0..rho_tray.
        spread_tray: standard deviation of what is not known about rho_tray.
        spread_batch: the same of rho_batch.
        assumed: True where the store is too small to tell, so that the two are mostly assumed.
    """

    rho_tray: float
    rho_batch: float
    spread_tray: float
    spread_batch: float
    assumed: bool
