"""How many of the clear eggs were infertile, and how many died before anything showed."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from analytics.measures.clears import split_clears
from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering
from analytics.options import Selection
from analytics.store.clears import ClearCounts, clear_counts
from analytics.store.counts import cluster_sums, counting
from analytics.studies.clear_records import Clears, PenClears, SpeciesClears
from analytics.studies.clear_words import clears_sentence


def clears(store: Path, selection: Selection) -> Clears:
    """Shares the clear eggs of a selection out between infertility and very early death.

    What storage does is learnt from all records of the species; fertility only from the selection's own.

    Args:
        store: the store's file.
        selection: filters.

    Raises:
        as `counting`.
    """
    with counting(store, selection) as connection:
        clustering = estimate_clustering(cluster_sums(connection, until=date.max).get("fertility"))
        found = clear_counts(connection)
    return Clears(selection, tuple(_species(one, clustering) for one in found))


def _species(counts: ClearCounts, clustering: Clustering) -> SpeciesClears:
    wanted = tuple(code for code, asked in enumerate(counts.wanted) if asked)
    split = split_clears(counts.trays, counts.fresh, wanted, clustering)
    return SpeciesClears(
        species=counts.species,
        whole=split.whole,
        pens=tuple(PenClears(counts.pens[code], split.groups[code]) for code in wanted),
        informed=split.informed,
        advice=split.advice,
        assumed=split.assumed,
        sentence=clears_sentence(split),
    )
