"""`penwise changes`: did each change work, against the pens it did not touch."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import emit_json, json_option, progress_bar, selection_options, store_option
from analytics.options import Selection


@click.command()
@store_option
@selection_options
@json_option
def changes(store: Path, selection: Selection, as_json: bool) -> None:
    """Whether each dated change worked: before and after, against the pens or machines it did not touch.

    --from and --to are the days of the changes; trays that hatched after --to are left aside. The other
    filters say which changes are told.
    """
    from analytics.studies.changes import changes as did_they_work

    with progress_bar("Judging changes") as told:
        answer = did_they_work(store, selection, told)
    if as_json:
        from analytics.reports.changes_json import SCHEMA, changes_values

        emit_json(SCHEMA, changes_values(answer))
    else:
        from analytics.reports.changes_text import changes_text

        click.echo(changes_text(answer), nl=False)
