"""`penwise pens`: is this pen really worse, or was it chance, its machine, or its storage?"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import cast

import click

from analytics.cli.common import emit_json, json_option, selection_options, store_option
from analytics.errors import DataTooThin
from analytics.options import Selection


@click.command()
@store_option
@click.option(
    "--measure",
    default="hatch_of_set",
    show_default=True,
    metavar="NAME",
    help="fertility, hatch_of_set, saleable_of_set, cull_rate, hatch_of_fertile, early_loss, mid_loss, "
    "late_loss, shell_loss or rotten.",
)
@click.option(
    "--by", type=click.Choice(["pen", "line"]), default="pen", show_default=True, help="What is compared."
)
@selection_options
@json_option
def pens(store: Path, measure: str, by: str, selection: Selection, as_json: bool) -> None:
    """Pen against pen: who is really worse, with batch, machine and storage held equal.

    With --pen given twice: the adjusted difference of those two, the batches they shared, and how many more
    eggs would decide. Where no comparison can be made, what is known of the pens is printed all the same, the
    reason stands on stderr, and the exit code is 1.
    """
    from analytics.reports.pens_json import SCHEMA, pens_values
    from analytics.reports.pens_text import pens_text
    from analytics.studies.pen_records import By
    from analytics.studies.pens import pen_comparison

    pair = None
    if by == "pen" and len(selection.pens) == 2:
        pair = (selection.pens[0], selection.pens[1])
        selection = replace(selection, pens=())
    answer = pen_comparison(store, measure, selection, by=cast(By, by), pair=pair)
    if as_json:
        emit_json(SCHEMA, pens_values(answer))
    else:
        click.echo(pens_text(answer), nl=False)
    if not answer.is_answered:
        raise DataTooThin("These records allow no comparison", answer.words.sentence, answer.words.remedy)
