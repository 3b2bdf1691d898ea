"""`penwise causes`: where the eggs were lost, and whose loss it is."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import emit_json, json_option, progress_bar, selection_options, store_option
from analytics.errors import WrongUsage
from analytics.options import Selection


@click.command()
@store_option
@click.option(
    "--target",
    type=float,
    metavar="RATE",
    help="Chicks wanted of an egg set, 0 to 1; left out: your own aim in the sheet targets.",
)
@click.option(
    "--data",
    "folder",
    metavar="DIR",
    type=click.Path(path_type=Path, file_okay=False),
    help="Instead of a store a set of many farms, as penwise export --farm writes it.",
)
@click.option(
    "--engine",
    type=click.Choice(["duckdb", "spark"]),
    default="duckdb",
    show_default=True,
    help="What sums the set up; spark is an extra and needs Java.",
)
@click.option(
    "--farm", "farms", multiple=True, metavar="FARM", help="Only this farm of the set; may be repeated."
)
@selection_options
@json_option
def causes(
    store: Path,
    target: float | None,
    folder: Path | None,
    engine: str,
    farms: tuple[str, ...],
    selection: Selection,
    as_json: bool,
) -> None:
    """Whose loss it is: the chicks short of a mark, shared out over flock, handling, incubator and season.

    What pens and machines do is learnt from all closed batches up to --to; the filters say which eggs are
    counted. Of a set of farms (--data) what sets farms apart is a part of its own.
    """
    if folder is not None:
        _of_farms(folder, engine, farms, selection, target, as_json)
        return
    if farms or engine != "duckdb":
        raise WrongUsage("--farm and --engine", "They are for a set of farms", "Name it: --data DIR")
    from analytics.reports.causes_json import SCHEMA, causes_values
    from analytics.reports.causes_text import causes_text
    from analytics.studies.causes import causes as whose_loss

    with progress_bar("Sharing losses out") as told:
        found = whose_loss(store, selection, target=target, progress=told)
    if as_json:
        emit_json(SCHEMA, causes_values(found))
    else:
        click.echo(causes_text(found), nl=False)


def _of_farms(
    folder: Path,
    engine: str,
    farms: tuple[str, ...],
    selection: Selection,
    target: float | None,
    as_json: bool,
) -> None:
    from analytics.reports.causes_farms import farms_text, farms_values
    from analytics.reports.causes_json import SCHEMA
    from analytics.store.farm_counts import FarmsAsked
    from analytics.studies.causes_farms import causes_of_farms

    with progress_bar("Sharing losses out") as told:
        asked = FarmsAsked(selection, farms)
        found = causes_of_farms(folder, asked, engine=engine, target=target, progress=told)
    if as_json:
        emit_json(SCHEMA, farms_values(found))
    else:
        click.echo(farms_text(found), nl=False)
