"""`penwise note`: an action taken."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from analytics.cli.common import Day, emit_json, json_option, store_option

SCHEMA = "penwise.note/1"


@click.command()
@click.argument("text")
@click.option("--on", "changed_on", type=Day(), required=True, help="The day on which it was done.")
@click.option(
    "--target",
    default="all",
    show_default=True,
    metavar="NAME",
    help="A pen, a machine, storage (how eggs are kept before setting) or all.",
)
@click.option("--why", default="", metavar="TEXT", help="Why; it is kept.")
@store_option
@json_option
def note(text: str, changed_on: date, target: str, why: str, store: Path, as_json: bool) -> None:
    """Write down what you changed, so that `penwise changes` and the reviews can say whether it worked.

    It becomes a row of the sheet changes. A wrong one is set aside with `penwise withdraw changes`.
    """
    from analytics.sheets.noting import note as keep

    kept = keep(store, text, changed_on, target, why)
    if as_json:
        emit_json(
            SCHEMA,
            {
                "changed_on": kept.changed_on,
                "scope": kept.scope,
                "target": kept.target or None,
                "what": kept.what,
                "why": kept.why or None,
                "entry_no": kept.entry_no,
            },
        )
    elif kept.entry_no is None:
        click.echo("Nothing new: this was noted before.")
    else:
        click.echo(f"Noted for {kept.target or kept.scope} on {kept.changed_on}: {kept.what}.")
