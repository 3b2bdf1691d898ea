"""Does a rate go with hens' age, storage, time or males, or is it chance, or which pens are stored long?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Literal

import numpy as np

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.slope import clustered_slope
from analytics.comparisons.slope_records import ClusteredSlope, CurvePoint, OddsRatio, Slope
from analytics.comparisons.trend import trend as independent_trend
from analytics.errors import DataTooThin, WrongUsage
from analytics.measures.clustering import degrees_of_freedom, design_effect, estimate_clustering
from analytics.measures.counts import NO_TRAYS, Clustering, LadderCounts
from analytics.measures.intervals import LEVEL, score_limits, t_quantile
from analytics.options import Selection
from analytics.store.cells import FAMILY_OF, Cells, Floats, cells, settled
from analytics.store.changes import DatedChange, dated_changes
from analytics.store.counts import cluster_sums, counting
from analytics.studies import trend_words as words
from analytics.studies.pen_data import taken
from analytics.studies.pen_judging import machine_labels
from analytics.studies.pen_words import measure_words
from analytics.studies.trend_axis import Axis, axis_of, share_of_time
from analytics.studies.trend_records import (
    Along,
    ChangeMark,
    TrendAnswer,
    TrendPoint,
    TrendSlopes,
    TrendTests,
)
from analytics.values import Used

ALONG: tuple[Along, ...] = ("hen_age", "storage", "month", "males_per_female")
INDEPENDENT = "Cochran-Armitage trend, as if every egg were independent"
_BETWEEN = "pens' own rates on their own mean, batches random, Knapp-Hartung"
_DECIMALS = {"males_per_female": 2}
Ends = list[tuple[Floats, Floats]]


def trend(store: Path, measure: str, by: Along, selection: Selection) -> TrendAnswer:
    """How one measure goes with one number of the trays.

    The slope within pens decides, machines held equal and batches random; where the number never varies
    within a pen, the slope between pens does, and the answer says so. Where clear eggs leave the measure
    open, a trend must hold with all of them infertile and with none.

    Args:
        store: the store's file.
        measure: one of the fixed measure words.
        by: what the trend runs along.
        selection: filters.

    Returns:
        The answer; where the records allow no slope `words.why` says why and what there is stands.

    Raises:
        WrongUsage: no such measure, or nothing such to run along.
        DataTooThin: the selection has no closed tray with the counts needed.
        StoreError and its kinds: as `reading`.
    """
    _check(measure, by)
    with counting(store, selection) as connection:
        trays = _with_eggs(cells(connection, measure))
        if not len(trays.eggs):
            raise _nothing(measure)
        known = estimate_clustering(cluster_sums(connection, selection.period.end or date.max).get(measure))
        machines = sorted({*trays.setter.tolist(), *trays.hatcher.tolist()})
        first_day, last_day = trays.hatch_on.min().astype(date), trays.hatch_on.max().astype(date)
        found = dated_changes(connection, first_day, last_day, np.unique(trays.pen).tolist(), machines)
    axis = axis_of(trays, by)
    return _answer(measure, selection, trays, axis, known, found)


def _with_eggs(trays: Cells) -> Cells:
    """Trays with eggs in the denominator whatever clear ones were."""
    return taken(trays, trays.eggs > 1e-9)


def _check(measure: str, by: str) -> None:
    if measure not in FAMILY_OF:
        raise WrongUsage(
            f"The measure {measure!r}", f"Measures are {', '.join(FAMILY_OF)}", "Give one of them"
        )
    if by not in ALONG:
        raise WrongUsage(f"A trend by {by!r}", f"Trends run along {', '.join(ALONG)}", "Give one of them")


def _nothing(measure: str) -> DataTooThin:
    return DataTooThin(
        f"No closed tray of this selection tells {measure_words(measure)}",
        "A trend needs batches that hatched, with the counts of this measure",
        "Widen the days, pens or machines asked for, or write the counts into the sheet trays",
    )


def _answer(
    measure: str,
    selection: Selection,
    trays: Cells,
    axis: Axis,
    known: Clustering,
    changes: Sequence[DatedChange],
) -> TrendAnswer:
    ends = _ends(trays, measure)
    fits = _fits(trays, axis, measure, ends)
    slopes = _slopes(axis.by, fits)
    tests = _tests(trays, axis, ends, fits, slopes)
    told = ~np.isnan(axis.x)
    used = Used(int(told.sum()), len(np.unique(trays.batch[told])), int((~told).sum()))
    of_time = share_of_time(axis.x[told], trays.hatch_on[told]) if told.any() else 0.0
    facts = words.Facts(
        measure=measure,
        by=axis.by,
        used=used,
        pens=len(np.unique(trays.pen[told])),
        machines=len(np.unique(machine_labels(trays, measure))),
        species=len(np.unique(trays.species)),
        clear=float(trays.clear.sum()),
        months=len(np.unique(trays.month)) > 1,
        of_time=of_time,
        mean=float(np.mean([passed[told].sum() / max(eggs[told].sum(), 1e-9) for passed, eggs in ends])),
    )
    return TrendAnswer(
        measure=measure,
        by=axis.by,
        base=words.BASES[measure],
        selection=selection,
        first_day=axis.first_day,
        points=_points(trays, axis, ends, known),
        tests=tests,
        slopes=slopes,
        curve=_joined_curve([fit.curve for fit in fits]) if tests.decides == "within_pens" else (),
        changes=tuple(
            ChangeMark(one.changed_on, axis.at(one.changed_on), one.scope, one.target, one.what)
            for one in changes
        ),
        used=used,
        words=words.trend_words(facts, tests, slopes),
    )


def _ends(trays: Cells, measure: str) -> Ends:
    """Passed and entered eggs a tray; twice where clear eggs leave it open: all infertile, then none."""
    ways = (True, False) if trays.clear.any() else (True,)
    return [settled(trays, measure, clear_is_infertile=way) for way in ways]


def _fits(trays: Cells, axis: Axis, measure: str, ends: Ends) -> list[ClusteredSlope]:
    machine = machine_labels(trays, measure)
    fits: list[ClusteredSlope] = []
    for passed, eggs in ends:
        near = fits[0].tray_rho if fits else None
        fits.append(clustered_slope(passed, eggs, axis.x, trays.pen, trays.batch, (machine,), near))
    return fits


def _slopes(by: Along, fits: Sequence[ClusteredSlope]) -> TrendSlopes:
    same, between = (_joined([getattr(fit, name) for fit in fits]) for name in ("same_batch", "between"))
    if by in ("hen_age", "month"):
        same = Slope.missing("Trays of one pen in one batch differ here only by how long they were stored.")
    if by == "month":
        between = Slope.missing("Pens of other months are no comparison along time.")
    return TrendSlopes(_joined([fit.within for fit in fits]), same, between)


def _joined(ends: Sequence[Slope]) -> Slope:
    """One slope of two ends: the middle, the wider interval, the larger p; p = 1 where the signs differ."""
    if len(ends) == 1:
        return ends[0]
    missing = next((one for one in ends if one.estimate is None), None)
    if missing:
        return missing
    one, other = ends
    (low, middle, high, p_value), (other_low, other_middle, other_high, other_p) = one.known(), other.known()
    weaker = one if p_value >= other_p else other
    return Slope(
        estimate=(middle + other_middle) / 2,
        low=min(low, other_low),
        high=max(high, other_high),
        error=weaker.error,
        dof=weaker.dof,
        p_value=max(p_value, other_p) if middle * other_middle > 0 else 1.0,
        why="",
        odds=_joined_odds(one.odds, other.odds),
    )


def _joined_odds(one: OddsRatio | None, other: OddsRatio | None) -> OddsRatio | None:
    if one is None or other is None:
        return None
    return OddsRatio(
        float(np.sqrt(one.ratio * other.ratio)), min(one.low, other.low), max(one.high, other.high)
    )


def _tests(
    trays: Cells, axis: Axis, ends: Ends, fits: Sequence[ClusteredSlope], slopes: TrendSlopes
) -> TrendTests:
    decides: Literal["within_pens", "between_pens", ""] = ""
    if slopes.within_pens.estimate is not None:
        decides = "within_pens"
    elif slopes.between_pens.estimate is not None:
        decides = "between_pens"
    between = decides == "between_pens"
    return TrendTests(
        independent=_independent(axis, *ends[0]),
        method=_BETWEEN if between else fits[0].method,
        decides=decides,
        clustered=slopes.between_pens if between else slopes.within_pens,
        ends=tuple(fit.between if between else fit.within for fit in fits),
        bend=max((fit.bend for fit in fits), key=lambda test: -1.0 if test.p_value is None else test.p_value),
    )


def _independent(axis: Axis, passed: Floats, eggs: Floats) -> HypothesisTest:
    """Whole eggs, trays of one x together: tenths of a day, week or month, hundredths of a male."""
    whole = np.rint(eggs)
    kept = ~np.isnan(axis.x) & (whole > 0)
    scores, code = np.unique(np.round(axis.x[kept], _DECIMALS.get(axis.by, 1)), return_inverse=True)
    came = np.bincount(code, weights=np.minimum(np.rint(passed), whole)[kept], minlength=len(scores))
    found = independent_trend(came, np.bincount(code, weights=whole[kept], minlength=len(scores)), scores)
    return replace(found.test, method=INDEPENDENT)


def _points(trays: Cells, axis: Axis, ends: Ends, known: Clustering) -> tuple[TrendPoint, ...]:
    told = ~np.isnan(axis.x)
    made = []
    for group in np.unique(axis.group[told]).tolist():
        own = told & (axis.group == group)
        point = _point(
            taken(trays, own), axis, group, axis.x[own], [(p[own], n[own]) for p, n in ends], known
        )
        made += [point] if point else []
    return tuple(made)


def _point(
    trays: Cells, axis: Axis, group: int, x: Floats, ends: Ends, known: Clustering
) -> TrendPoint | None:
    sums = [(float(passed.sum()), float(eggs.sum())) for passed, eggs in ends]
    if any(eggs <= 1e-9 for _, eggs in sums):
        return None
    limits = [_limits(passed, eggs, trays.batch, known) for passed, eggs in ends]
    rates = [count / eggs for count, eggs in sums]
    count, eggs = (float(np.mean([one[place] for one in sums])) for place in (0, 1))
    return TrendPoint(
        x=float(np.average(x, weights=sum(eggs for _, eggs in ends))),
        label=axis.label(group),
        eggs=eggs,
        count=count,
        rate=count / eggs,
        low=min(low for low, _ in limits),
        high=max(high for _, high in limits),
        possible_low=min(rates),
        possible_high=max(rates),
        trays=len(x),
        batches=len(np.unique(trays.batch)),
    )


def _limits(passed: Floats, eggs: Floats, batch: np.ndarray, known: Clustering) -> tuple[float, float]:
    """Wilson's limits on as many independent eggs as these are worth."""
    _, code = np.unique(batch, return_inverse=True)
    entered = float(eggs.sum())
    counts = LadderCounts(
        used=NO_TRAYS,
        eggs_set=max(1, round(entered)),
        tray_squares=float(eggs @ eggs),
        batch_squares=float((np.bincount(code, weights=eggs) ** 2).sum()),
    )
    worth = entered / design_effect(counts, entered, known)
    quantile = t_quantile(LEVEL, degrees_of_freedom(counts, entered, known))
    return score_limits(min(1.0, float(passed.sum()) / entered), worth, quantile)


def _joined_curve(curves: Sequence[tuple[CurvePoint, ...]]) -> tuple[CurvePoint, ...]:
    """The middle of two ends with the wider band; only where both stand."""
    if len({len(curve) for curve in curves}) != 1:
        return ()
    return tuple(
        CurvePoint(
            x=at[0].x,
            rate=float(np.mean([point.rate for point in at])),
            low=min(point.low for point in at),
            high=max(point.high for point in at),
        )
        for at in zip(*curves, strict=True)
    )
