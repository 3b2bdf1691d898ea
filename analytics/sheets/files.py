"""Finding the record sheets among files and folders, whatever program wrote them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from analytics.errors import SheetProblem, WrongUsage
from analytics.sheets.contract import BY_NAME, SHEETS, Sheet
from analytics.sheets.headings import (
    NOTES_SHEET,
    Logger,
    known_words,
    match_headings,
    near_sheet,
    sheet_named,
    sheet_within,
    word_of,
)
from analytics.sheets.text_files import (
    MOST_FAULTS,
    NotText,
    Source,
    look_at_head,
    may_be_plain,
    not_read_on,
)
from analytics.sheets.workbook import NotAWorkbook, Workbook

TEXT_ENDINGS = (".csv", ".tsv", ".txt")
BOOK_ENDINGS = (".xlsx", ".xlsm")


@dataclass(slots=True)
class Found:
    """What was found.

    Attributes:
        sources: files to read, in the order of the sheets.
        named: sheets for which there is a file, empty ones too.
        problems: files that cannot be read.
        warnings: columns that are not read.
        ignored: files and worksheets that are no record sheets.
    """

    sources: list[Source] = field(default_factory=list)
    named: set[str] = field(default_factory=set)
    problems: list[SheetProblem] = field(default_factory=list)
    warnings: list[SheetProblem] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)


def find_sources(paths: Sequence[Path], logger: Logger, scratch: Path) -> Found:
    """Finds every record sheet in files and folders.

    Args:
        paths: CSV files, workbooks, or folders of them (their subfolders are not looked into).
        logger: how logger files are written; with it a file of any name that is given itself is climate.
        scratch: an empty folder for worksheets as CSV.

    Raises:
        WrongUsage: a path that does not exist.
    """
    found = Found()
    for path, is_itself in _files(paths):
        default = BY_NAME["climate"] if is_itself and logger.given else None
        ending = path.suffix.lower()
        if ending in BOOK_ENDINGS:
            _look_at_book(path, default, logger, scratch, found)
        elif ending in TEXT_ENDINGS or default:
            _look_at_text(path, sheet_named(path.stem) or default, logger, found)
        else:
            found.ignored.append(_other(path, "penwise reads .csv and .xlsx"))
    if not found.named and not found.problems:
        found.problems.append(_nothing(found.ignored))
    order = {sheet.name: number for number, sheet in enumerate(SHEETS)}
    found.sources.sort(key=lambda source: order[source.sheet.name])
    return found


def _files(paths: Sequence[Path]) -> Iterator[tuple[Path, bool]]:
    for path in paths:
        if path.is_dir():
            inside = (item for item in sorted(path.iterdir()) if item.is_file())
            yield from ((item, False) for item in inside if not _is_ours_or_hidden(item))
        elif path.is_file():
            yield path, True
        else:
            raise WrongUsage(f"There is no file or folder {path}", "A load reads files", "Look at its name")


def _is_ours_or_hidden(path: Path) -> bool:
    return path.name.startswith((".", "~$")) or word_of(path.stem) == NOTES_SHEET


def _other(path: Path, why: str) -> str:
    return f"{path.name}: {why}"


def _unknown(name: str) -> str:
    within = sheet_within(name)
    if within:
        return f"{name}: looks like the sheet {within}; if it is, name it {within} and nothing else"
    near = near_sheet(name)
    return f"{name}: no record sheet has this name" + (f"; did you mean {near}?" if near else "")


def _nothing(ignored: Sequence[str]) -> SheetProblem:
    return SheetProblem(
        "",
        0,
        "",
        "No record sheet was found" + (f" ({'; '.join(ignored[:5])})" if ignored else ""),
        "Record sheets are files or worksheets named " + ", ".join(BY_NAME),
        "Get empty ones with penwise blank; name a logger's columns with --map",
    )


def _look_at_text(path: Path, sheet: Sheet | None, logger: Logger, found: Found) -> None:
    if sheet is None:
        found.ignored.append(_unknown(path.name.removesuffix(path.suffix)))
        return
    try:
        head = look_at_head(path, known_words(sheet, logger))
    except (NotText, OSError) as error:
        found.problems.append(_unreadable(sheet, path.name, _why(error)))
        return
    found.named.add(sheet.name)
    if head is None:
        return
    headings = match_headings(sheet, head.headings, head.heading_row, logger)
    source = Source(
        sheet=sheet,
        name=path.name,
        path=path.resolve(),
        encoding=head.encoding,
        delimiter=head.delimiter,
        heading_row=head.heading_row,
        headings=headings,
        plain=may_be_plain(path.resolve(), head),
        rectangular=False,
    )
    _keep(source, found)


def _keep(source: Source, found: Found) -> None:
    found.problems.extend(source.headings.problems)
    found.warnings.extend(source.headings.warnings)
    if not source.headings.problems:
        found.sources.append(source)


def _why(error: Exception) -> str:
    """Our own words, or those of the operating system without the path."""
    return (error.strerror if isinstance(error, OSError) else "") or str(error)


def _unreadable(sheet: Sheet | None, name: str, why: str) -> SheetProblem:
    return SheetProblem(
        sheet.name if sheet else "",
        0,
        "",
        f"{name} cannot be read: {why}",
        "A record sheet is a CSV file in UTF-8, or an .xlsx workbook",
        "Save it again in one of these forms",
    )


def _look_at_book(path: Path, default: Sheet | None, logger: Logger, scratch: Path, found: Found) -> None:
    try:
        book = Workbook(path)
    except (NotAWorkbook, OSError) as error:
        found.problems.append(_unreadable(None, path.name, _why(error)))
        return
    try:
        alone = default if not any(map(sheet_named, book.titles())) else None
        for title in book.titles():
            sheet = sheet_named(title) or alone
            if sheet:
                _look_at_worksheet(path, book, title, sheet, logger, scratch, found)
            elif word_of(title) != NOTES_SHEET:
                found.ignored.append(f"{path.name}: {_unknown(title)}")
    except NotAWorkbook as error:
        found.problems.append(_unreadable(None, path.name, str(error)))
    finally:
        book.close()


def _look_at_worksheet(
    path: Path, book: Workbook, title: str, sheet: Sheet, logger: Logger, scratch: Path, found: Found
) -> None:
    found.named.add(sheet.name)
    item = book.headings(title, known_words(sheet, logger))
    if item is None:
        return
    headings = match_headings(sheet, item.headings, item.heading_row, logger)
    target = scratch / f"worksheet-{len(list(scratch.iterdir()))}.csv"
    source = Source(
        sheet=sheet,
        name=f"{path.name}, {item.title}",
        path=target.resolve(),
        encoding="utf-8",
        delimiter=",",
        heading_row=item.heading_row,
        headings=headings,
        plain=True,
        rectangular=True,
    )
    _keep(source, found)
    if headings.problems:
        return
    problems = book.write_csv(item, target)
    for problem in problems:
        name = item.headings[problem.column] if problem.column < len(item.headings) else ""
        found.problems.append(
            SheetProblem(
                sheet.name, problem.row, name, problem.given, "Every cell holds a value", problem.repair
            )
        )
    if len(problems) >= MOST_FAULTS:
        found.problems.append(not_read_on(sheet.name, problems[-1].row, source.name))
