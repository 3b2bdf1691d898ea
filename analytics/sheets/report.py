"""What a load did, or would do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from analytics.errors import InputRejected, SheetProblem
from analytics.store.audit import WITHDRAWN


@dataclass(frozen=True, slots=True)
class Correction:
    """One recorded cell that comes with another value.

    Attributes:
        sheet: its sheet.
        row_key: key of its row.
        row: its row in the file, as a spreadsheet counts.
        column: its column; `withdrawn_in` for a withdrawn row that comes to life again.
        old: the value recorded, as text; None = not recorded.
        new: the value in the file, likewise.
    """

    sheet: str
    row_key: str
    row: int
    column: str
    old: str | None
    new: str | None

    def sentence(self) -> str:
        """The correction as one readable line."""
        if self.column == WITHDRAWN:
            return f"{self.sheet}, row {self.row}: was withdrawn (entry {self.old}) -> counts again"
        was, now = (value if value is not None else "not recorded" for value in (self.old, self.new))
        return f"{self.sheet}, row {self.row}, {self.column}: {was} -> {now}"


_ROWS_NAMED = 3


@dataclass(frozen=True, slots=True)
class Repeated:
    """One problem with all its rows.

    Attributes:
        problem: the first of them.
        rows: the rows, as a spreadsheet counts.
    """

    problem: SheetProblem
    rows: tuple[int, ...]

    def rows_words(self) -> str:
        """`row 2`, `rows 2, 3 and 4`, or `48 rows (2, 3, 4, …)`; "" for the whole sheet."""
        named = [str(row) for row in self.rows[:_ROWS_NAMED] if row]
        if len(self.rows) > _ROWS_NAMED:
            return f"{len(self.rows)} rows ({', '.join(named)}, …)"
        if len(named) > 1:
            return f"rows {', '.join(named[:-1])} and {named[-1]}"
        return f"row {named[0]}" if named else ""

    def sentence(self) -> str:
        """The problem as one readable line with all its rows."""
        return self.problem.sentence(self.rows_words())


def told_once(problems: Sequence[SheetProblem]) -> list[Repeated]:
    """Problems that differ in nothing but their row, taken together, where the first of them stood."""
    rows: dict[SheetProblem, list[int]] = {}
    for problem in problems:
        rows.setdefault(replace(problem, row=0), []).append(problem.row)
    return [Repeated(replace(one, row=found[0]), tuple(found)) for one, found in rows.items()]


@dataclass(frozen=True, slots=True)
class LoadReport:
    """What a load did, or what it would do when it was only checked.

    Attributes:
        added: rows that are new.
        added_by_sheet: the same, sheet by sheet.
        corrected: cells recorded with another value, the first of them.
        corrected_rows: rows with such a cell.
        corrected_cells: all such cells.
        unchanged: rows that were there already, the same.
        warnings: what the breeder should look at, the first of it.
        warnings_total: all warnings.
        ignored: files and worksheets that are no record sheets.
        kept: whether the load is in the store now; False for a check and when there was nothing new.
        entry_no: its entry in the ledger, or None.
    """

    added: int
    added_by_sheet: Mapping[str, int]
    corrected: tuple[Correction, ...]
    corrected_rows: int
    corrected_cells: int
    unchanged: int
    warnings: tuple[SheetProblem, ...]
    warnings_total: int
    ignored: tuple[str, ...]
    kept: bool
    entry_no: int | None


class LoadRejected(InputRejected):
    """A load that breaks rules: `problems` and `total` say which; `report` has what was seen besides."""

    def __init__(self, problems: tuple[SheetProblem, ...], total: int, report: LoadReport) -> None:
        self.report = report
        super().__init__(problems, total)


class CorrectionsNotAccepted(LoadRejected):
    """A load that would change what is recorded, and nobody said yes; `report.corrected` shows it."""

    def __init__(self, report: LoadReport) -> None:
        problems = tuple(
            SheetProblem(
                change.sheet,
                change.row,
                change.column,
                f"{_value(change.new)}, recorded as {_value(change.old)}",
                "What is recorded changes only when you accept the correction",
                "Load with --accept-corrections if the new value is right",
            )
            for change in report.corrected
        )
        super().__init__(problems, report.corrected_cells, report)

    def sentence(self) -> str:
        """How much would change, and how to take it."""
        cells = f"{self.total} recorded value{'' if self.total == 1 else 's'}"
        return (
            f"This load would change {cells}. Nothing of it was kept."
            " Load again with --accept-corrections to take the corrections."
        )


def _value(text: str | None) -> str:
    return "not recorded" if text is None else text
