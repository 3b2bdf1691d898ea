"""`penwise incubators`: what is about each machine."""

from __future__ import annotations

from pathlib import Path

import click

from analytics.cli.common import emit_json, json_option, selection_options, store_option
from analytics.options import Selection


@click.command()
@store_option
@selection_options
@json_option
def incubators(store: Path, selection: Selection, as_json: bool) -> None:
    """What about the incubators: early or late hatches, temperature, humidity, display and water loss.

    A machine is held against your other machines first; --incubator says which are shown.
    """
    from analytics.reports.incubators_json import SCHEMA, incubators_values
    from analytics.reports.incubators_text import incubators_text
    from analytics.studies.incubators import incubators as asked

    found = asked(store, selection)
    if as_json:
        emit_json(SCHEMA, incubators_values(found))
    else:
        click.echo(incubators_text(found), nl=False)
