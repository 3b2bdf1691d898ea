"""Everything that penwise can refuse, as one tree.

Each error says what was given, which rule it met, and how to mend it; `exit_code` is what the
command line returns.
"""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass

_ORDERS_TO_SCREEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


class PenwiseError(Exception):
    """Base of all errors that a user may see; never raised itself."""

    exit_code = 1

    def __init__(self, given: str, rule: str, repair: str = "") -> None:
        self.given = given
        self.rule = rule
        self.repair = repair
        super().__init__(self.sentence())

    def sentence(self) -> str:
        """The error as one readable line: given, rule, repair."""
        return visible(" ".join(_ended(part) for part in (self.given, self.rule, self.repair) if part))


def visible(text: str) -> str:
    """A text for the screen: what would steer a terminal, or turn the text around, is named instead."""
    return _ORDERS_TO_SCREEN.sub(lambda found: f"<U+{ord(found[0]):04X}>", text)


def _ended(part: str) -> str:
    return part if part.endswith("?") else part.rstrip(".") + "."


class DataTooThin(PenwiseError):
    """The records do not allow the answer (exit code 1)."""

    exit_code = 1


class WrongUsage(PenwiseError):
    """A command, filter or argument that cannot be meant (exit code 2)."""

    exit_code = 2


@dataclass(frozen=True, slots=True)
class SheetProblem:
    """One thing wrong in one place of a record sheet.

    Attributes:
        sheet: name of the sheet, as in the contract.
        row: row of the file as a spreadsheet numbers it (heading is row 1); 0 = the whole sheet.
        column: column name, several joined by ", ", or "" for the whole row.
        given: what stood there.
        rule: the rule it met.
        repair: how to mend it.
    """

    sheet: str
    row: int
    column: str
    given: str
    rule: str
    repair: str

    def as_dict(self) -> dict[str, str | int]:
        """Plain values for JSON; a cell stands there as it was written, without quotation marks."""
        bare = self.given[1:-1] if self.given[:1] == self.given[-1:] == '"' else self.given
        return asdict(self) | {"given": bare}

    def sentence(self, rows: str = "") -> str:
        """The problem as one readable line; `rows` names its rows where it stands in more than one."""
        row = rows or (f"row {self.row}" if self.row else "")
        place = f"{self.sheet}" + (f", {row}" if row else "")
        place += f", {self.column}" if self.column else ""
        return visible((f"{place}: " if place else "") + f"{self.given}. {self.rule}. {self.repair}".rstrip())


class InputRejected(PenwiseError):
    """Record sheets that break a rule; nothing of them was kept (exit code 3)."""

    exit_code = 3

    def __init__(self, problems: tuple[SheetProblem, ...], total: int | None = None) -> None:
        self.problems = problems
        self.total = len(problems) if total is None else total
        super().__init__(
            f"{self.total} problem{'' if self.total == 1 else 's'} in the record sheets",
            "Nothing of this load was kept",
            "Mend the rows listed and load again",
        )


class StoreError(PenwiseError):
    """The store is busy, damaged, too new or not a store (exit code 4)."""

    exit_code = 4


class StoreBusy(StoreError):
    """Another program held the store longer than we waited."""


class StoreDamaged(StoreError):
    """The file cannot be read as a whole store, or commits are missing."""


class StoreTooNew(StoreError):
    """The store was written by a later version of penwise."""


class NotAStore(StoreError):
    """The file is something else."""


class StoreMissing(StoreError):
    """There is no store at that path yet."""
