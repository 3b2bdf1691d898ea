"""Trays as a ladder: what passed each step, beside everything that a ledger of losses asks of a tray."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import duckdb
import numpy as np
from numpy.typing import NDArray

from analytics.measures.counts import ENOUGH_OPENED
from analytics.options import Selection
from analytics.store.cells import Floats, Labels, labels_in, numbers_in
from analytics.store.counts import lay_out, query_text, rows_of

Flags = NDArray[np.bool_]
Days = NDArray[np.datetime64]
Family = Literal["staged", "hatch"]
STEPS = {"staged": ("fertile", "early", "mid", "late", "shell"), "hatch": ("hatch",)}
"""Family of trays -> the steps that its counts tell."""


@dataclass(frozen=True, slots=True)
class LadderTrays:
    """Trays of closed batches, one entry a tray in every array, by batch and tray.

    Attributes:
        steps: names of the steps.
        passed: eggs that passed each step, each clear egg taken as infertile, shape (trays, steps); not whole
            where eggs of unknown stage were shared out.
        wanted: whether the tray is of the selection asked about.
        numbers: word -> array: eggs (set and not cracked), eggs_set, clear, rotten, storage_days, hen_weeks
            (NaN = not recorded).
        labels: word -> array: batch, tray, pen, setter, hatcher, species, and sire and dam ("" = not known).
        set_on: day of setting, datetime64[D].
        hatch_on: day of hatch, likewise.
        diets: name of what a diet has beyond the usual -> share of the laying days on it, 0..1.
    """

    steps: tuple[str, ...]
    passed: Floats
    wanted: Flags
    numbers: dict[str, Floats]
    labels: dict[str, Labels]
    set_on: Days
    hatch_on: Days
    diets: dict[str, Floats]

    @property
    def eggs(self) -> Floats:
        """Eggs that entered the ladder."""
        return self.numbers["eggs"]

    def kept(self, which: Flags) -> LadderTrays:
        """Some of the trays."""
        return LadderTrays(
            steps=self.steps,
            passed=self.passed[which],
            wanted=self.wanted[which],
            numbers={name: values[which] for name, values in self.numbers.items()},
            labels={name: values[which] for name, values in self.labels.items()},
            set_on=self.set_on[which],
            hatch_on=self.hatch_on[which],
            diets={name: values[which] for name, values in self.diets.items()},
        )


@dataclass(frozen=True, slots=True)
class Asked:
    """What of a species a selection holds in closed batches.

    Attributes:
        species: key.
        trays: trays.
        eggs_set: eggs set in them.
        hatch_known: eggs set in those whose hatch is written down.
    """

    species: str
    trays: int
    eggs_set: int
    hatch_known: int


def asked_for(connection: duckdb.DuckDBPyConnection) -> tuple[Asked, ...]:
    """The selection's trays of closed batches, species by species, the one with most eggs first.

    They are remembered in the temporary table `asked_for`, whatever is laid out afterwards.

    Args:
        connection: from `counting`.
    """
    connection.execute(
        "CREATE OR REPLACE TEMP TABLE asked_for AS"
        " SELECT batch_key, tray_key, species, eggs_set, in_hatch FROM chosen WHERE closed"
    )
    found = connection.execute(
        "SELECT species, count(*), sum(eggs_set), sum(CASE WHEN in_hatch THEN eggs_set ELSE 0 END)"
        " FROM asked_for GROUP BY species ORDER BY 3 DESC, 1"
    ).fetchall()
    return tuple(Asked(*row) for row in found)


def ladder_trays(connection: duckdb.DuckDBPyConnection, wide: Selection, family: Family) -> LadderTrays:
    """The trays that a ledger learns from, those of `asked_for` marked.

    Trays of which nothing tells the stage of their unknown eggs, and those without an egg, are left out.

    Args:
        connection: on which `asked_for` was called; afterwards `wide` is what is laid out.
        wide: all that is learnt from.
        family: whether every step must be told, or only the hatch.
    """
    lay_out(connection, wide)
    asked = {"family": family, "enough": ENOUGH_OPENED}
    connection.execute(f"CREATE OR REPLACE TEMP TABLE ladder_cells AS {query_text('cells')}", asked)
    table = connection.execute(query_text("ladder")).fetchnumpy()
    keys = list(zip(table["batch_key"].tolist(), table["tray_key"].tolist(), strict=True))
    diets = diet_shares(rows_of(connection, "diets", {}), keys, numbers_in(table["followed"]))
    found = _trays(table, family, diets)
    return found.kept((found.eggs > 1e-9) & (np.asarray(table["told"], dtype=bool) | (family == "hatch")))


def _trays(table: dict[str, Any], family: Family, diets: dict[str, Floats]) -> LadderTrays:
    number = {name: numbers_in(values) for name, values in table.items() if values.dtype.kind in "iuf"}
    chicks, eggs = number["hatched"] + number["culled"], number["followed"]
    later = [number["early"], number["mid"], number["late"], number["shell"]]
    passed = [chicks]
    for lost in later[::-1] if family == "staged" else ():
        passed.append(passed[-1] + lost)
    words = ("batch", "tray", "pen", "setter", "hatcher", "species", "sire", "dam")
    return LadderTrays(
        steps=STEPS[family],
        passed=np.minimum(np.column_stack(passed[::-1]), eggs[:, None]),
        wanted=np.asarray(table["wanted"], dtype=bool),
        numbers={
            "eggs": eggs,
            "eggs_set": number["eggs_set"],
            "clear": number["clear"] if family == "staged" else np.zeros(len(eggs)),
            "rotten": number["rotten_eggs"],
            "storage_days": number["storage_days"],
            "hen_weeks": number["hen_weeks"],
        },
        labels={word: labels_in(table[word]) for word in words},
        set_on=np.asarray(table["set_day"]).astype("datetime64[D]"),
        hatch_on=np.asarray(table["hatch_on"]).astype("datetime64[D]"),
        diets=diets,
    )


def diet_shares(
    rows: Sequence[dict[str, Any]], keys: Sequence[tuple[str, str]], eggs: Floats
) -> dict[str, Floats]:
    """What diets have beyond the one that most eggs were laid on, and how much of it each tray had.

    Args:
        rows: of diets.sql.
        keys: batch and tray of each tray.
        eggs: eggs of each tray.

    Returns:
        name -> share of the laying days, shape (trays,); a tray without a diet has the usual one.
    """
    place = {key: at for at, key in enumerate(keys)}
    names = ("feed", "supplement", "calcium_pct", "protein_pct")
    kinds: dict[tuple[Any, ...], Floats] = {}
    for row in rows:
        kind = tuple(row[name] for name in names)
        kinds.setdefault(kind, np.zeros(len(keys)))[place[row["batch_key"], row["tray_key"]]] += row["share"]
    if len(kinds) < 2:
        return {}
    usual = max(kinds, key=lambda kind: float(kinds[kind] @ eggs))
    found: dict[str, Floats] = {}
    for kind, share in kinds.items():
        name = _beyond(kind, usual)
        if kind != usual:
            found[name] = found.get(name, 0.0) + share
    return found


def _beyond(kind: tuple[Any, ...], usual: tuple[Any, ...]) -> str:
    """What sets a diet apart: its feed or supplement by name, else its calcium or protein."""
    said = [name for name, other in zip(kind[:2], usual[:2], strict=True) if name != other and name]
    if not said:
        said = [
            f"{what} {value:g} %"
            for what, value, other in zip(("calcium", "protein"), kind[2:], usual[2:], strict=True)
            if value != other and value is not None
        ]
    return " and ".join(said) or "another diet"
