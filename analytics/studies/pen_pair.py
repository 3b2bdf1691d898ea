"""Two pens: one adjusted difference, the batches they shared, and how many more eggs would decide."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from analytics.comparisons.hypothesis import HypothesisTest
from analytics.comparisons.pen_model import Contrast
from analytics.comparisons.standing_out import eggs_to_decide, larger_p
from analytics.errors import DataTooThin, WrongUsage
from analytics.sheets.keys import normal_label
from analytics.studies import pen_words as words
from analytics.studies.pen_data import PenData
from analytics.studies.pen_judging import Judged
from analytics.studies.pen_records import PairAnswer, PenPair
from analytics.studies.pen_thin import thin
from analytics.values import label_order

METHOD = "contrast of two in the mixed model, batches random, Kenward-Roger, tails as trays permuted"
_TOO_MANY = 100_000
"""More eggs than this is no plan."""


def pair_answer(
    data: PenData, found: Judged, all_pairs: Sequence[PenPair], asked: tuple[str, str]
) -> PairAnswer:
    """The answer about two.

    Args:
        data: the question.
        found: the models.
        all_pairs: all pairs of the models.
        asked: two labels, compared without case and outer blanks.

    Raises:
        WrongUsage: the two are one.
        DataTooThin: one of them has no closed tray in the selection.
    """
    first, second = (_label(data, name) for name in asked)
    if first == second:
        raise WrongUsage(f"{first} twice", f"A pair is two {data.by}s", "Give two different ones")
    shared = _shared_batches(data, first, second)
    pair = _turned(all_pairs, first, second, _why_none(data, found, first, second))
    more = _more_eggs(data, found, pair)
    decided = pair.q_value is not None and pair.q_value < 0.05
    two = data.only((pair.pen_a, pair.pen_b))
    said = words.pair_sentence(
        data, found, pair, shared, words.more_words(data, found, pair, more, len(all_pairs))
    )
    return PairAnswer(
        pair=pair,
        shared_batches=shared,
        more_eggs=0 if decided else more,
        decided=decided,
        sentence=f"{said.strip()} {words.hangs_pair(two, pair_ends(found, pair))}".strip(),
    )


def _label(data: PenData, name: str) -> str:
    wanted = normal_label(name)
    known = [group.label for group in data.groups if normal_label(group.label) == wanted]
    if not known:
        raise DataTooThin(
            f"{name} has no closed tray in this selection",
            f"Its {data.by} must have hatched eggs here to be compared",
            f"Known are {', '.join(group.label for group in data.groups)}",
        )
    return known[0]


def _shared_batches(data: PenData, first: str, second: str) -> tuple[str, ...]:
    batches = [set(data.cells.batch[data.label == name].tolist()) for name in (first, second)]
    return tuple(sorted(batches[0] & batches[1], key=label_order))


def _turned(all_pairs: Sequence[PenPair], first: str, second: str, why: str) -> PenPair:
    """The pair with `first` first; `why` where there is none."""
    for one in all_pairs:
        if (one.pen_a, one.pen_b) == (first, second):
            return one
        if (one.pen_b, one.pen_a) == (first, second):
            return replace(
                one,
                pen_a=first,
                pen_b=second,
                difference=_minus(one.difference),
                low=_minus(one.high),
                high=_minus(one.low),
            )
    return PenPair(first, second, None, None, None, None, None, why)


def _why_none(data: PenData, found: Judged, first: str, second: str) -> str:
    """Why two are no pair of the models."""
    kinds = [{group.species for group in data.groups if group.label == name} for name in (first, second)]
    if not kinds[0] & kinds[1]:
        return "They are of different species."
    without = [name for name in (first, second) if not (data.label == name).any()]
    if without:
        return f"{without[0]} has no tray here with the counts that this needs."
    return thin(data, found).why if found.clustered.p_value is None else ""


def _minus(value: float | None) -> float | None:
    return None if value is None else -value


def _more_eggs(data: PenData, found: Judged, pair: PenPair) -> int | None:
    """More eggs of each pen, set side by side in trays as large as now; the worse end of the two."""
    if pair.difference is None or data.by != "pen" or not all(model.stands for model in found.models):
        return None
    own = np.isin(data.label, (pair.pen_a, pair.pen_b))
    tray = float(data.cells.eggs[own].mean())
    needed = []
    for model in found.models:
        places = [model.labels.index(name) for name in (pair.pen_a, pair.pen_b)]
        needed.append(eggs_to_decide(model.difference(*places), model.tray_variance(tray), tray))
    if any(eggs is None or eggs > _TOO_MANY for eggs in needed):
        return None
    return int(np.ceil(max(eggs for eggs in needed if eggs is not None)))


def pair_ends(found: Judged, pair: PenPair) -> list[float]:
    """p-values of the two at each end of what clear eggs leave open."""
    return [one.p_value for one in _contrasts(found, pair)]


def pair_end(found: Judged, pair: PenPair) -> int:
    """The end that is less clear about the two."""
    p_values = pair_ends(found, pair)
    return p_values.index(max(p_values)) if p_values else found.deciding_end


def _contrasts(found: Judged, pair: PenPair) -> list[Contrast]:
    if pair.p_value is None:
        return []
    labels = [str(label) for label in found.judges[0].labels]
    places = labels.index(pair.pen_a), labels.index(pair.pen_b)
    return [judge.difference(*places) for judge in found.judges]


def pair_test(found: Judged, pair: PenPair) -> HypothesisTest:
    """The clustered test of the two: F of their contrast, at the end that is less clear."""
    if pair.p_value is None:
        return HypothesisTest.missing(METHOD, pair.why)
    contrasts = _contrasts(found, pair)
    weakest = max(contrasts, key=lambda one: one.p_value)
    statistic = (weakest.estimate / weakest.error) ** 2 if weakest.error > 0 else 0.0
    dof2 = weakest.dof if np.isfinite(weakest.dof) else None
    return HypothesisTest(METHOD, statistic, weakest.stretch, dof2, larger_p(contrasts), "")
