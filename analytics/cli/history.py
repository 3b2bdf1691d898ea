"""`penwise history`: what was changed in the records, when, by whom and why."""

from __future__ import annotations

from datetime import UTC
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from analytics.cli.common import emit_json, json_option, store_option

if TYPE_CHECKING:
    from datetime import datetime

    from analytics.sheets.history import History, RowChange, StoredRow

SCHEMA = "penwise.history/1"


@click.command()
@click.argument("sheet", required=False)
@click.argument("key", nargs=-1, metavar="[KEY...]")
@click.option(
    "--last", type=click.IntRange(1), default=50, show_default=True, help="How many changes, the newest."
)
@store_option
@json_option
def history(sheet: str | None, key: tuple[str, ...], last: int, store: Path, as_json: bool) -> None:
    """What was changed: each cell corrected and each row set aside, with when, by whom and why.

    Of the whole store; of a SHEET; or of the rows whose KEY begins as given: `history trays B07` for the
    trays of a batch, `history trays B07 T2` for one tray. A part of the key that is blank is written "".
    """
    from analytics.sheets.history import history as look_back

    found = look_back(store, sheet or "", key, last)
    if as_json:
        emit_json(SCHEMA, _values(found))
    else:
        _print(found)


def _values(found: History) -> dict[str, Any]:
    return {
        "sheet": found.sheet or None,
        "row": found.row and _row_values(found.row),
        "changes": [
            {
                "sheet": one.change.sheet,
                "row_key": one.change.row_key,
                "row": one.row,
                "column": one.change.column,
                "old": one.change.old,
                "new": one.change.new,
                "made_at": one.change.made_at.replace(tzinfo=UTC),
                "who": one.change.who,
                "kind": one.change.kind,
                "source": one.change.source,
                "why": one.change.why,
                "entry_no": one.change.entry_no,
            }
            for one in found.changes
        ],
        "changes_total": found.total,
    }


def _row_values(row: StoredRow) -> dict[str, Any]:
    return {
        "sheet": row.sheet,
        "row_key": row.row_key,
        "row": row.shown,
        "withdrawn": row.withdrawn,
        "cells": dict(row.cells),
        "added": {
            "entry_no": row.added.entry_no,
            "made_at": row.added.made_at.replace(tzinfo=UTC),
            "who": row.added.who,
            "source": row.added.source,
        },
    }


def _print(found: History) -> None:
    if found.row:
        state = "set aside, in no rate" if found.row.withdrawn else "counts"
        click.echo(f"{found.row.sheet} {found.row.shown}: {state}.")
        added = found.row.added
        click.echo(f"  {_local(added.made_at)}  added, {found.row.origin} by {added.who}")
    for one in reversed(found.changes) if found.row else found.changes:
        click.echo(f"  {_line(one, named=found.row is None)}")
    if not found.changes:
        click.echo("  Nothing of it was changed since." if found.row else "Nothing was changed so far.")
    if found.total > len(found.changes):
        click.echo(f"  ... and {found.total - len(found.changes):,} earlier: --last {found.total}")


def _line(one: RowChange, *, named: bool) -> str:
    change = one.change
    row = f"{change.sheet} {one.row}: " if named else ""
    what = one.after if one.of_whole_row else f"{change.column} {one.before} -> {one.after}"
    why = f", because: {change.why}" if change.why else ""
    return f"{_local(change.made_at)}  {row}{what}, {one.origin} by {change.who}{why}"


def _local(made_at: datetime) -> str:
    return f"{made_at.replace(tzinfo=UTC).astimezone():%Y-%m-%d %H:%M}"
