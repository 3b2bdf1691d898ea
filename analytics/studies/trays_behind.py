"""The trays behind a number, as they are written down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from analytics.attribution.terms import STEPS
from analytics.options import Selection
from analytics.store.counts import counting, rows_of
from analytics.studies.causes_records import ALL, TrayRow

OUTCOMES = (
    "infertile", "clear", "early_dead", "mid_dead", "late_dead", "internal_pip", "external_pip", "rotten",
    "cracked", "not_opened", "unaccounted",
)  # fmt: skip
NO_HATCH = "the hatch is not written down"
NO_STAGES = "what became of the rest is not written down"


@dataclass(frozen=True, slots=True)
class Behind:
    """Which trays are asked for; nothing given means any. Labels are compared without case and outer blanks.

    Attributes:
        pens: labels.
        batches: labels.
        machines: labels of the machines they were set or hatched in.
        step: trays that lost most in it come first, of the eggs that came so far; of "all" the latest.
        first: first month of hatch, YYYY-MM.
        last: last month.
        stored: whether those stored longest come first.
    """

    pens: tuple[str, ...] = ()
    batches: tuple[str, ...] = ()
    machines: tuple[str, ...] = ()
    step: str = ALL
    first: str = ""
    last: str = ""
    stored: bool = False


@dataclass(frozen=True, slots=True)
class TraysFound:
    """The trays of a question, the first of them as rows.

    Attributes:
        rows: those most asked for first.
        trays: how many there are in all.
        eggs: eggs set in all of them.
        chicks: chicks of all of them, kept or not.
    """

    rows: tuple[TrayRow, ...]
    trays: int
    eggs: int
    chicks: int


def trays_behind(
    store: Path, selection: Selection, behind: Behind = Behind(), most: int | None = None
) -> TraysFound:
    """Trays of closed batches, those that enter no ledger included.

    Args:
        store: the store's file.
        selection: the filters of the answer.
        behind: which of them.
        most: rows wanted at most; None = all.

    Raises:
        as `counting`.
    """
    place = STEPS.index(behind.step) + 1 if behind.step in STEPS else 0
    given = {name: list(one) if isinstance(one, tuple) else one for name, one in asdict(behind).items()}
    asked = {**given, "place": place, "most": most or 0}
    with counting(store, selection) as connection:
        rows = rows_of(connection, "tray_rows", asked)
    totals = rows[0] if rows else dict.fromkeys(("all_trays", "all_eggs", "all_chicks"), 0)
    return TraysFound(
        tuple(_row(row) for row in rows),
        int(totals["all_trays"]),
        int(totals["all_eggs"]),
        int(totals["all_chicks"]),
    )


def _row(row: Mapping[str, Any]) -> TrayRow:
    known = row["hatched"] is not None or row["in_hatch"]
    return TrayRow(
        batch=row["batch"],
        tray=row["tray"],
        pen=row["pen"],
        machine=row["incubator"],
        hatcher=row["hatcher"],
        set_on=row["set_day"],
        hatch_on=row["hatch_on"],
        storage_days=row["storage_days"],
        eggs_set=row["eggs_set"],
        hatched=(row["hatched"] or 0) + (row["culled"] or 0) if known else None,
        outcomes={word: int(row[word]) for word in OUTCOMES if row[word]},
        left_out="" if row["in_staged"] else NO_STAGES if row["in_hatch"] else NO_HATCH,
    )
