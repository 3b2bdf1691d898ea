"""What the counts of one stratum leave open, and what they say all the same.

Clear eggs are infertile or early dead; eggs of unknown stage may have stopped at any stage; dead eggs whose
stage was not recorded may, if the breeder meant otherwise, have been infertile. A rate is a ratio of two sums
of eggs, so over all ways to settle what is open its extremes lie where each group is settled in one piece.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from itertools import product

import numpy as np
from numpy.typing import NDArray

from analytics.measures.counts import LadderCounts, Stages

Eggs = NDArray[np.float64]
"""Eggs by final outcome, in the order of OUTCOMES."""

OUTCOMES = ("hatched", "infertile", "early", "mid", "late", "shell")
_NOT_HATCHED = range(1, len(OUTCOMES))
_INFERTILE_OR_EARLY = range(1, 3)


@dataclass(frozen=True, slots=True)
class Portion:
    """A share of eggs: those of some outcomes among those of more outcomes.

    Attributes:
        counted: outcomes of the numerator.
        among: outcomes of the denominator; they include the counted ones.
    """

    counted: tuple[str, ...]
    among: tuple[str, ...]

    @property
    def top(self) -> Eggs:
        """1 for each outcome counted, 0 for the others."""
        return _marks(self.counted)

    @property
    def base(self) -> Eggs:
        """1 for each outcome of the denominator, 0 for the others."""
        return _marks(self.among)

    @property
    def splits_clear(self) -> bool:
        """Whether it matters if a clear egg was infertile or early dead."""
        return any(("infertile" in names) != ("early" in names) for names in (self.counted, self.among))


@dataclass(frozen=True, slots=True)
class Extreme:
    """The rate at one end of what is open.

    Attributes:
        share: the rate, 0..1.
        eggs: eggs in its denominator there.
    """

    share: float
    eggs: float


def allocations(counts: LadderCounts) -> Eggs:
    """All ways to settle what is open in one piece, shape (ways, outcomes); one row where nothing is open."""
    unhatched = counts.opened
    fixed = _placed(counts.hatched + counts.culled, unhatched)
    groups = [
        (unhatched.clear, _INFERTILE_OR_EARLY),
        (unhatched.unstaged, _NOT_HATCHED),
        (counts.unknown, _NOT_HATCHED),
    ]
    ways = [[_one(place, eggs) for place in places] for eggs, places in groups if eggs]
    return np.array([sum(way, fixed) for way in product(*ways)])


def extremes(ways: Eggs, portion: Portion) -> tuple[Extreme, Extreme] | None:
    """The lowest and highest rate over the ways; None where the denominator is empty in all of them."""
    top, base = ways @ portion.top, ways @ portion.base
    top, base = top[base > 0], base[base > 0]
    if not len(base):
        return None
    share = top / base
    low, high = (np.flatnonzero(share == end) for end in (share.min(), share.max()))
    return (
        Extreme(float(share.min()), float(base[low].min())),
        Extreme(float(share.max()), float(base[high].min())),
    )


def shared_out(counts: LadderCounts, splits_clear: bool) -> Eggs | None:
    """Eggs by outcome with the unknown ones shared over the stages; None where that cannot be said.

    Args:
        counts: of the stratum. Unknown eggs of pens without an opened egg follow the stratum's others.
        splits_clear: whether clear eggs matter; if not, they are put with the early dead.
    """
    known = np.array(counts.opened.as_tuple(), float) + np.array(counts.shared.as_tuple(), float)
    if counts.unshared > 0:
        if known.sum() == 0:
            return None
        known = known * (1 + counts.unshared / known.sum())
    stages = Stages(*known.tolist())
    if splits_clear and stages.clear > 0:
        return None
    eggs = _placed(counts.hatched + counts.culled, stages)
    return eggs + _one(OUTCOMES.index("early"), stages.clear + stages.unstaged)


def effective_eggs(counts: LadderCounts, portion: Portion, eggs: Eggs) -> float:
    """Independent eggs that the denominator is worth when only some unhatched eggs were opened.

    Hatched or not is known of every egg, the stage only of those opened (two phases): the variance is that
    of full opening, with its part from among the unhatched divided by the share opened. Nothing is lost where
    every unhatched egg was opened. Half an egg is spread over the outcomes first, so that a rate of 0 or 1
    has a variance too. Source: Neyman 1938, J. Am. Stat. Assoc. 33:101-116 (double sampling).

    Args:
        counts: of the stratum.
        portion: the rate.
        eggs: eggs by outcome, as shared out.
    """
    unhatched = eggs[1:].sum()
    if unhatched == 0:
        return float(eggs @ portion.base)
    failing = (unhatched + 0.5) / (eggs.sum() + 1)
    stage = (eggs[1:] + 0.5 / len(eggs[1:])) / (unhatched + 0.5)
    smooth = np.concatenate([[1 - failing], failing * stage])
    score = portion.top - (smooth @ portion.top) / (smooth @ portion.base) * portion.base
    mean = stage @ score[1:]
    between = failing * (1 - failing) * (score[0] - mean) ** 2
    within = failing * (stage @ (score[1:] - mean) ** 2)
    worth = (between + within) / (between + within / _share_opened(counts, unhatched))
    return float(eggs @ portion.base * worth)


def _share_opened(counts: LadderCounts, unhatched: float) -> float:
    """Opened eggs that the sharing is worth (Kish's effective number) per unhatched egg, at most 1."""
    if counts.unknown == 0:
        return 1.0
    spoken_for = counts.opened.total() + counts.shared.total()
    worth = spoken_for**2 / counts.opened_squares if counts.opened_squares else 1.0
    return float(min(1.0, worth / unhatched))


@cache
def _marks(names: tuple[str, ...]) -> Eggs:
    marks = np.array([float(name in names) for name in OUTCOMES])
    marks.flags.writeable = False
    return marks


def _placed(hatched: float, stages: Stages) -> Eggs:
    return np.array([hatched, stages.infertile, stages.early, stages.mid, stages.late, stages.shell], float)


def _one(place: int, eggs: float) -> Eggs:
    row = np.zeros(len(OUTCOMES))
    row[place] = eggs
    return row
