"""What the page of records says about changes and single rows; see `words`."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.sheets.history import RowChange, StoredRow
from analytics.sheets.keys import short_times
from analytics.studies.wording import counted
from dashboard import words

CHANGES_HEADING = "What was changed"
CHANGES_NONE = "Nothing that was written down has been changed or set aside so far."
COL_WHEN = "When"
COL_ROW = "Row"
COL_WHAT = "What"
COL_BEFORE = "Before"
COL_AFTER = "After"
COL_BY = "By"
COL_ORIGIN = "In"
COL_WHY = "Why"
THE_ROW = "the row"

ROW_HEADING = "One row"
ROW_LEDE = (
    "Look at a row and everything that was changed in it. A row that is wrong is set aside here: it stays in "
    "the store and is in no rate, and can be brought back."
)
ROW_SHEET = "Sheet"
ROW_WHICH = "Row of this sheet"
ROW_FIND = "Find a row by a part of its labels"
ROW_CHOOSE = "choose"
ROW_NONE = "No row of this sheet has that in its labels."
ROW_VALUES = "As it is now"
ROW_CHANGES = "What was changed in it"
ROW_UNCHANGED = "Nothing of it was changed since."
COL_COLUMN = "Column"
COL_VALUE = "Value"
AWAY_REASON = "Why is this row wrong?"
BACK_REASON = "Why does this row count after all?"
AWAY_LOOK = "Set this row aside"
BACK_LOOK = "Bring this row back"
AWAY_YES = "Yes, set it aside"
BACK_YES = "Yes, bring it back"
LEAVE = "No, leave it"
NO_REASON = "Write down the reason first. It is kept."
SURE_AWAY = "Set this row aside?"
SURE_BACK = "Bring this row back?"
DONE_AWAY = "Set aside"
DONE_BACK = "Brought back"
REFUSED = "That cannot be done"
SOURCE = "Records page"
"""How the ledger names what was done here."""


def changes_lede(shown: int, total: int) -> str:
    """How many changes there are, and that the old values stay."""
    many = f"{counted(total, 'change')} so far; the old values stay here."
    return many if shown == total else f"{many} The last {shown} are listed; penwise history shows all."


def row_name(parts: Sequence[str], *, aside: bool = False) -> str:
    """A row as it is offered: its labels, and whether it is set aside."""
    named = short_times(", ".join(part for part in parts if part))
    return f"{named} (set aside)" if aside else named


def rows_more(shown: int, total: int) -> str:
    """That not all rows are offered."""
    return (
        f"The last {shown} of {words.count(total)} rows are offered; find others by a part of their labels."
    )


def change_what(change: RowChange) -> str:
    """Which cell, or that it was the whole row."""
    return THE_ROW if change.of_whole_row else change.change.column


def row_state(row: StoredRow) -> str:
    """Whether a row counts, and where it came from."""
    state = "is set aside, in no rate" if row.withdrawn else "counts"
    return f"{row.shown} of {row.sheet} {state}. It came in by {row.origin}."


def sure(row: StoredRow, why: str) -> tuple[str, ...]:
    """What would happen to a row."""
    which = f"{row.shown} of {row.sheet}"
    if row.withdrawn:
        does = f"{which} would count again, in every rate that it belongs to."
    else:
        does = f"{which} would count in nothing any more. It stays in the store with its history."
    return (does, f"The reason that is kept: {why}")


def done(row: StoredRow) -> str:
    """What was done to a row."""
    does = "it counts again" if row.withdrawn else "it counts in nothing any more"
    return f"{row.shown} of {row.sheet}: {does}."
