"""The rates of one stratum, from egg to chick, each with its base and with what makes it uncertain.

An egg passes fertile, early, mid, late, shell, and hatches. Eggs known not to have hatched never leave a
denominator: where their stage is unknown they are shared out or kept as a range, not dropped.
fertility x hatch_of_fertile x (eggs set less cracked / eggs set) = hatch_of_set on the same trays.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from analytics.measures.clustering import degrees_of_freedom, design_effect, estimate_clustering
from analytics.measures.counts import Clustering, Families, LadderCounts
from analytics.measures.intervals import LEVEL, score_limits, t_quantile, wilson
from analytics.measures.stages import (
    OUTCOMES,
    Eggs,
    Extreme,
    Portion,
    allocations,
    effective_eggs,
    extremes,
    shared_out,
)
from analytics.values import Base, Interval, Rate

MEASURES = (
    "fertility",
    "hatch_of_set",
    "saleable_of_set",
    "cull_rate",
    "hatch_of_fertile",
    "early_loss",
    "mid_loss",
    "late_loss",
    "shell_loss",
    "rotten",
)
"""The fixed measure words, in the order of the ladder."""
ENTERING_MEASURES = tuple(f"{stage}_loss_of_entering" for stage in ("early", "mid", "late", "shell"))
"""The same losses as shares of the eggs that entered the step; listed apart."""
UNACCOUNTED = "unaccounted"
"""Eggs that no column accounts for: a gap in the records, not a rate of the birds."""

_FERTILE = ("hatched", "early", "mid", "late", "shell")
_POSSIBLE = "all that clear and unopened eggs leave open"
_CLUSTERED = "Wilson, allowing for trays and batches"
MOSTLY_ASSUMED = "mostly assumed"
"""Stands in the method of an interval whose clustering the store is too small to tell."""


@dataclass(frozen=True, slots=True)
class _Step:
    """A measure of the ladder: its family, its share, and words for what is missing."""

    family: Literal["fertile", "staged"]
    base: Base
    portion: Portion
    among: str


@dataclass(frozen=True, slots=True)
class _Tally:
    """A measure that is counted outright: nothing of it can be open."""

    base: Base
    counts: LadderCounts
    count: int
    eggs: int
    among: str
    why: str = ""


def _steps() -> dict[str, _Step]:  # pragma: no mutate block
    steps = {
        "fertility": _Step(
            "fertile", Base.OF_LADDER, Portion(_FERTILE, OUTCOMES), "egg that was not cracked"
        ),
        "hatch_of_fertile": _Step("fertile", Base.OF_FERTILE, Portion(("hatched",), _FERTILE), "fertile egg"),
    }
    entering = [stage for stage in _FERTILE if stage != "hatched"]
    for i, stage in enumerate(entering):
        among = Portion((stage,), ("hatched", *entering[i:]))
        steps[f"{stage}_loss"] = _Step("staged", Base.OF_FERTILE, Portion((stage,), _FERTILE), "fertile egg")
        steps[f"{stage}_loss_of_entering"] = _Step(
            "staged", Base.OF_ENTERING, among, "egg that came as far as this step"
        )
    return steps


_STEPS = _steps()

_NEEDS = {
    "fertile": "hatched, and infertile (or every outcome)",
    "staged": "hatched, infertile and the dead by stage (or every outcome)",
    "cull_rate": "hatched and culled",
    "rotten": "hatched and rotten (or every outcome)",
    "": "hatched",
}


def rates(families: Families, clustering: Mapping[str, Clustering]) -> dict[str, Rate]:
    """All rates of one stratum.

    Args:
        families: its counts.
        clustering: by measure word, from the whole store; a measure without one is given the assumed
            clustering, a loss of entering that of the loss.

    Returns:
        MEASURES, then UNACCOUNTED, then ENTERING_MEASURES. Where there is no value, `why` says why.
    """
    tallies = _tallies(families)
    ways = {"fertile": allocations(families.fertile), "staged": allocations(families.staged)}
    assumed = estimate_clustering(None)
    found: dict[str, Rate] = {}
    for measure in (*MEASURES, UNACCOUNTED, *ENTERING_MEASURES):
        known = clustering.get(measure.removesuffix("_of_entering"), assumed)
        if measure in tallies:
            found[measure] = _tally_rate(measure, tallies[measure], known)
        else:
            step = _STEPS[measure]
            found[measure] = _step_rate(measure, getattr(families, step.family), ways[step.family], known)
    return found


def _tallies(families: Families) -> dict[str, _Tally]:
    hatch, culled, rotten = families.hatch, families.culled, families.rotten
    of_set = Base.OF_SET
    chicks, kept = hatch.hatched + hatch.culled, culled.hatched + culled.culled
    return {
        "hatch_of_set": _Tally(of_set, hatch, chicks, hatch.eggs_set, "egg", _culled_blank(families)),
        "saleable_of_set": _Tally(of_set, hatch, hatch.hatched, hatch.eggs_set, "egg"),
        "cull_rate": _Tally(Base.OF_HATCHED, culled, culled.culled, kept, "hatched chick"),
        "rotten": _Tally(of_set, rotten, families.rotten_eggs, rotten.eggs_set, "egg"),
        UNACCOUNTED: _Tally(of_set, hatch, families.unaccounted, hatch.eggs_set, "egg"),
    }


def _culled_blank(families: Families) -> str:
    blank = families.hatch.used.trays - families.culled.used.trays
    trays = "1 tray" if blank == 1 else f"{blank} trays"
    return f"In {trays} `culled` is blank; no chick of theirs is taken as culled." if blank > 0 else ""


def _tally_rate(measure: str, tally: _Tally, clustering: Clustering) -> Rate:
    counts, count, eggs = tally.counts, tally.count, tally.eggs
    if eggs == 0:
        return _no_rate(measure, tally.base, counts, None, _why_empty(measure, counts, tally.among))
    share = count / eggs
    end = Extreme(share, eggs)
    shown = None if measure == UNACCOUNTED else _shown((end, end), counts, clustering)
    return Rate(
        measure=measure,
        base=tally.base,
        count=count,
        eggs=eggs,
        eggs_set=counts.eggs_set,
        clear=int(counts.opened.clear),
        value=share,
        interval=shown,
        possible=Interval(share, share, 1.0, _POSSIBLE),
        independent=None if measure == UNACCOUNTED else wilson(count, eggs),
        used=counts.used,
        why=tally.why,
    )


def _step_rate(measure: str, counts: LadderCounts, ways: Eggs, clustering: Clustering) -> Rate:
    step = _STEPS[measure]
    ends = extremes(ways, step.portion)
    if ends is None:
        return _no_rate(measure, step.base, counts, None, _why_empty(step.family, counts, step.among))
    shown = _shown(ends, counts, clustering)
    settled = shared_out(counts, step.portion.splits_clear)
    if settled is None:
        return _no_rate(measure, step.base, counts, (ends, shown), _why_open(counts))
    count, eggs = float(settled @ step.portion.top), float(settled @ step.portion.base)
    if eggs == 0:
        return _no_rate(measure, step.base, counts, (ends, shown), f"No {step.among} as far as was opened.")
    worth = effective_eggs(counts, step.portion, settled)
    return Rate(
        measure=measure,
        base=step.base,
        count=count,
        eggs=eggs,
        eggs_set=counts.eggs_set,
        clear=int(counts.opened.clear),
        value=count / eggs,
        interval=shown,
        possible=_bounds(ends),
        independent=wilson(count / eggs * worth, worth),
        used=counts.used,
        why=_what_was_shared(counts),
    )


def _no_rate(
    measure: str,
    base: Base,
    counts: LadderCounts,
    left_open: tuple[tuple[Extreme, Extreme], Interval] | None,
    why: str,
) -> Rate:
    return Rate(
        measure=measure,
        base=base,
        count=None,
        eggs=None,
        eggs_set=counts.eggs_set,
        clear=int(counts.opened.clear),
        value=None,
        interval=left_open[1] if left_open else None,
        possible=_bounds(left_open[0]) if left_open else None,
        independent=None,
        used=counts.used,
        why=why,
    )


def _bounds(ends: tuple[Extreme, Extreme]) -> Interval:
    return Interval(ends[0].share, ends[1].share, 1.0, _POSSIBLE)


def _shown(ends: tuple[Extreme, Extreme], counts: LadderCounts, clustering: Clustering) -> Interval:
    low, high = (_clustered_limits(end, counts, clustering) for end in ends)
    assumed = f" ({MOSTLY_ASSUMED})" if clustering.assumed else ""
    what_is_open = f", and for {_POSSIBLE}" if ends[0] != ends[1] else ""
    return Interval(low[0], high[1], LEVEL, f"{_CLUSTERED}{assumed}{what_is_open}")


def _clustered_limits(end: Extreme, counts: LadderCounts, clustering: Clustering) -> tuple[float, float]:
    worth = end.eggs / design_effect(counts, end.eggs, clustering)
    quantile = t_quantile(LEVEL, degrees_of_freedom(counts, end.eggs, clustering))
    return score_limits(end.share, worth, quantile)


def _why_empty(needing: str, counts: LadderCounts, among: str) -> str:
    left_out = counts.used.left_out
    if counts.used.trays:
        return f"No {among} in these trays."
    if not left_out:
        return "No tray in this selection."
    trays = "The one tray lacks" if left_out == 1 else f"None of the {left_out} trays has"
    return f"{trays} the counts that this needs: {_NEEDS.get(needing, _NEEDS[''])}."


def _why_open(counts: LadderCounts) -> str:
    clear = int(counts.opened.clear)
    if clear:
        was = "egg was" if clear == 1 else "eggs were"
        return f"{clear} clear {was} not opened to tell infertile from early dead, so there is only a range."
    if counts.shared.clear > 0:
        return "Unopened eggs may be clear ones, which were not told apart here, so there is only a range."
    of_them = "The one unhatched egg was not" if counts.unknown == 1 else "None of the unhatched eggs was"
    return f"{of_them} opened, so there is only a range."


def _what_was_shared(counts: LadderCounts) -> str:
    said = []
    opened = int(counts.opened.total())
    if counts.unknown:
        said.append(
            f"{counts.unknown} of {counts.unknown + opened} unhatched eggs are of unknown stage; "
            "they are shared out like the opened ones of the same tray or pen."
        )
    if counts.unshared > 0:
        said.append("Pens without an opened egg follow the others.")
    if counts.opened.unstaged:
        left = int(counts.opened.unstaged)
        said.append(f"{left} left over beside the counted infertile are taken as dead, stage not recorded.")
    return " ".join(said)
