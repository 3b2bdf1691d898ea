"""`penwise causes`: where the eggs were lost, and whose loss it is."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import emit_json, json_option, progress_bar, selection_options, store_option
from analytics.options import Selection


@click.command()
@store_option
@click.option(
    "--target",
    type=float,
    metavar="RATE",
    help="Chicks wanted of an egg set, 0 to 1; left out: your own aim in the sheet targets.",
)
@selection_options
@json_option
def causes(store: Path, target: float | None, selection: Selection, as_json: bool) -> None:
    """Whose loss it is: the chicks short of a mark, shared out over flock, handling, incubator and season.

    What pens and machines do is learnt from all closed batches up to --to; the filters say which eggs are
    counted.
    """
    from analytics.reports.causes_json import SCHEMA, causes_values
    from analytics.reports.causes_text import causes_text
    from analytics.studies.causes import causes as whose_loss

    with progress_bar("Sharing losses out") as told:
        found = whose_loss(store, selection, target=target, progress=told)
    if as_json:
        emit_json(SCHEMA, causes_values(found))
    else:
        click.echo(causes_text(found), nl=False)
