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
    help="Day on which machines and pens are looked at; if left out, today for the last month with a hatch "
    "(of the demo its last day), else the last day of the month.",
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
    """The monthly flock review: what happened, what needs attention, did the changes work, which breeders,
    what to do next, what is missing in the records.

    With --against the tables set that month beside it instead of the twelve before. Nothing that hatched
    after the month is in it. It takes some seconds, and with thousands of trays a minute.
    """
    from analytics.reports.month_json import SCHEMA, review_values
    from analytics.reports.month_text import review_text
    from analytics.studies.month import month_review
    from analytics.studies.month_whole import whole_review

    month = Month.parse(month_text) if month_text else None
    against = Month.parse(other_text) if other_text else None
    day = as_of or today_of(store)
    found = month_review(
        store, month, selection, day, against=against, target=target, looking_back=as_of is None
    )
    with progress_bar("Reviewing the month") as told:
        found = whole_review(store, found, target=target, progress=told)
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
