"""`penwise incubators`: what is about each machine."""

from __future__ import annotations

from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

import click

from analytics.cli.common import emit_json, json_option, progress_bar, selection_options, store_option
from analytics.errors import DataTooThin
from analytics.options import Selection

if TYPE_CHECKING:
    from analytics.studies.signs_records import SignsAnswer


@click.command()
@store_option
@selection_options
@json_option
def incubators(store: Path, selection: Selection, as_json: bool) -> None:
    """What about the incubators: early or late hatches, temperature, humidity, display, water loss, signs.

    A machine is held against your other machines first; --incubator says which are shown.
    """
    from analytics.reports.incubators_json import SCHEMA, incubators_values
    from analytics.reports.incubators_text import incubators_text
    from analytics.studies.incubators import incubators as asked

    found = asked(store, selection)
    signs = _signs(store, selection)
    if as_json:
        emit_json(SCHEMA, incubators_values(found, signs))
    else:
        click.echo(incubators_text(found, signs), nl=False)


def _signs(store: Path, selection: Selection) -> SignsAnswer | None:
    """The signs, or None where no tray tells any; losses, which go before signs, show their progress."""
    from analytics.studies.causes import causes
    from analytics.studies.incubators_signs import signs_beside

    losses = None
    with suppress(DataTooThin), progress_bar("Sharing losses out") as told:
        losses = causes(store, Selection(selection.period, selection.species), progress=told)
    return signs_beside(store, selection, losses)
