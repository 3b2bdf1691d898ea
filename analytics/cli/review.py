"""`penwise review`: how the month went."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from analytics.cli.common import (
    Day,
    emit_json,
    json_option,
    progress_bar,
    selection_options,
    store_option,
    write_file,
)
from analytics.cli.today import today_of
from analytics.options import Selection
from analytics.values import Month


@click.command()
@store_option
@click.option("--month", "month_text", metavar="YYYY-MM", help="Month of hatch; the last one if left out.")
@click.option(
    "--html", type=click.Path(path_type=Path, dir_okay=False), help="Write a page to print to FILE."
)
@click.option(
    "--xlsx", type=click.Path(path_type=Path, dir_okay=False), help="Write its tables as a workbook to FILE."
)
@click.option("--against", "other_text", metavar="YYYY-MM", help="Another month to set beside it.")
@click.option(
    "--target",
    type=click.FloatRange(0, 1, min_open=True),
    metavar="RATE",
    help="Your aim for hatch of set, such as 0.8; else the one in the sheet targets.",
)
@click.option(
    "--as-of",
    type=Day(),
    help="Day on which open batches are looked at; today if left out, of the demo its last day.",
)
@selection_options
@json_option
def review(
    store: Path,
    month_text: str | None,
    html: Path | None,
    xlsx: Path | None,
    other_text: str | None,
    target: float | None,
    as_of: date | None,
    selection: Selection,
    as_json: bool,
) -> None:
    """The monthly flock review: what to look at first, rates beside the twelve months before, what is open.

    With --against the tables set that month beside it instead of the twelve before. What to look at first
    comes from whose loss the month's was, learnt from all batches up to its end: some seconds, and with
    thousands of trays half a minute.
    """
    from analytics.reports.month_json import SCHEMA, review_values
    from analytics.reports.month_text import review_text
    from analytics.studies.month import month_review
    from analytics.studies.month_losses import with_losses
    from analytics.studies.signals import with_signals

    month = Month.parse(month_text) if month_text else None
    against = Month.parse(other_text) if other_text else None
    day = as_of or today_of(store)
    found = month_review(store, month, selection, day, against=against, target=target)
    with progress_bar("Sharing losses out") as told:
        found = with_losses(store, found, target=target, progress=told)
    found = with_signals(store, found)
    if html:
        from analytics.reports.month_html import review_page

        write_file(html, review_page(found).encode("utf-8"))
    if xlsx:
        from analytics.reports.month_xlsx import review_workbook

        write_file(xlsx, review_workbook(found))
    if as_json:
        emit_json(SCHEMA, review_values(found))
    elif not (html or xlsx):
        click.echo(review_text(found), nl=False)
