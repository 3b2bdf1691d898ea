"""How many of the clear eggs were infertile, and how many died before anything showed."""

from __future__ import annotations

from pathlib import Path

from analytics.measures.clears import split_clears
from analytics.options import Selection
from analytics.store.clears import ClearCounts, clear_counts
from analytics.store.counts import counting
from analytics.studies.clear_records import Clears, PenClears, SpeciesClears
from analytics.studies.clear_words import clears_sentence


def clears(store: Path, selection: Selection) -> Clears:
    """Shares the clear eggs of a selection out between infertility and very early death.

    What storage does is learnt from all records of the species up to the selection's last day; fertility only
    from the selection's own.

    Args:
        store: the store's file.
        selection: filters.

    Raises:
        as `counting`.
    """
    with counting(store, selection) as connection:
        found = clear_counts(connection, selection.period.end)
    return Clears(selection, tuple(_species(one) for one in found))


def _species(counts: ClearCounts) -> SpeciesClears:
    wanted = tuple(code for code, asked in enumerate(counts.wanted) if asked)
    split = split_clears(counts.trays, counts.fresh, wanted)
    return SpeciesClears(
        species=counts.species,
        whole=split.whole,
        pens=tuple(PenClears(counts.pens[code], split.groups[code]) for code in wanted),
        informed=split.informed,
        advice=split.advice,
        assumed=split.assumed,
        sentence=clears_sentence(split),
    )
