"""Loading record sheets: found, read, checked as a whole, and kept whole or not at all.

The way of a load: files -> `in_<sheet>` (typed, text checked) -> `row_<sheet>` and `all_<sheet>` (beside the
store's rows) -> rules -> store, in one transaction with its ledger entry and the history of every correction.
A row that was withdrawn and comes again unchanged stays withdrawn; with other values it is a correction that
makes it live again.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import duckdb

from analytics.errors import StoreError
from analytics.sheets.carry_over import carry_over, has_record
from analytics.sheets.checking import check_first_load, check_rows
from analytics.sheets.contract import SHEETS
from analytics.sheets.export import RECORD
from analytics.sheets.files import Found, find_sources
from analytics.sheets.findings import MOST_LISTED, Findings, Judgement, Staged
from analytics.sheets.headings import Logger
from analytics.sheets.keeping import count_corrected_cells, keep, list_corrections
from analytics.sheets.report import (
    Correction,
    CorrectionsNotAccepted,
    LoadRejected,
    LoadReport,
)
from analytics.sheets.rows import CHANGED, NEW, SAME, SET_ASIDE, TAKEN_UP, fates, settle_rows
from analytics.sheets.staging import stage
from analytics.store.audit import begin_entry, finish_entry
from analytics.store.connection import LeaveUnchanged, create, writing
from analytics.store.files import discard, fresh_beside, log_of, put_new
from analytics.store.tally import tally_of

__all__ = ["ByHand", "Correction", "CorrectionsNotAccepted", "LoadRejected", "LoadReport", "load"]

Progress = Callable[[float, str], None]


@dataclass(frozen=True, slots=True)
class ByHand:
    """Rows that were typed on a page instead of loaded from files.

    Attributes:
        source: the page, as the ledger names it.
        why: the reason of a correction, or "".
        beside: what else belongs into the transaction; told its entry of the ledger. What it raises ends it.
    """

    source: str
    why: str = ""
    beside: Callable[[duckdb.DuckDBPyConnection, int], None] | None = None


@dataclass(frozen=True, slots=True)
class _Task:
    """What is to be loaded, and how.

    Attributes:
        found: the files.
        folders: folders that were given.
        logger: how loggers' files are written.
        scratch: a folder of this load alone.
        accept_corrections: whether recorded values may change.
        dry_run: whether to check only.
        who: name for the ledger, None = the user's.
        today: the day that counts as today.
        progress: told how far the load is.
        by_hand: where the rows were typed, None = they come from files.
    """

    found: Found
    folders: tuple[Path, ...]
    logger: Logger
    scratch: Path
    accept_corrections: bool
    dry_run: bool
    who: str | None
    today: date
    progress: Progress
    by_hand: ByHand | None

    def may_read(self) -> list[Path]:
        """Folders that the store's connection has to read."""
        return list(
            dict.fromkeys([self.scratch, *self.folders, *(s.path.parent for s in self.found.sources)])
        )


def load(
    store: Path,
    paths: Sequence[Path],
    *,
    accept_corrections: bool = False,
    dry_run: bool = False,
    mapping: Mapping[str, str] | None = None,
    fahrenheit: bool = False,
    incubator: str | None = None,
    who: str | None = None,
    today: date | None = None,
    progress: Progress | None = None,
    by_hand: ByHand | None = None,
) -> LoadReport:
    """Checks record sheets and keeps them, all of them or nothing.

    Args:
        store: the store; made by the first load that is kept.
        paths: CSV files, workbooks, or folders of them.
        accept_corrections: whether recorded values may change; otherwise a load that would is refused.
        dry_run: whether to check only.
        mapping: climate column -> heading in a logger's file.
        fahrenheit: whether the temperatures of climate are °F.
        incubator: the machine in which the logger hung, where the file does not say.
        who: name for the ledger, None = the user's.
        today: the day that counts as today, None = the computer's; little may lie far beyond it.
        progress: told the share done (0..1) and what is being done.
        by_hand: where the rows were typed and why, None = they come from files.

    Returns:
        What was done, or what would be done by a check.

    Raises:
        LoadRejected: rules are broken; every problem is in it.
        CorrectionsNotAccepted: recorded values would change.
        InputRejected: the record of an export is not as it was written.
        WrongUsage: a path that is not there, or a mapping that cannot be meant.
        StoreError and its kinds: as `writing`.
    """
    logger = Logger(mapping or {}, fahrenheit, incubator)
    tell = progress or _silent
    with _said_of_files(), tempfile.TemporaryDirectory(prefix="penwise-") as folder:
        scratch = Path(folder).resolve()
        tell(0.0, "Looking at the files")
        task = _Task(
            found=find_sources(paths, logger, scratch),
            folders=tuple(path.resolve() for path in paths if path.is_dir()),
            logger=logger,
            scratch=scratch,
            accept_corrections=accept_corrections,
            dry_run=dry_run,
            who=who,
            today=today or date.today(),  # noqa: DTZ011
            progress=tell,
            by_hand=by_hand,
        )
        report = _load_into(store, task) if store.exists() else _first_load(store, task)
        tell(1.0, "Done")
        return report


@contextmanager
def _said_of_files() -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise StoreError(
            "A file could not be read or written, and nothing of this load was kept",
            error.strerror or "The computer does not say why",
            f"Look whether the sheets are still there, and whether there is room in {tempfile.gettempdir()}"
            " and on the disk of the store; then load again",
        ) from error


def _silent(share: float, text: str) -> None:
    """No progress is shown."""


def _first_load(store: Path, task: _Task) -> LoadReport:
    """Builds the store beside its place, so that a rejected first load leaves no file."""
    if task.dry_run:
        empty = task.scratch / "empty.duckdb"
        create(empty)
        return _load_into(empty, task)
    if log_of(store).exists():
        create(store)  # refuses: a log without its store
    folder_was_there = store.parent.exists()
    beside = fresh_beside(store)
    placed = False
    try:
        create(beside, named=store)
        report = _load_into(beside, task, named=store)
        placed = report.kept and put_new(beside, store)
        if placed:
            os.replace(tally_of(beside), tally_of(store))
    finally:
        discard(beside)
        tally_of(beside).unlink(missing_ok=True)
        if not placed and not folder_was_there:
            with suppress(OSError):
                store.parent.rmdir()
    if report.kept and not placed:  # another program made the store meanwhile
        return _load_into(store, task)
    return report


def _load_into(store: Path, task: _Task, named: Path | None = None) -> LoadReport:
    with writing(store, may_read=task.may_read(), named=named) as connection:
        # A file that cannot be read as it is is read again after rewriting; DuckDB would give up a
        # transaction at the first try, so it begins when everything is read.
        connection.rollback()
        judgement = Judgement()
        staged = _stage_all(connection, task, judgement)
        connection.begin()
        carried = [_carry_over(connection, folder, task.found) for folder in task.folders]
        task.progress(0.6, "Checking the rules")
        _check(connection, task, staged, judgement)
        report = _report(connection, task, staged, judgement, carried=any(carried))
        _refuse(task, staged, judgement, report)
        if task.dry_run or not (report.added or report.corrected_cells or any(carried)):
            raise LeaveUnchanged
        task.progress(0.8, "Keeping the rows")
        report = _keep(connection, task, staged, report, carried=any(carried))
    return report


def _carry_over(connection: duckdb.DuckDBPyConnection, folder: Path, found: Found) -> bool:
    carried = carry_over(connection, folder)
    if has_record(folder) and not carried:
        found.ignored.append(f"{folder.name}, {RECORD}: the store has a history of its own")
    return carried


def _stage_all(connection: duckdb.DuckDBPyConnection, task: _Task, judgement: Judgement) -> dict[str, Staged]:
    judgement.errors.add(task.found.problems)
    judgement.warnings.add(task.found.warnings)
    staged = {}
    for number, sheet in enumerate(SHEETS):
        sources = [source for source in task.found.sources if source.sheet is sheet]
        if sources:
            task.progress(0.1 + 0.5 * number / len(SHEETS), f"Reading {sheet.name}")
            staged[sheet.name] = stage(connection, sheet, sources, task.logger, task.scratch, judgement)
    return staged


def _check(
    connection: duckdb.DuckDBPyConnection, task: _Task, staged: Mapping[str, Staged], judgement: Judgement
) -> None:
    unread = judgement.errors.unread()
    if task.found.named:
        check_first_load(connection, frozenset(task.found.named), judgement)
    settle_rows(connection, staged, judgement)
    check_rows(connection, staged, unread, task.logger.fahrenheit, task.today, judgement)


def _report(
    connection: duckdb.DuckDBPyConnection,
    task: _Task,
    staged: Mapping[str, Staged],
    judgement: Judgement,
    *,
    carried: bool,
) -> LoadReport:
    counted = {name: fates(connection, name) for name in staged}
    cells = {name: count_corrected_cells(connection, part) for name, part in staged.items()}
    corrections = [
        change
        for name, part in staged.items()
        if cells[name]
        for change in list_corrections(connection, part)
    ]
    new = (NEW, SAME) if carried else (NEW,)
    added = {name: _sum(counts, new) for name, counts in counted.items() if _sum(counts, new)}
    same = (SET_ASIDE,) if carried else (SAME, SET_ASIDE)
    return LoadReport(
        added=sum(added.values()),
        added_by_sheet=added,
        corrected=tuple(corrections[:MOST_LISTED]),
        corrected_rows=sum(_sum(counts, (CHANGED, TAKEN_UP)) for counts in counted.values()),
        corrected_cells=sum(cells.values()),
        unchanged=sum(_sum(counts, same) for counts in counted.values()),
        warnings=judgement.warnings.placed(staged),
        warnings_total=judgement.warnings.total,
        ignored=tuple(task.found.ignored),
        kept=False,
        entry_no=None,
    )


def _sum(counts: Mapping[str, int], wanted: Iterable[str]) -> int:
    return sum(counts.get(fate, 0) for fate in wanted)


def _refuse(task: _Task, staged: Mapping[str, Staged], judgement: Judgement, report: LoadReport) -> None:
    errors: Findings = judgement.errors
    rejected = replace(report, added=0, added_by_sheet={})
    if errors.total:  # cells that cannot be read look like corrections
        rejected = replace(rejected, corrected=(), corrected_rows=0, corrected_cells=0)
        raise LoadRejected(errors.placed(staged), errors.total, rejected)
    if report.corrected_cells and not (task.accept_corrections or task.dry_run):
        raise CorrectionsNotAccepted(rejected)


def _keep(
    connection: duckdb.DuckDBPyConnection,
    task: _Task,
    staged: Mapping[str, Staged],
    report: LoadReport,
    *,
    carried: bool,
) -> LoadReport:
    new = sum(fates(connection, name).get(NEW, 0) for name in staged)
    if carried and not new and not report.corrected_cells:
        return replace(report, kept=True)
    entry_no = _begin(connection, task, staged)
    keep(connection, staged, entry_no)
    finish_entry(connection, entry_no, new, report.corrected_rows, report.unchanged)
    if task.by_hand and task.by_hand.beside:
        task.by_hand.beside(connection, entry_no)
    return replace(report, kept=True, entry_no=entry_no)


def _begin(connection: duckdb.DuckDBPyConnection, task: _Task, staged: Mapping[str, Staged]) -> int:
    if task.by_hand:
        return begin_entry(connection, "edit", task.by_hand.source, task.who, task.by_hand.why)
    source = ", ".join(name for part in staged.values() for name in part.names())
    return begin_entry(connection, "load", source, task.who)
