"""`penwise bench`: trays that are begun at the bench and not closed."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import emit_json, json_option, store_option

SCHEMA = "penwise.bench/1"


@click.command()
@store_option
@json_option
def bench(store: Path, as_json: bool) -> None:
    """Trays begun at the bench and not closed: drafts, in no rate and in no export.

    They are tapped and closed on the page At the bench of the dashboard.
    """
    from analytics.sheets.bench import begun

    trays = begun(store)
    if as_json:
        emit_json(
            SCHEMA,
            {
                "trays": [
                    {
                        "batch": tray.batch,
                        "tray": tray.tray,
                        "pen": tray.pen,
                        "eggs_set": tray.eggs_set,
                        "recorded": tray.recorded,
                        "drafted": tray.drafted,
                        "without_outcome": tray.left,
                        "devices": tray.devices,
                    }
                    for tray in trays
                ]
            },
        )
        return
    for tray in trays:
        told = ", ".join(f"{name} {eggs}" for name, eggs in tray.drafted.items())
        click.echo(
            f"{tray.batch} {tray.tray}: {tray.told} of {tray.eggs_set} eggs, not closed. Drafted: {told}."
        )
    if not trays:
        click.echo("No tray is begun and not closed.")
