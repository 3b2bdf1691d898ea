"""The commands about record sheets: empty ones, loading them, setting a row aside."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from analytics.cli.common import emit_json, json_option, store_option
from analytics.errors import InputRejected, SheetProblem, WrongUsage, visible
from analytics.sheets.report import CorrectionsNotAccepted, LoadRejected, LoadReport, Repeated, told_once

LOAD_SCHEMA = "penwise.load/1"
WITHDRAW_SCHEMA = "penwise.withdraw/1"
_SHOWN = 20
"""Lines of one kind that are shown before a count of the rest."""


@click.command()
@click.argument("folder", required=False, type=click.Path(path_type=Path, file_okay=False))
@click.option(
    "--xlsx", "workbook", type=click.Path(path_type=Path, dir_okay=False), help="One workbook instead."
)
def blank(folder: Path | None, workbook: Path | None) -> None:
    """Write empty record sheets with headings and notes.

    As CSV files into FOLDER, or with --xlsx as one workbook with notes and drop-downs.
    """
    from analytics.sheets.blank import write_tables, write_workbook

    if (folder is None) == (workbook is None):
        raise WrongUsage(
            "Either a folder or --xlsx FILE", "Empty sheets are CSV files or one workbook", "Give one of them"
        )
    if workbook is not None:
        click.echo(f"Empty record sheets are in {write_workbook(workbook)}")
    elif folder is not None:
        written = write_tables(folder)
        click.echo(f"{len(written) - 1} empty record sheets and {written[0].name} are in {folder}")
    click.echo(
        "Fill in pens, incubators, batches and trays first; the others add evidence. Then: penwise load"
    )


def _mapping(_: click.Context, __: click.Parameter, given: tuple[str, ...]) -> dict[str, str]:
    """Reads `COLUMN=HEADING`, several times."""
    mapping: dict[str, str] = {}
    for item in given:
        column, equals, heading = item.partition("=")
        if not equals or not column.strip() or not heading.strip() or column.strip() in mapping:
            raise click.BadParameter(f'{item!r}: write COLUMN="HEADING", each column once, like at="Time"')
        mapping[column.strip()] = heading.strip().strip('"')
    return mapping


@click.command()
@click.argument("paths", nargs=-1, required=True, metavar="PATH...", type=click.Path(path_type=Path))
@click.option("--dry-run", is_flag=True, help="Check and report; keep nothing.")
@click.option("--accept-corrections", is_flag=True, help="Let recorded values be changed by this load.")
@click.option(
    "--map",
    "mapping",
    multiple=True,
    metavar="COLUMN=HEADING",
    callback=_mapping,
    help='For a logger\'s file: which heading is which column of climate, like at="Time". May be repeated.',
)
@click.option(
    "--fahrenheit", is_flag=True, help="The temperatures of climate are in °F; they are kept in °C."
)
@click.option("--incubator", metavar="NAME", help="The machine in which the logger hung.")
@store_option
@json_option
def load(
    paths: tuple[Path, ...],
    dry_run: bool,
    accept_corrections: bool,
    mapping: dict[str, str],
    fahrenheit: bool,
    incubator: str | None,
    store: Path,
    as_json: bool,
) -> None:
    """Check record sheets and load them, all or nothing.

    PATH is a CSV file, an .xlsx workbook, or a folder of them. Every problem is listed with its place and how
    to mend it. Values that are recorded already change only with --accept-corrections.

    A logger's file of any name is read as climate when --map or --incubator is given. Times are local time:
    ISO, or all day first, or all month first where that is certain; times with a zone are refused.
    """
    from analytics.sheets.load import load as load_sheets

    try:
        with _progress() as tell:
            report = load_sheets(
                store,
                paths,
                accept_corrections=accept_corrections,
                dry_run=dry_run,
                mapping=mapping,
                fahrenheit=fahrenheit,
                incubator=incubator,
                progress=tell,
            )
    except LoadRejected as rejection:
        _tell_rejected(rejection, as_json, dry_run)
        raise click.exceptions.Exit(InputRejected.exit_code) from rejection
    if as_json:
        emit_json(LOAD_SCHEMA, _as_json(report, (), 0, dry_run))
    else:
        _tell_done(report, dry_run)


@contextmanager
def _progress() -> Iterator[Any]:
    """A bar on stderr when it is a terminal; otherwise nothing."""
    if not sys.stderr.isatty():
        yield None
        return
    with click.progressbar(length=100, file=sys.stderr, item_show_func=lambda text: text or "") as bar:

        def tell(share: float, text: str) -> None:
            bar.update(round(share * 100) - bar.pos, text)

        yield tell


def _as_json(
    report: LoadReport, errors: tuple[SheetProblem, ...], errors_total: int, dry_run: bool
) -> dict[str, Any]:
    return {
        "kept": report.kept,
        "dry_run": dry_run,
        "entry_no": report.entry_no,
        "added": report.added,
        "added_by_sheet": report.added_by_sheet,
        "corrected": report.corrected,
        "corrected_rows": report.corrected_rows,
        "corrected_cells": report.corrected_cells,
        "unchanged": report.unchanged,
        "errors": [problem.as_dict() for problem in errors],
        "errors_total": errors_total,
        "warnings": [problem.as_dict() for problem in report.warnings],
        "warnings_total": report.warnings_total,
        "ignored": report.ignored,
    }


def _tell_rejected(rejection: LoadRejected, as_json: bool, dry_run: bool) -> None:
    only_corrections = isinstance(rejection, CorrectionsNotAccepted)
    if as_json:
        errors, total = ((), 0) if only_corrections else (rejection.problems, rejection.total)
        emit_json(LOAD_SCHEMA, _as_json(rejection.report, errors, total, dry_run))
    click.echo(f"penwise: {rejection}", err=True)
    if as_json:
        return
    if only_corrections:
        _tell_corrections(rejection.report, err=True)
        return
    for problem in told_once(rejection.problems):
        click.echo(f"  {problem.sentence()}", err=True)
    _tell_more(rejection.total - len(rejection.problems), "problems", err=True)
    _tell_besides(rejection.report, err=True)


def _tell_done(report: LoadReport, dry_run: bool) -> None:
    would = "would be " if dry_run else ""
    if not report.added and not report.corrected_cells:
        there = (
            f"{_rows(report.unchanged)} there already, the same" if report.unchanged else "no rows to load"
        )
        click.echo(f"Nothing new: {there}.")
    else:
        click.echo(
            f"{_rows(report.added)} {would}added, {report.corrected_rows:,} {would}corrected,"
            f" {report.unchanged:,} there already."
        )
    for name, number in report.added_by_sheet.items():
        click.echo(f"  {name:<17} {number:>9,}")
    _tell_corrections(report, err=False)
    _tell_besides(report, err=False)
    if dry_run:
        click.echo("This was a check: nothing was kept.")


def _rows(number: int) -> str:
    return f"{number:,} row{'' if number == 1 else 's'}"


def _tell_corrections(report: LoadReport, *, err: bool) -> None:
    for change in report.corrected[:_SHOWN]:
        click.echo(f"  {change.sentence()}", err=err)
    _tell_more(report.corrected_cells - min(len(report.corrected), _SHOWN), "corrected values", err=err)


def _tell_besides(report: LoadReport, *, err: bool) -> None:
    """Warnings, and what was not read."""
    warnings: list[Repeated] = told_once(report.warnings)[:_SHOWN]
    for warning in warnings:
        click.echo(f"  look at {warning.sentence()}", err=err)
    told = sum(len(warning.rows) for warning in warnings)
    _tell_more(report.warnings_total - told, "things to look at", err=err)
    for name in report.ignored[:_SHOWN]:
        click.echo(f"  not read: {visible(name)}", err=err)
    _tell_more(len(report.ignored) - _SHOWN, "files and worksheets that were not read", err=err)


def _tell_more(number: int, what: str, *, err: bool) -> None:
    if number > 0:
        click.echo(f"  ... and {number:,} more {what}", err=err)


@click.command()
@click.argument("sheet")
@click.argument("key", nargs=-1, required=True, metavar="KEY...")
@click.option("--why", required=True, metavar="TEXT", help="The reason; it is kept.")
@click.option("--undo", is_flag=True, help="Let a row that was set aside count again.")
@store_option
@json_option
def withdraw(sheet: str, key: tuple[str, ...], why: str, undo: bool, store: Path, as_json: bool) -> None:
    """Set a wrong row aside; it stays in the history and is in no rate.

    KEY is the row's key: for trays its batch and its tray, for lay its pen and its day. A part that is blank
    in the row is written "". With --undo the row counts again, if it still fits the other records.
    """
    from analytics.sheets.withdraw import bring_back
    from analytics.sheets.withdraw import withdraw as set_aside

    done = bring_back(store, sheet, key, why) if undo else set_aside(store, sheet, key, why)
    if as_json:
        told = {"sheet": done.sheet, "row_key": done.row_key, "why": why, "entry_no": done.entry_no}
        emit_json(WITHDRAW_SCHEMA, told | {"undo": undo})
    elif undo:
        click.echo(f"Counts again: {done.shown} in {done.sheet}. The history keeps both.")
    else:
        click.echo(f"Withdrawn: {done.shown} in {done.sheet}. It stays in the history and is in no rate.")
