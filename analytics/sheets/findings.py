"""Problems and warnings while they are gathered, before rows are known as a spreadsheet counts them.

DuckDB numbers the rows of a file as it reads them; where such a row stands in the file is looked up only for
the problems that are listed (`Findings.placed`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from analytics.errors import SheetProblem
from analytics.sheets.contract import SHEETS
from analytics.sheets.text_files import Source, rows_of

MOST_LISTED = 200
"""Problems, warnings or corrected cells that are listed; the true number is always told."""


@dataclass(frozen=True, slots=True)
class Staged:
    """Where the rows of a sheet come from.

    Attributes:
        sheet: name of the sheet.
        parts: each file with the number of its first record.
        given: columns that at least one file has.
        rows: rows read, blank ones too.
    """

    sheet: str
    parts: tuple[tuple[Source, int], ...]
    given: frozenset[str]
    rows: int

    def names(self) -> list[str]:
        """The files that have a row, blank or not, as the user knows them."""
        ends = [*(start for _, start in self.parts[1:]), self.rows]
        return [source.name for (source, start), end in zip(self.parts, ends, strict=False) if end > start]

    def told(self, column: str) -> bool:
        """Whether the column has one value that was told for the load and stands in no file."""
        constants = [{name.name for name, _ in source.headings.constants} for source, _ in self.parts]
        return bool(constants) and all(column in names for names in constants)

    def rows_of(self, records: Iterable[int]) -> dict[int, int]:
        """Rows in the file, as a spreadsheet counts, of records."""
        wanted = set(records)
        found: dict[int, int] = {}
        ends = [*(start for _, start in self.parts[1:]), self.rows]
        for (source, start), end in zip(self.parts, ends, strict=False):
            here = [record - start for record in wanted if start <= record < end]
            found |= {start + record: row for record, row in rows_of(source, here).items()}
        return found


@dataclass(frozen=True, slots=True)
class Recorded:
    """A problem in a row that is known by its record only.

    Attributes:
        record: the row, as it was read.
        problem: what is wrong; its row is not known yet.
        other: record of another row of the same sheet that has to do with it, or None.
    """

    record: int
    problem: SheetProblem
    other: int | None = None


class Findings:
    """Problems or warnings of a load, as they are found."""

    def __init__(self) -> None:
        self._placed: list[SheetProblem] = []
        self._recorded: list[Recorded] = []
        self.total = 0

    def add(self, problems: Iterable[SheetProblem]) -> None:
        """Takes problems whose row is known, or that are about the whole sheet."""
        problems = list(problems)
        self.total += len(problems)
        self._placed.extend(problems)

    def add_records(self, problems: Sequence[Recorded], total: int) -> None:
        """Takes problems in rows known by their record; `total` is how many there are in truth."""
        self.total += total
        self._recorded.extend(problems)

    def unread(self) -> frozenset[str]:
        """Sheets with a problem of a whole file, whose rows may not all have been read."""
        return frozenset(problem.sheet for problem in self._placed)

    def placed(self, staged: Mapping[str, Staged]) -> tuple[SheetProblem, ...]:
        """The problems to list, with their rows, in the order of sheets and rows."""
        order = {sheet.name: number for number, sheet in enumerate(SHEETS)}
        rows = {name: part.rows_of(self._records(name)) for name, part in staged.items()}
        located = [_located(found, rows[found.problem.sheet]) for found in self._recorded]
        whole = [*self._placed, *located]
        whole.sort(key=lambda problem: (order.get(problem.sheet, -1), problem.row))
        return _first_of_each_kind(whole)

    def _records(self, name: str) -> set[int]:
        here = [found for found in self._recorded if found.problem.sheet == name]
        others = {found.other for found in here if found.other is not None}
        return others | {found.record for found in here}


def _first_of_each_kind(problems: Sequence[SheetProblem]) -> tuple[SheetProblem, ...]:
    """As many as are listed; where there are more, every kind has its turn before one is listed at length."""
    seen: Counter[tuple[str, str, str]] = Counter()
    turns = []
    for number, problem in enumerate(problems):
        kind = (problem.sheet, problem.column, problem.rule)
        turns.append((seen[kind], number))
        seen[kind] += 1
    return tuple(problems[number] for number in sorted(n for _, n in sorted(turns)[:MOST_LISTED]))


def _located(found: Recorded, rows: Mapping[int, int]) -> SheetProblem:
    given = found.problem.given
    if found.other is not None:
        given += f", as in row {rows.get(found.other, 0)}"
    return replace(found.problem, row=rows.get(found.record, 0), given=given)


@dataclass(frozen=True, slots=True)
class Judgement:
    """Everything found in one load.

    Attributes:
        errors: what has to be mended before anything is kept.
        warnings: what the breeder should look at; it does not stop the load.
    """

    errors: Findings = field(default_factory=Findings)
    warnings: Findings = field(default_factory=Findings)
