"""`penwise batch`: one batch, useful from the first hatch on."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from analytics.cli.common import Day, emit_json, json_option, store_option
from analytics.cli.today import today_of


@click.command()
@click.argument("batch")
@store_option
@click.option(
    "--as-of",
    type=Day(),
    help="Day on which a batch in the machine is looked at; today if left out, of the demo its last day.",
)
@json_option
def batch(batch: str, store: Path, as_of: date | None, as_json: bool) -> None:
    """One batch: what became of its eggs, what to look at now, and what to write down next.

    One batch cannot tell whose loss it was; the causes named are candidates. What many batches tell:
    penwise causes.
    """
    from analytics.reports.batch_json import SCHEMA, batch_values
    from analytics.reports.batch_text import batch_text
    from analytics.studies.batch import one_batch

    found = one_batch(store, batch, as_of or today_of(store))
    if as_json:
        emit_json(SCHEMA, batch_values(found))
    else:
        click.echo(batch_text(found), nl=False)
