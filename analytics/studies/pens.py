"""Is this pen really worse, or was it chance, its machine, or its storage?"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analytics.comparisons.hierarchical import shrunk_by_worth
from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.standing_out import Apart, Pair, pairs, smallest_seen, stand_out
from analytics.options import Selection
from analytics.studies import pen_words as words
from analytics.studies.pen_data import Group, PenData, pen_data
from analytics.studies.pen_judging import (
    Judged,
    independent_test,
    judged,
    machine_labels,
    stratified_test,
)
from analytics.studies.pen_opposite import stands_opposite
from analytics.studies.pen_pair import pair_answer, pair_end, pair_ends, pair_test
from analytics.studies.pen_records import (
    By,
    EggsWorth,
    Finding,
    PenPair,
    PenRow,
    PensAnswer,
    PenTests,
    PenWords,
    Shrunk,
)
from analytics.studies.pen_thin import thin
from analytics.values import label_order

LOW_IS_POOR = ("fertility", "hatch_of_set", "saleable_of_set", "hatch_of_fertile")
"""Measures of which more is better."""


def pen_comparison(
    store: Path,
    measure: str,
    selection: Selection,
    *,
    by: By = "pen",
    pair: tuple[str, str] | None = None,
) -> PensAnswer:
    """Compares pens, or lines, in one measure.

    A pen is named only when the clustered test finds a difference at 5 % and the pen's own distance from the
    others passes Holm's procedure, both with batches, machine and storage held equal. Where clear eggs leave
    the measure open, both must hold with all of them infertile and with none.

    Args:
        store: the store's file.
        measure: one of the fixed measure words.
        selection: filters.
        by: pens, or lines through their pens.
        pair: two labels to be answered about as well; the model still uses all pens of the selection.

    Raises:
        WrongUsage: no such measure; the two of a pair are one, or not in the records of the selection.
        DataTooThin: the selection has no closed tray, or none with the counts needed.
        StoreError and its kinds: as `reading`.
    """
    return compared(pen_data(store, measure, selection, by), selection, pair)


def compared(data: PenData, selection: Selection, pair: tuple[str, str] | None = None) -> PensAnswer:
    """The same on what was asked of the store before.

    Args:
        data: from `pen_data`.
        selection: the filters it was asked with.
        pair: as of `pen_comparison`.

    Raises:
        WrongUsage, DataTooThin: as `pen_comparison`.
    """
    found = judged(data)
    if pair:
        return _of_pair(data, found, selection, pair)
    rows = pen_rows(data, found)
    end = found.deciding_end
    tests = PenTests(independent_test(data, end), found.clustered, stratified_test(data, end))
    all_pairs = pen_pairs(data, found)
    findings = tuple(_finding(data, found, one) for one in _apart(data, found))
    return PensAnswer(
        measure=data.measure,
        by=data.by,
        selection=selection,
        first_day=data.hatched()[0],
        last_day=data.hatched()[1],
        rows=rows,
        tests=tests,
        clustering=eggs_worth(data),
        pairs=all_pairs,
        findings=findings,
        pair=None,
        words=_words(data, found, rows, tests, all_pairs, findings),
    )


def _of_pair(data: PenData, found: Judged, selection: Selection, asked: tuple[str, str]) -> PensAnswer:
    """The answer about two alone; all others only help to tell machine, storage and chance."""
    answer = pair_answer(data, found, pen_pairs(data, found), asked)
    names = (answer.pair.pen_a, answer.pair.pen_b)
    two = data.only(names)
    rows = tuple(row for row in pen_rows(data, found) if row.pen in names)
    end = pair_end(found, answer.pair)
    tests = PenTests(independent_test(two, end), pair_test(found, answer.pair), stratified_test(two, end))
    return PensAnswer(
        measure=data.measure,
        by=data.by,
        selection=selection,
        first_day=data.hatched()[0],
        last_day=data.hatched()[1],
        rows=rows,
        tests=tests,
        clustering=eggs_worth(two),
        pairs=(answer.pair,),
        findings=(),
        pair=answer,
        words=PenWords(
            sentence=answer.sentence,
            scope=words.scope_words(two),
            decides="clustered" if tests.clustered.p_value is not None else "",
            remedy="" if found.clustered.p_value is not None else thin(data, found).remedy,
            why=words.why_words(two, found, _reasons(data, found, names), pair_ends(found, answer.pair)),
        ),
    )


def pen_rows(data: PenData, found: Judged) -> tuple[PenRow, ...]:
    """One row a pen or line, by species and label."""
    together = _together(found)
    shrunk, ends = _shrunk(data), data.ends()[0]
    return tuple(
        PenRow(
            pen=group.label,
            species=group.species,
            rate=group.rate,
            eggs=group.rate.eggs if group.rate.eggs is not None else _sums(data, group, *ends)[1] or None,
            shrunk=shrunk.get((group.species, group.label)),
            compared=group.label in together,
            why=_why_apart(data, group, together) or group.rate.why,
        )
        for group in data.groups
    )


def _together(found: Judged) -> set[str]:
    """Labels that can be compared with another."""
    if not found.judges:
        return set()
    judge = found.judges[0]
    return {str(judge.labels[place]) for group in judge.groups if len(group) > 1 for place in group}


def _reasons(data: PenData, found: Judged, names: Sequence[str]) -> list[str]:
    """Why some of these cannot be compared."""
    together = _together(found)
    reasons = [_why_apart(data, group, together) for group in data.groups if group.label in names]
    lonely = words.never_met(_never_met(data, [name for name in names if name in together]), data.by)
    return [reason for reason in (*reasons, lonely) if reason]


def _never_met(data: PenData, names: Sequence[str]) -> list[str]:
    """Those that shared no batch with another of their species."""
    trays = data.cells
    stratum = np.char.add(np.char.add(trays.batch, "|"), trays.species)
    both = np.unique(np.stack((stratum, data.label)), axis=1)
    batches, pens = np.unique(both[0], return_counts=True)
    met = np.unique(both[1][np.isin(both[0], batches[pens > 1])])
    return [name for name in names if name not in met]


def _why_apart(data: PenData, group: Group, together: set[str]) -> str:
    """Why a pen with eggs stands alone; "" where it does not, or where nothing could be tested at all."""
    trays = data.cells
    own = (data.label == group.label) & (trays.species == group.species)
    if not together or group.label in together or not own.any():
        return ""
    machine = machine_labels(trays, data.measure)
    others = (trays.species == group.species) & ~own
    mine = np.unique(machine[own])
    named = sorted({name for both in mine.tolist() for name in both.split("|")}, key=label_order)
    shares = bool(np.isin(machine[others], mine).any())
    return words.apart_words(group.label, data.by, not others.any(), named, shares)


def _shrunk(data: PenData) -> dict[tuple[str, str], Shrunk]:
    """By species and label; from both ends of what clear eggs leave open."""
    found: dict[tuple[str, str], Shrunk] = {}
    for species in sorted({group.species for group in data.groups}):
        own = [group for group in data.groups if group.species == species]
        ends = [_shrunk_at(data, own, *end) for end in data.ends()]
        for key in ends[0]:
            at = [end[key] for end in ends]
            low, high = min(one.low for one in at), max(one.high for one in at)
            found[key] = Shrunk(sum(one.rate for one in at) / len(at), low, high)
    return found


def _shrunk_at(
    data: PenData, groups: Sequence[Group], passed: np.ndarray, eggs: np.ndarray
) -> dict[tuple[str, str], Shrunk]:
    sums = [(group, *_sums(data, group, passed, eggs)) for group in groups]
    held = [(group, came, entered) for group, came, entered in sums if entered > 0]
    rate = [came / entered for _, came, entered in held]
    worth = [data.effective(group, entered) for group, _, entered in held]
    shrunk = shrunk_by_worth(rate, worth)
    return {
        (group.species, group.label): Shrunk(mean, interval.low, interval.high)
        for (group, _, _), mean, interval in zip(held, shrunk.rates, shrunk.intervals, strict=False)
    }


def _sums(data: PenData, group: Group, passed: np.ndarray, eggs: np.ndarray) -> tuple[float, float]:
    own = (data.label == group.label) & (data.cells.species == group.species)
    return float(passed[own].sum()), float(eggs[own].sum())


def eggs_worth(data: PenData) -> EggsWorth:
    """How many independent eggs these are worth, added up pen by pen."""
    passed, eggs = data.ends()[0]
    entered = [(group, _sums(data, group, passed, eggs)[1]) for group in data.groups]
    whole = sum(count for _, count in entered)
    worth = sum(data.effective(group, count) for group, count in entered if count > 0)
    return EggsWorth(
        icc=data.clustering.rho_tray,
        deff=whole / worth,
        eggs=whole,
        worth=worth,
        sentence=words.worth_sentence(whole, worth),
    )


def _apart(data: PenData, found: Judged) -> tuple[Apart, ...]:
    return stand_out(found.judges, data.measure in LOW_IS_POOR) if found.judges else ()


def _finding(data: PenData, found: Judged, apart: Apart) -> Finding:
    labels = found.judges[0].labels
    pen, others = str(labels[apart.pen]), [str(labels[place]) for place in apart.others]
    ends = _raw(data, [pen]), _raw(data, others)
    limits = [contrast.limits() for contrast in apart.contrasts]
    return Finding(
        pen=pen,
        below=sum(contrast.estimate for contrast in apart.contrasts) < 0,
        rate=ends[0],
        others=ends[1],
        difference=sum(contrast.estimate for contrast in apart.contrasts) / len(apart.contrasts),
        low=min(low for low, _ in limits),
        high=max(high for _, high in limits),
        p_value=min(1.0, apart.p_value),
        sentence=words.finding_sentence(data, found, pen, others[0] if len(others) == 1 else "", ends),
    )


def _raw(data: PenData, labels: Sequence[str]) -> tuple[float, float]:
    """Lowest and highest raw rate of some pens together."""
    own = np.isin(data.label, labels)
    rates = [float(passed[own].sum() / eggs[own].sum()) for passed, eggs in data.ends()]
    return min(rates), max(rates)


def pen_pairs(data: PenData, found: Judged) -> tuple[PenPair, ...]:
    """All pairs of one species, those that cannot be compared with the reason why."""
    if not found.judges:
        return ()
    labels = [str(label) for label in found.judges[0].labels]
    species: dict[str, set[str]] = {}
    for group in data.groups:
        species.setdefault(group.label, set()).add(group.species)
    made = [_pair(labels, one) for one in pairs(found.judges)]
    return tuple(one for one in made if species.get(one.pen_a, set()) & species.get(one.pen_b, set()))


def _pair(labels: Sequence[str], one: Pair) -> PenPair:
    names = labels[one.first], labels[one.second]
    if not one.contrasts:
        why = "No machine or batch holds the two together, directly or through others."
        return PenPair(*names, None, None, None, None, None, why)
    limits = [contrast.limits() for contrast in one.contrasts]
    return PenPair(
        *names,
        difference=sum(contrast.estimate for contrast in one.contrasts) / len(one.contrasts),
        low=min(low for low, _ in limits),
        high=max(high for _, high in limits),
        p_value=one.p_value,
        q_value=one.q_value,
        why="",
    )


def _words(
    data: PenData,
    found: Judged,
    rows: Sequence[PenRow],
    tests: PenTests,
    all_pairs: Sequence[PenPair],
    findings: Sequence[Finding],
) -> PenWords:
    said, p_value = words.headline(findings), tests.clustered.p_value
    reason = thin(data, found) if p_value is None else None
    if reason:
        said = words.no_test(data, reason)
    elif not findings and p_value is not None:
        smallest = smallest_seen(found.judges) if found.judges else None
        said = words.no_finding(data, found, p_value, all_pairs, smallest)
        if p_value >= 0.05:
            plain = _plain(data, found, tests)
            said = f"{said} {words.pooled_words(data, tests.independent, found, plain)}".strip()
        said = f"{said} {_hangs_on_clear(data, found)}".strip()
    return PenWords(
        sentence=said,
        scope=words.scope_words(data),
        decides="" if reason else "clustered",
        remedy=reason.remedy if reason else "",
        why=words.why_words(
            data,
            found,
            _reasons(data, found, [row.pen for row in rows]),
            [test.p_value for test in found.ends],
            _opposite(data, findings),
        ),
    )


def _opposite(data: PenData, findings: Sequence[Finding]) -> dict[str, bool]:
    """Who stands out -> whether it still would with its clear eggs the opposite of the others'."""
    if len(data.ends()) < 2:
        return {}
    low_is_poor = data.measure in LOW_IS_POOR
    return {
        one.pen: stands_opposite(data, one.pen, below=one.below, low_is_poor=low_is_poor) for one in findings
    }


def _hangs_on_clear(data: PenData, found: Judged) -> str:
    if len(found.judges) < 2:
        return ""
    low_is_poor = data.measure in LOW_IS_POOR
    ends = [
        [str(judge.labels[apart.pen]) for apart in stand_out([judge], low_is_poor)] for judge in found.judges
    ]
    return words.hangs_on_clear(*ends)


def _plain(data: PenData, found: Judged, tests: PenTests) -> HypothesisTest | None:
    """The clustered test without machine and storage, where pooled eggs see a difference that it does not."""
    seen = tests.independent.p_value is not None and tests.independent.p_value < 0.05
    if not seen or not (found.machines or found.storage):
        return None
    return judged(data, adjust=False).clustered
