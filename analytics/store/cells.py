"""Trays as arrays for the tests and trends: what passed, what entered, and beside what.

A tray is the smallest piece whose eggs share everything that is recorded; nothing below it crosses from the
store. Which trays enter and how unknown eggs are shared: `analytics.measures.counts`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import duckdb
import numpy as np
from numpy.typing import NDArray

from analytics.measures.counts import ENOUGH_OPENED
from analytics.store.counts import query_text

Floats = NDArray[np.float64]
Labels = NDArray[np.str_]

FAMILY_OF: dict[str, str] = {
    "fertility": "fertile",
    "hatch_of_set": "hatch",
    "saleable_of_set": "hatch",
    "cull_rate": "culled",
    "hatch_of_fertile": "fertile",
    "early_loss": "staged",
    "mid_loss": "staged",
    "late_loss": "staged",
    "shell_loss": "staged",
    "rotten": "rotten",
}
"""Measure word -> the family of trays that its rate needs."""
_CLEAR_PASSES = ("fertility", "early_loss")
_CLEAR_ENTERS = ("early_loss", "mid_loss", "late_loss", "shell_loss", "hatch_of_fertile")


@dataclass(frozen=True, slots=True)
class Cells:
    """Trays of one measure, one entry a tray in every array.

    Attributes:
        passed: eggs in the numerator with every clear egg taken as infertile; not whole where eggs of unknown
            stage were shared out.
        eggs: eggs in the denominator, likewise.
        clear: clear eggs that were not told apart and matter to this measure (0 where none does).
        pen: label.
        batch: label.
        setter: label of the machine until transfer, one spelling each.
        hatcher: the machine after it, likewise.
        hatch_on: day of hatch, datetime64[D].
        storage_days: mean days of storage; NaN where not recorded.
        hen_weeks: hens' age at laying in weeks; NaN where not recorded.
        males_per_female: on the middle day of laying; NaN where not recorded.
        species: key.
    """

    passed: Floats
    eggs: Floats
    clear: Floats
    pen: Labels
    batch: Labels
    setter: Labels
    hatcher: Labels
    hatch_on: NDArray[np.datetime64]
    storage_days: Floats
    hen_weeks: Floats
    males_per_female: Floats
    species: Labels

    @property
    def month(self) -> NDArray[np.datetime64]:
        """Month of hatch, datetime64[M]."""
        return self.hatch_on.astype("datetime64[M]")


def cells(connection: duckdb.DuckDBPyConnection, measure: str) -> Cells:
    """The chosen trays of closed batches for one measure.

    Trays without an egg in the denominator, and trays whose unknown eggs nothing tells, are left out.

    Args:
        connection: from `counting`.
        measure: one of `FAMILY_OF`.
    """
    asked = {"family": FAMILY_OF[measure], "enough": ENOUGH_OPENED}
    table = connection.execute(query_text("cells"), asked).fetchnumpy()
    passed, eggs, clear = _counts(table, measure)
    needs_stage = FAMILY_OF[measure] in ("fertile", "staged")
    kept = eggs + (clear if measure in _CLEAR_ENTERS else 0) > 1e-9
    kept &= np.asarray(table["told"], dtype=bool) | (not needs_stage)
    pen, batch, setter, hatcher, species = (
        labels_in(table[name])[kept] for name in ("pen", "batch", "setter", "hatcher", "species")
    )
    storage_days, hen_weeks, males = (
        numbers_in(table[name])[kept] for name in ("storage_days", "hen_weeks", "males_per_female")
    )
    return Cells(
        passed=passed[kept],
        eggs=eggs[kept],
        clear=clear[kept],
        pen=pen,
        batch=batch,
        setter=setter,
        hatcher=hatcher,
        hatch_on=np.asarray(table["hatch_on"]).astype("datetime64[D]")[kept],
        storage_days=storage_days,
        hen_weeks=hen_weeks,
        males_per_female=males,
        species=species,
    )


def settled(found: Cells, measure: str, *, clear_is_infertile: bool) -> tuple[Floats, Floats]:
    """Eggs that passed and eggs that entered at one end of what clear eggs leave open.

    Args:
        found: the trays.
        measure: their measure.
        clear_is_infertile: every clear egg infertile, or every one dead before anything showed.
    """
    if clear_is_infertile or not found.clear.any():
        return found.passed, found.eggs
    passed = found.passed + found.clear if measure in _CLEAR_PASSES else found.passed
    eggs = found.eggs + found.clear if measure in _CLEAR_ENTERS else found.eggs
    return passed, eggs


def lines_of(connection: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Pen -> its line, of the live pens; "" where none is recorded."""
    rows = connection.execute("SELECT pen, line FROM pens WHERE withdrawn_in IS NULL").fetchall()
    return {pen: line or "" for pen, line in rows}


def _counts(table: dict[str, Any], measure: str) -> tuple[Floats, Floats, Floats]:
    """Numerator, denominator with clear eggs as infertile, and the clear eggs that matter."""
    column = {name: numbers_in(table[name]) for name in table if table[name].dtype.kind in "if"}
    none = np.zeros(len(column["eggs_set"]))
    chicks = column["hatched"] + column["culled"]
    fertile = chicks + column["early"] + column["mid"] + column["late"] + column["shell"]
    top = {
        "fertility": fertile,
        "hatch_of_set": chicks,
        "saleable_of_set": column["hatched"],
        "cull_rate": column["culled"],
        "hatch_of_fertile": chicks,
        "rotten": column["rotten"],
    }
    base = {"fertility": column["followed"], "cull_rate": chicks}
    of_set = ("hatch_of_set", "saleable_of_set", "rotten")
    passed = top[measure] if measure in top else column[measure.removesuffix("_loss")]
    eggs = column["eggs_set"] if measure in of_set else base.get(measure, fertile)
    matters = measure in _CLEAR_PASSES + _CLEAR_ENTERS
    return np.minimum(passed, eggs), eggs, column["clear"] if matters else none


def numbers_in(values: Any) -> Floats:
    """A column of an answer as numbers, NaN where it is blank."""
    found: Floats = np.ma.filled(np.ma.asarray(values, dtype=float), np.nan)
    return found


def labels_in(values: Any) -> Labels:
    """A column of an answer as text, "" where it is blank."""
    return np.asarray(np.ma.filled(values, "")).astype(str)
