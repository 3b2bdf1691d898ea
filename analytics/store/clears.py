"""What tells infertile eggs from very early dead ones: silent eggs, days of storage, fresh eggs opened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

from analytics.measures.clear_records import ClearTrays, FreshEggs
from analytics.measures.counts import ENOUGH_OPENED
from analytics.options import Selection
from analytics.store.cells import labels_in, numbers_in
from analytics.store.counts import lay_out, query_text
from analytics.store.ladder import asked_for
from analytics.values import Period

FRESH_DAYS = 7
"""Fresh eggs speak for eggs laid or set up to so many days before or after (our choice, no source)."""


@dataclass(frozen=True, slots=True)
class ClearCounts:
    """One species' trays and fresh eggs.

    Groups are the pens within what was asked for, and the same pens outside it: a pen's fertility may have
    been another one then, but what storage does was the same.

    Attributes:
        species: key.
        pens: label of each group.
        wanted: whether each group is asked for.
        trays: its trays.
        fresh: fresh eggs opened.
    """

    species: str
    pens: tuple[str, ...]
    wanted: tuple[bool, ...]
    trays: ClearTrays
    fresh: FreshEggs


def clear_counts(connection: duckdb.DuckDBPyConnection, until: date | None = None) -> tuple[ClearCounts, ...]:
    """Everything recorded of the species of a selection, its own trays marked; most eggs first.

    Args:
        connection: from `counting`; afterwards all trays of these species are laid out.
        until: last day of hatch that is learnt from; None = all.
    """
    species = tuple(one.species for one in asked_for(connection))
    if not species:
        return ()
    lay_out(connection, Selection(Period(None, until), species))
    asked = {"family": "fertile", "enough": ENOUGH_OPENED}
    connection.execute(f"CREATE OR REPLACE TEMP TABLE clear_cells AS {query_text('cells')}", asked)
    trays = connection.execute(query_text("clears")).fetchnumpy()
    fresh = connection.execute(query_text("fresh_eggs"), {"days": FRESH_DAYS}).fetchnumpy()
    found = (_counts(key, trays, fresh) for key in species)
    return tuple(one for one in found if any(one.wanted))


def _counts(species: str, trays: dict[str, Any], fresh: dict[str, Any]) -> ClearCounts:
    trays, fresh = _only(species, trays), _only(species, fresh)
    own, other = _names(trays), _names(fresh)
    groups = sorted(set(own))
    code = {group: at for at, group in enumerate(groups)}
    known = np.array([name in code for name in other], dtype=bool)
    eggs, fertile = numbers_in(fresh["eggs"]), numbers_in(fresh["fertile"])
    return ClearCounts(
        species,
        tuple(pen for pen, _ in groups),
        tuple(wanted for _, wanted in groups),
        _trays(trays, np.array([code[name] for name in own], dtype=np.int64)),
        FreshEggs(
            np.array([code[name] for name in other if name in code], dtype=np.int64),
            eggs[known],
            fertile[known],
        ),
    )


def _only(species: str, table: dict[str, Any]) -> dict[str, Any]:
    own = labels_in(table["species"]) == species
    return {name: values[own] for name, values in table.items()}


def _names(table: dict[str, Any]) -> list[tuple[str, bool]]:
    wanted = np.asarray(table["wanted"], dtype=bool)
    return list(zip(labels_in(table["pen"]).tolist(), wanted.tolist(), strict=True))


def _trays(table: dict[str, Any], group: NDArray[np.int64]) -> ClearTrays:
    batch = np.unique(labels_in(table["batch"]), return_inverse=True)[1].astype(np.int64)
    return ClearTrays(
        group=group,
        batch=batch,
        eggs=numbers_in(table["followed"]),
        silent=numbers_in(table["silent"]),
        clear=numbers_in(table["clear"]),
        infertile=numbers_in(table["infertile"]),
        early=numbers_in(table["early"]),
        known=numbers_in(table["known"]),
        storage_days=numbers_in(table["storage_days"]),
        storage_c=numbers_in(table["storage_c"]),
        days_incubated=numbers_in(table["days_incubated"]),
    )
