"""How many eggs show a difference between two pens, from how alike this store's own eggs are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import numpy as np

from analytics.errors import DataTooThin, WrongUsage
from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering, LadderCounts
from analytics.measures.ladder import rates
from analytics.options import Selection
from analytics.planning.sample_size import Layout, SmallestSeen, size_needed, smallest_seen
from analytics.planning.two_pens import TwoPens
from analytics.store.cells import FAMILY_OF, Cells, cells, settled
from analytics.store.counts import Span, cluster_sums, counting, strata
from analytics.studies.pen_data import taken
from analytics.studies.plan_records import AtHand, SizeAnswer, SizeAsked, SizeGround, SizeRow
from analytics.studies.plan_words import at_hand_words, size_words
from analytics.studies.trend_words import BASES
from analytics.studies.wording import MEASURE_NAMES, counted, percent, species_words
from analytics.values import Rate

DIFFERENCES = (0.05, 0.10, 0.15, 0.20, 0.30)
"""Differences shown beside the one asked about."""
USUAL_TRAY = 24
"""Eggs of a tray where no record tells (our own choice)."""
RISES = ("cull_rate", "early_loss", "mid_loss", "late_loss", "shell_loss", "rotten")
"""Measures of which more is worse."""


@dataclass(frozen=True, slots=True)
class _Known:
    """What the records say beforehand."""

    species: str
    rate: Rate | None
    counts: LadderCounts
    clustering: Clustering
    trays: Cells


def plan_size(store: Path, asked: SizeAsked, selection: Selection) -> SizeAnswer:
    """How many eggs of two pens show a difference; with two pens in the selection, what theirs could show.

    Args:
        store: the store's file.
        asked: what is to be seen, and how eggs would be set.
        selection: which records tell the usual rate and tray; two pens = the eggs at hand.

    Raises:
        WrongUsage: an unknown measure, a rate or difference that cannot be meant, one pen or three.
        DataTooThin: no record tells the usual rate and none is given, or a pen asked about has no eggs.
        StoreError and its kinds: as `reading`.
    """
    _refuse(asked, selection)
    known = _ask(store, asked.measure, selection)
    ground = _ground(asked, known)
    layout = Layout(max(1, round(ground.tray_eggs * ground.entering)), asked.trays, asked.shared)
    smallest = None
    if asked.batches:
        planned = layout.laid_out(asked.batches)
        smallest = smallest_seen(planned, ground.rate, known.clustering, asked.power)
    answer = SizeAnswer(
        asked=asked,
        ground=ground,
        needed=_row(asked, ground, layout, abs(ground.other - ground.rate)),
        rows=_rows(asked, ground, layout),
        smallest=smallest,
    )
    at_hand = _at_hand(asked, known, ground) if selection.pens else None
    return answer.told(size_words(answer), at_hand)


def _refuse(asked: SizeAsked, selection: Selection) -> None:
    if asked.measure not in FAMILY_OF:
        raise WrongUsage(
            f"The measure {asked.measure!r}", f"Measures are {', '.join(FAMILY_OF)}", "Give one of them"
        )
    if len(selection.pens) not in (0, 2):
        raise WrongUsage(
            counted(len(selection.pens), "pen"),
            "A difference is one of two pens",
            "Give --pen twice, or not at all",
        )
    for name, share, example in (
        ("difference", asked.difference, "0.1 for 10 points"),
        ("rate", asked.rate, "0.75 for 75 %"),
    ):
        if share is not None and not 0 < share < 1:
            rule = f"A {name} is a share between 0 and 1"
            raise WrongUsage(f"A {name} of {share:g}", rule, f"Write {example}")


def _ask(store: Path, measure: str, selection: Selection) -> _Known:
    with counting(store, selection) as connection:
        found = strata(connection, [Span(selection.period, each_pen=False)])
        sums = cluster_sums(connection, selection.period.end or date.max).get(measure)
        trays = cells(connection, measure)
    known = estimate_clustering(sums)
    most = max(found, key=lambda one: one.eggs_set, default=None)
    if most is None:
        return _Known("", None, LadderCounts(), known, trays)
    rate = rates(most.families, {measure: known})[measure]
    counts: LadderCounts = getattr(most.families, FAMILY_OF[measure])
    return _Known(most.species, rate, counts, known, taken(trays, trays.species == most.species))


def _ground(asked: SizeAsked, known: _Known) -> SizeGround:
    rate, source = _rate(asked, known)
    return SizeGround(
        species=known.species,
        base=BASES[asked.measure],
        rate=rate,
        rate_from=source,
        other=_other(rate, _worse(asked) * asked.difference),
        tray_eggs=asked.tray_eggs or _usual_tray(known),
        entering=_entering(asked, known),
        clustering=known.clustering,
    )


def _worse(asked: SizeAsked) -> int:
    """Whether the poorer pen's rate lies above or below."""
    return 1 if asked.measure in RISES else -1


def _rate(asked: SizeAsked, known: _Known) -> tuple[float, str]:
    """The usual rate, and where it comes from."""
    if asked.rate is not None:
        return asked.rate, "as given"
    rate = known.rate
    if rate is None or (rate.value is None and rate.possible is None):
        raise DataTooThin(
            f"No closed batch here tells the usual {MEASURE_NAMES[asked.measure].lower()}",
            "A plan needs the rate to start from",
            "Give it, as in --rate 0.75",
        )
    own = f"the usual rate of your {species_words(known.species)} eggs"
    if rate.value is not None:
        return rate.value, own
    assert rate.possible
    return (rate.possible.low + rate.possible.high) / 2, f"{own}, the middle of what clear eggs leave open"


def _usual_tray(known: _Known) -> int:
    """Eggs set in an average tray."""
    trays = known.counts.used.trays
    return max(1, round(known.counts.eggs_set / trays)) if trays else USUAL_TRAY


def _entering(asked: SizeAsked, known: _Known) -> float:
    """Of the eggs set, the share that the rate is a share of; the middle of what clear eggs leave open."""
    if not known.counts.eggs_set:
        return 1.0
    ends = [settled(known.trays, asked.measure, clear_is_infertile=way)[1].sum() for way in (True, False)]
    return float(min(max(np.mean(ends) / known.counts.eggs_set, 0.0), 1.0))


def _other(rate: float, difference: float) -> float:
    other = rate + difference
    if not 0 < other < 1:
        raise WrongUsage(
            f"{percent(abs(difference))} points from a rate of {percent(rate)} %",
            "The other rate would not lie between 0 and 100 %",
            "Ask about a smaller difference",
        )
    return other


def _row(asked: SizeAsked, ground: SizeGround, layout: Layout, gap: float) -> SizeRow:
    other = ground.rate + _worse(asked) * gap
    found = size_needed(ground.rate, other, layout, ground.clustering, asked.power)
    return SizeRow(
        difference=gap,
        needed=found,
        eggs_set=None if found.trays is None else found.trays * ground.tray_eggs,
        independent_set=None if found.independent_eggs is None else found.independent_eggs / ground.entering,
    )


def _rows(asked: SizeAsked, ground: SizeGround, layout: Layout) -> tuple[SizeRow, ...]:
    gaps = [gap for gap in DIFFERENCES if 0 < ground.rate + _worse(asked) * gap < 1]
    return tuple(_row(asked, ground, layout, gap) for gap in gaps)


def _at_hand(asked: SizeAsked, known: _Known, ground: SizeGround) -> AtHand:
    """What the trays of the two pens could have shown."""
    _, eggs = settled(known.trays, asked.measure, clear_is_infertile=True)
    used = eggs > 0
    pen, batch = known.trays.pen[used], known.trays.batch[used]
    pens = np.unique(pen).tolist()
    if len(pens) < 2:
        raise DataTooThin(
            f"Of the two pens {f'only {pens[0]} has' if pens else 'neither has'} eggs that tell this",
            "Both need closed batches with the counts of this measure, and birds of one species",
            "Widen the days asked for, or take other pens",
        )
    trays = TwoPens.of(eggs[used], pen, batch)
    seen = smallest_seen(trays, ground.rate, known.clustering, asked.power)
    return _told(asked, pens, batch, trays, ground.rate, seen)


def _told(
    asked: SizeAsked,
    pens: Sequence[str],
    batch: np.ndarray,
    trays: TwoPens,
    rate: float,
    seen: SmallestSeen,
) -> AtHand:
    batches = [set(batch[trays.pen == pen].tolist()) for pen in (0, 1)]
    found = AtHand(
        pens=(pens[0], pens[1]),
        eggs=tuple(float(trays.eggs[trays.pen == pen].sum()) for pen in (0, 1)),
        trays=tuple(int((trays.pen == pen).sum()) for pen in (0, 1)),
        shared_batches=len(batches[0] & batches[1]),
        rate=rate,
        seen=seen,
    )
    return found.told(at_hand_words(asked, found))
