"""`penwise breeders`: keep, watch or replace."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import emit_json, json_option, selection_options, store_option
from analytics.options import Selection


@click.command()
@store_option
@click.option("--by", type=click.Choice(("pen", "sire", "dam")), default="pen", show_default=True)
@click.option(
    "--target",
    type=float,
    metavar="RATE",
    help="Chicks wanted of an egg set, 0 to 1; left out: the middle one of the others.",
)
@click.option("--chick-value", type=float, default=1.0, show_default=True, help="What a chick is worth.")
@click.option("--egg-cost", type=float, default=0.2, show_default=True, help="What an egg would sell for.")
@click.option(
    "--replacement-cost", type=float, default=15.0, show_default=True, help="What replacing costs in all."
)
@click.option("--eggs-ahead", type=float, help="Eggs it would still set; left out: as many as it set.")
@selection_options
@json_option
def breeders(
    store: Path,
    by: str,
    target: float | None,
    chick_value: float,
    egg_cost: float,
    replacement_cost: float,
    eggs_ahead: float | None,
    selection: Selection,
    as_json: bool,
) -> None:
    """Which breeders to keep, watch or replace, by what replacing one would bring.

    Without --from the eggs of the latest six months count. The costs are in any one unit of money.
    """
    from analytics.breeders.ranking import CostRule
    from analytics.reports.breeders_json import SCHEMA, breeders_values
    from analytics.reports.breeders_text import breeders_text
    from analytics.studies.breeders import breeders as which_to_keep

    rule = CostRule(chick_value, egg_cost, replacement_cost, eggs_ahead)
    found = which_to_keep(store, selection, by=by, target=target, rule=rule)
    if as_json:
        emit_json(SCHEMA, breeders_values(found))
    else:
        click.echo(breeders_text(found), nl=False)
