"""`penwise trends`: does a rate go with hens' age, storage, time or males?"""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import click

from analytics.cli.common import emit_json, json_option, selection_options, store_option
from analytics.errors import DataTooThin
from analytics.options import Selection
from analytics.studies.trend_records import Along


@click.command()
@store_option
@click.option(
    "--measure", required=True, metavar="NAME", help="Which rate, such as hatch_of_set or early_loss."
)
@click.option("--by", required=True, type=click.Choice(get_args(Along)), help="What the trend runs along.")
@selection_options
@json_option
def trends(store: Path, measure: str, by: Along, selection: Selection, as_json: bool) -> None:
    """Trends of a rate with hens' age, storage, month or males per female, within the same pens.

    Where no slope can be told, what is known is printed all the same, the reason stands on stderr, and the
    exit code is 1.
    """
    from analytics.studies.trends import trend

    answer = trend(store, measure, by, selection)
    if as_json:
        from analytics.reports.trends_json import SCHEMA, trends_values

        emit_json(SCHEMA, trends_values(answer))
    else:
        from analytics.reports.trends_text import trends_text

        click.echo(trends_text(answer), nl=False)
    if not answer.tests.decides:
        raise DataTooThin("These records allow no slope", answer.words.why)
