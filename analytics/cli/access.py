"""`penwise passphrase`: who may open the dashboard from the network."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import default_store


@click.command()
@click.option("--forget", is_flag=True, help="Remove it: nobody can open the dashboard from the network.")
def passphrase(forget: bool) -> None:
    """Sets the passphrase that `serve --lan` asks for; all who signed in before are signed out."""
    from dashboard.access import passphrase as kept

    folder = access_folder()
    if forget:
        there = kept.forget(folder)
        click.echo("The passphrase is removed." if there else "No passphrase was set.")
        return
    click.echo("Take four or five words that do not belong together; on a phone they are typed once a day.")
    given = click.prompt("Passphrase", hide_input=True, confirmation_prompt="The same again")
    kept.keep(folder, given)
    click.echo("The passphrase is set. Only a hash of it is kept. Now: penwise serve --lan")


def access_folder() -> Path:
    """Where this computer keeps its passphrase and its certificate; never in a store, a copy or an export."""
    return default_store().with_name("access")
