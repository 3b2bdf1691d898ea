"""Counts per stratum out of the store: sums over trays, so that rows never cross.

`counting` opens the store and lays the live trays out once (`trays.sql`); the other functions ask that
table. How eggs of unknown stage are shared, and which tray enters which family, is written down in
`analytics.measures.counts`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

import duckdb

from analytics.errors import WrongUsage
from analytics.measures.counts import ENOUGH_OPENED, ClusterSums, Families, LadderCounts, Stages
from analytics.options import Selection
from analytics.reference.species import species_table
from analytics.store.connection import reading
from analytics.values import Period, Used

STAGES = ("infertile", "clear", "early", "mid", "late", "shell", "unstaged")
LABEL_OF = "CREATE OR REPLACE TEMP MACRO label_of(label) AS lower(trim(nfc_normalize(label)))"
"""How the queries compare labels: composed, without outer blanks and case (cells are trimmed on load)."""
FAMILIES = ("hatch", "fertile", "staged", "culled", "rotten")


@dataclass(frozen=True, slots=True)
class Span:
    """Days of hatch that are summed together.

    Attributes:
        period: the days.
        each_pen: whether each pen is summed by itself too.
    """

    period: Period
    each_pen: bool = True


@dataclass(frozen=True, slots=True)
class Stratum:
    """The counts of one species, or of one pen of it, in one span of days.

    Attributes:
        span: which of the spans asked for, from 0.
        species: key.
        pen: label, or "" for all pens of the species.
        eggs_set: eggs set in closed batches, also in trays that enter no family.
        chicks: hatched and culled chicks, likewise.
        batches: closed batches.
        families: the sums.
    """

    span: int
    species: str
    pen: str
    eggs_set: int
    chicks: int
    batches: int
    families: Families


@contextmanager
def counting(store: Path, selection: Selection) -> Iterator[duckdb.DuckDBPyConnection]:
    """A reading connection on which the trays are laid out; everything asked in the block is one state.

    Two temporary tables: `trays_of`, every live tray of a live batch and pen, and `chosen`, those of the
    selection.

    Raises:
        WrongUsage: a species, pen or machine that no record names.
        as `reading`.
    """
    with reading(store) as connection:
        lay_out(connection, selection)
        _refuse_strangers(connection, selection)
        yield connection


def _refuse_strangers(connection: duckdb.DuckDBPyConnection, selection: Selection) -> None:
    """A filter that names nothing is a slip, not an empty answer; an empty store knows no names."""
    for what, table, asked in (
        ("species", "pens", selection.species),
        ("pen", "pens", selection.pens),
        ("incubator", "incubators", selection.incubators),
    ):
        known = f"SELECT label_of({what}), min({what}) FROM {table} GROUP BY 1 ORDER BY 1"  # noqa: S608
        labels = dict(connection.execute(known).fetchall()) if asked else {}
        for given in asked if labels else ():
            _refuse_stranger(connection, what, given, labels)


def _refuse_stranger(
    connection: duckdb.DuckDBPyConnection, what: str, given: str, labels: Mapping[str, str]
) -> None:
    ((key,),) = connection.execute("SELECT label_of(?)", [given]).fetchall()
    if key in labels:
        return
    near = get_close_matches(key, list(labels), 1)
    repair = f"Did you mean {labels[near[0]]}?" if near else f"There are {', '.join(labels.values())}"
    raise WrongUsage(f"No {what} {given} in these records", f"A filter names a {what} of the records", repair)


def lay_out(connection: duckdb.DuckDBPyConnection, selection: Selection) -> None:
    """Makes the two tables of `counting` anew on any connection to a store's tables."""
    connection.execute(LABEL_OF)
    known = species_table().values()
    days = {
        "species": [species.key for species in known],
        "shortest_days": [float(species.shortest_days) for species in known],
        "longest_days": [float(species.longest_days) for species in known],
    }
    connection.execute(query_text("trays"), days)
    earliest, latest = _ends(selection.period)
    filters = {
        "earliest": earliest,
        "latest": latest,
        "species": list(selection.species),
        "pens": list(selection.pens),
        "incubators": list(selection.incubators),
    }
    connection.execute(query_text("chosen"), filters)


@cache
def query_text(name: str) -> str:
    """The query in the file of that name beside this module."""
    return Path(__file__).with_name(f"{name}.sql").read_text(encoding="utf-8")


def strata(connection: duckdb.DuckDBPyConnection, spans: Sequence[Span]) -> tuple[Stratum, ...]:
    """Counts of the chosen trays of closed batches by species and by pen, for each span.

    Unknown eggs are shared within a span, so a span's counts do not depend on the others asked for.

    Args:
        connection: from `counting`.
        spans: they may overlap.

    Returns:
        by span: all pens of each species (pen ""), then each pen where asked; none without trays.
    """
    ends = [_ends(span.period) for span in spans]
    asked = {
        "span_no": list(range(len(spans))),
        "first_day": [first for first, _ in ends],
        "last_day": [last for _, last in ends],
        "each_pen": [span.each_pen for span in spans],
        "enough": ENOUGH_OPENED,
    }
    by_stratum: dict[tuple[int, str, str], dict[str, Mapping[str, Any]]] = {}
    for row in rows_of(connection, "strata", asked):
        by_stratum.setdefault((row["span_no"], row["species"], row["pen"]), {})[row["family"]] = row
    return tuple(_stratum(*names, families) for names, families in by_stratum.items())


def rows_of(
    connection: duckdb.DuckDBPyConnection, name: str, values: Mapping[str, Any]
) -> list[dict[str, Any]]:
    """The rows of a named query, by column name; only for queries whose answers are small."""
    done = connection.execute(query_text(name), values)
    names = [column[0] for column in done.description or ()]
    return [dict(zip(names, row, strict=True)) for row in done.fetchall()]


def _ends(period: Period) -> tuple[date, date]:
    return period.start or date.min, period.end or date.max


def _stratum(span: int, species: str, pen: str, rows: Mapping[str, Mapping[str, Any]]) -> Stratum:
    every = rows["all"]
    chicks = every["hatched"] + every["culled"]
    return Stratum(span, species, pen, every["eggs_set"], chicks, every["batches"], _families(rows))


def _families(rows: Mapping[str, Mapping[str, Any]]) -> Families:
    trays = rows["all"]["trays"]
    sums = {name: _ladder(rows.get(name), trays) for name in FAMILIES}
    return Families(
        **sums,
        rotten_eggs=rows["rotten"]["rotten"] if "rotten" in rows else 0,
        unaccounted=rows["hatch"]["unaccounted"] if "hatch" in rows else 0,
    )


def _ladder(row: Mapping[str, Any] | None, trays: int) -> LadderCounts:
    if row is None:
        return LadderCounts(used=Used(trays=0, batches=0, left_out=trays))
    return LadderCounts(
        used=Used(trays=row["trays"], batches=row["batches"], left_out=trays - row["trays"]),
        eggs_set=row["eggs_set"],
        cracked=row["cracked"],
        hatched=row["hatched"],
        culled=row["culled"],
        opened=Stages(*(row[stage] for stage in STAGES)),
        unknown=row["unknown"],
        shared=Stages(*(row[f"shared_{stage}"] for stage in STAGES)),
        unshared=row["unshared"],
        opened_squares=row["opened_squares"],
        tray_squares=row["tray_squares"],
        batch_squares=row["batch_squares"],
    )


def cluster_sums(connection: duckdb.DuckDBPyConnection, until: date) -> dict[str, ClusterSums]:
    """Per measure, the sums that tell how alike the eggs of a tray and of a batch are.

    From every closed batch up to the day `until`, whatever the filters; a measure for which no tray tells
    anything is missing.
    """
    rows = rows_of(connection, "clustering", {"until": until, "enough": ENOUGH_OPENED})
    return {
        row["measure"]: ClusterSums(
            trays=row["trays"],
            pens=row["pens"],
            batches=row["batches"],
            dispersion=row["dispersion"],
            tray_weight=row["tray_weight"],
            shared_pens=row["shared_pens"],
            cross=row["cross_products"],
            cross_own=row["cross_own"],
            cross_weight=row["cross_weight"],
        )
        for row in rows
    }


def breeder_targets(connection: duckdb.DuckDBPyConnection) -> dict[str, dict[str, float]]:
    """The breeder's own aims: species key -> measure word -> share."""
    aims: dict[str, dict[str, float]] = {}
    for row in rows_of(connection, "targets", {}):
        aims.setdefault(row["species"], {})[row["measure"]] = row["target"]
    return aims
