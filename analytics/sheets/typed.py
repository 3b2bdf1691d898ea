"""Rows that were typed on a page: through the same door, and the same rules, as a file of the sheet."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

from analytics.sheets.contract import BY_NAME, REQUIRED_SHEETS
from analytics.sheets.history import history
from analytics.sheets.load import ByHand, load
from analytics.sheets.report import LoadReport

Cells = Mapping[str, str]
"""Column -> what was typed; "" = not recorded. A column that is not named stays as the store has it."""


def keep_rows(
    store: Path,
    rows: Mapping[str, Sequence[Cells]],
    by_hand: ByHand,
    *,
    accept_corrections: bool = False,
    dry_run: bool = False,
    who: str | None = None,
    today: date | None = None,
) -> LoadReport:
    """Keeps typed rows, all of them or none; the first ones make the store.

    Args:
        store: the store; made when it is not there and the rows are right.
        rows: sheet -> its rows; all rows of a sheet name the same columns.
        by_hand: the page, and the reason of a correction.
        accept_corrections: whether recorded values may change.
        dry_run: whether to check only.
        who: name for the ledger, None = the user's.
        today: the day that counts as today, None = the computer's.

    Raises:
        LoadRejected: rules are broken; row 2 of a sheet is the first one typed.
        CorrectionsNotAccepted: recorded values would change.
        StoreError and its kinds: as `writing`.
    """
    with tempfile.TemporaryDirectory(prefix="penwise-") as folder:
        sheets = {**{name: () for name in REQUIRED_SHEETS if not store.exists()}, **rows}
        paths = [_write(Path(folder), name, typed) for name, typed in sheets.items()]
        return load(
            store,
            paths,
            accept_corrections=accept_corrections,
            dry_run=dry_run,
            who=who,
            today=today,
            by_hand=by_hand,
        )


def of_row(store: Path, sheet: str, parts: Sequence[str], cells: Cells) -> Cells:
    """Some cells of a row that is there, with what a row of its sheet cannot do without.

    Args:
        store: the store.
        sheet: name of the sheet.
        parts: the values of its key columns, in their order; "" for one that may be blank.
        cells: what is to stand there.

    Raises:
        WrongUsage: no such row.
        StoreError and its kinds: as `reading`.
    """
    row = history(store, sheet, parts, last=1).row
    assert row is not None  # a whole key that no row has is refused
    found = BY_NAME[sheet]
    kept = {name: text or "" for name, text in row.cells}
    needed = [column.name for column in found.columns if column.required or column.name in found.key]
    return {**{name: kept[name] for name in needed}, **cells}


def _write(folder: Path, name: str, rows: Sequence[Cells]) -> Path:
    path = folder / f"{name}.csv"
    columns = list(rows[0]) if rows else list(BY_NAME[name].by_name)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns)
        writer.writeheader()
        writer.writerows(rows)
    return path
